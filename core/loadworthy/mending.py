"""What repairs treat, and whether a retest has proven them (method, section 3)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.findings import Finding
from loadworthy.standing import is_clean

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from loadworthy.beliefs import Standing
    from loadworthy.case import Case, Repair
    from loadworthy.declarations import Catalogue
    from loadworthy.evidence import Key, Places
    from loadworthy.findings import Result
    from loadworthy.standing import History


class Mending:
    """Answers which causes a repair meets. ``results`` are all results of the case, whatever their date."""

    def __init__(self, case: Case, catalogue: Catalogue, places: Places, results: Sequence[tuple[str, Result]]) -> None:
        self.repairs: tuple[Repair, ...] = tuple(sorted(case.repairs, key=_order))
        self._catalogue = catalogue
        self._places = places
        self._findings = [r for _, r in results if isinstance(r, Finding)] if self.repairs else []
        self._meanings: dict[str, frozenset[str]] = {}

    def causes_of(self, finding: Finding) -> set[Key]:
        """Return the causes that a finding speaks for: by its rule's table, its own positive weights, or by state."""
        rule = self._catalogue.rules.get(finding.rule)
        named = [(w.cause, w.subject) for w in finding.weights if w.db > 0.0]
        named += finding.names
        if rule is not None:
            for band in rule.bands.values():
                named += ((cause, finding.subject) for cause, ratio in band.items() if ratio > 1.0)
        return {key for cause, subject in named for key in self._places.keys(cause, subject)}

    def treats(self, repair: Repair, finding: Finding) -> bool:
        """Return whether the repair treats the finding's rule or a cause that the finding speaks for.

        Where it can speak for none, those that its rule can clear stand in. A finding about no cause at all is treated
        by any repair at its place: nothing else could be named in the repair.
        """
        for treated in repair.treats:
            if treated.what == finding.rule and treated.subject in (None, finding.subject):
                return True
        about = self.causes_of(finding) or self._about(finding)
        if about:
            return any(self.meets(repair, key) for key in about)
        return any(treated.subject is None or finding.subject in (None, treated.subject) for treated in repair.treats)

    def _about(self, finding: Finding) -> set[Key]:
        """Return every cause on which the finding or its rule has any say, for or against."""
        rule = self._catalogue.rules.get(finding.rule)
        named = [(w.cause, w.subject) for w in finding.weights]
        named += finding.names
        if rule is not None:
            named += ((cause, finding.subject) for band in rule.bands.values() for cause in band)
        return {key for cause, subject in named for key in self._places.keys(cause, subject)}

    def meets(self, repair: Repair, key: Key) -> bool:
        """Return whether the repair treats this cause at this subject: named itself, broadly, or by a rule."""
        cause, subject = key
        for treated in repair.treats:
            if treated.subject is not None and subject is not None and treated.subject != subject:
                continue
            if cause in self._meant(treated.what):
                return True
        return False

    def _meant(self, what: str) -> frozenset[str]:
        """Return the causes that a word of ``treats`` means: a rule stands for all that it can speak for."""
        known = self._meanings.get(what)
        if known is None:
            named = {what}
            if what in self._catalogue.rules:
                bands = self._catalogue.rules[what].bands.values()
                named = {cause for band in bands for cause, ratio in band.items() if ratio > 1.0}
                for finding in self._findings:
                    if finding.rule == what:
                        named.update(w.cause for w in finding.weights if w.db > 0.0)
                        named.update(name for name, _ in finding.names)
            known = self._meanings[what] = frozenset(part for name in named for part in self._places.parts(name))
        return known

    def last(self, key: Key) -> Repair | None:
        """Return the latest repair that treats a cause at a subject, or None."""
        for repair in reversed(self.repairs):
            if self.meets(repair, key):
                return repair
        return None

    def proven(self, key: Key, repair: Repair, standings: Iterable[Standing], history: History) -> bool:
        """Return whether the cause's deciding retest ran after the repair and everything about it stands clean.

        The deciding retest is the first that any installed rule judges; where there is none, the rules that spoke for
        the cause before the repair must all stand clean after it.
        """
        cause, subject = key
        rules = self._catalogue.rules
        declared = self._catalogue.causes.get(cause)
        judged = {rule.test for rule in rules.values() if rule.test}
        deciding = next((test for test in declared.retest if test in judged), "") if declared else ""
        standings = tuple(standings)
        if deciding:
            wanted = {id for id, rule in rules.items() if rule.test == deciding}
        else:
            wanted = {
                s.finding.rule
                for s in standings
                if history.side(s.finding.sheet, repair) <= 0 and key in self.causes_of(s.finding)
            }
        if deciding:
            return self._clean_after(wanted, subject, repair, standings, history)
        return bool(wanted) and all(self._clean_after({rule}, subject, repair, standings, history) for rule in wanted)

    def unproven(self, standings: Sequence[Standing], history: History) -> Iterable[tuple[str, str]]:
        """Yield (repair id, what it treats) for each repair that still lacks a clean retest."""
        for repair in self.repairs:
            lacking = []
            for treated in repair.treats:
                keys = {key for cause in self._meant(treated.what) for key in self._places.keys(cause, treated.subject)}
                last = [key for key in keys if self.last(key) is repair]
                clean = all(self.proven(key, repair, standings, history) for key in last)
                if not keys:
                    again = next(r for r in reversed(self.repairs) if treated in r.treats) is not repair
                    clean = again or self._clean_after({treated.what}, treated.subject, repair, standings, history)
                if not clean:
                    at = f"@{treated.subject}" if treated.subject else ""
                    lacking.append(f"{treated.what}{at}")
            if lacking:
                yield repair.id, ", ".join(sorted(lacking))

    @staticmethod
    def _clean_after(
        rules: Collection[str], subject: str | None, repair: Repair, standings: Iterable[Standing], history: History
    ) -> bool:
        """Return whether any of the rules ran after the repair, and whatever governs where one did is clean.

        On the repair's own day a sheet of unknown order may govern: the retest is clean if that one is, too.
        """
        standings = tuple(standings)
        proofs = {
            (s.finding.rule, s.finding.subject)
            for s in standings
            if s.state != "unknown"
            and s.finding.rule in rules
            and (subject is None or s.finding.subject in (None, subject))
            and history.side(s.finding.sheet, repair) > 0
        }
        governing = [s for s in standings if s.state == "governs" and (s.finding.rule, s.finding.subject) in proofs]
        return bool(governing) and all(is_clean(s) for s in governing)


def _order(repair: Repair) -> tuple[object, ...]:
    return repair.date, repair.time is not None, str(repair.time or ""), repair.id
