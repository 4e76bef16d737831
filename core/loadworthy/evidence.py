"""From findings to weights: mixing the rules' tables, addressing causes and subjects, fading with age.

The order is mix, decibans, fade, group (method, section 3); grouping and conflict are in ``weigh``.
"""

from __future__ import annotations

from math import log10
from typing import TYPE_CHECKING

from loadworthy.moments import age, odometer_at
from loadworthy.record import NamedTuple
from loadworthy.standing import is_clean

if TYPE_CHECKING:
    import datetime
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from loadworthy.beliefs import Standing
    from loadworthy.case import Case, Sheet
    from loadworthy.declarations import Catalogue, Rule
    from loadworthy.findings import Finding

#: No single weight counts for more than this, in decibans (judgement).
CAP_DB = 20.0
#: A clean retest for which no rule declares a weight of its own, and the same for a weak test (judgement).
RETEST_LR = 0.1
WEAK_RETEST_LR = 0.3

Key = tuple[str, str | None]


class Item(NamedTuple):
    """One weight on one cause at one subject, before grouping. ``sheet`` is the sheet that it rests on."""

    key: Key
    group: str
    finding: str
    sheet: str
    raw: float
    fade: float
    db: float
    note: str


class Places:
    """Where causes can sit: expands a cause named at a subject into the keys that are meant."""

    def __init__(self, catalogue: Catalogue, subjects: Mapping[str, Sequence[str]]) -> None:
        self._catalogue = catalogue
        self._members = {kind: tuple(members) for kind, members in subjects.items()}
        self._kind = {member: kind for kind, members in self._members.items() for member in members}

    def members(self, cause: str) -> tuple[str | None, ...]:
        """Return the subjects of a cause: several, or None alone where it takes none."""
        declared = self._catalogue.causes.get(cause)
        if declared is None or declared.located == "none":
            return (None,)
        members = self._members.get(declared.located, ())
        return members if len(members) > 1 else (None,)

    def parts(self, cause: str) -> tuple[str, ...]:
        """Return the causes that a broader wording covers, or the cause itself."""
        broader = self._catalogue.broader.get(cause)
        if broader is None:
            return (cause,)
        return tuple(part for covered in broader.covers for part in self.parts(covered))

    def kind(self, subject: str) -> str:
        """Return the kind of a subject: listed by a plugin, else its words without the last one."""
        return self._kind.get(subject) or subject.rpartition(" ")[0]

    def keys(self, cause: str, subject: str | None) -> Iterator[Key]:
        """Expand a cause named at ``subject`` (None: wherever it can be) into keys."""
        for part in self.parts(cause):
            declared = self._catalogue.causes.get(part)
            located = declared.located if declared is not None else None
            if located == "none":
                yield part, None
            elif located is None:
                yield part, subject
            elif subject is not None and self.kind(subject) == located:
                alone = len(self._members.get(located, ())) == 1
                yield part, None if alone else subject
            elif subject is not None and located not in self._members:
                yield part, subject if self.kind(subject) == located else None
            else:
                for member in self.members(part):
                    yield part, member


def mixed_ratio(rule: Rule, cause: str, bands: Mapping[str, float]) -> float:
    """Return LR_used = sum over bands of P(band) LR(band); what no band takes up has ratio 1."""
    rest = 1.0 - sum(bands.values())
    ratio = max(0.0, rest)
    for band, p in bands.items():
        ratio += p * rule.bands.get(band, {}).get(cause, 1.0)
    return ratio


def _raw(finding: Finding, catalogue: Catalogue) -> Iterator[tuple[str, str | None, float, str]]:
    """Yield (cause, subject, dB, group name) as the rule's table and the finding's own weights give them."""
    rule = catalogue.rules.get(finding.rule)
    if rule is not None and finding.bands:
        causes = sorted({cause for band in rule.bands.values() for cause in band})
        for cause in causes:
            ratio = mixed_ratio(rule, cause, finding.bands)
            yield cause, finding.subject, 10.0 * log10(ratio), rule.group
    for weight in finding.weights:
        group = weight.group or (rule.group if rule is not None else "")
        yield weight.cause, weight.subject, weight.db, group


class Weigher:
    """Turns standing findings into items as they count on one day."""

    def __init__(self, case: Case, catalogue: Catalogue, places: Places, day: datetime.date) -> None:
        self._case = case
        self._catalogue = catalogue
        self._places = places
        self._day = day
        self._sheets: dict[str, Sheet] = {sheet.id: sheet for sheet in case.sheets}
        self._odometer = odometer_at(case, day)

    def items(self, standings: Iterable[Standing]) -> list[Item]:
        """Return every weight of the standing findings, faded to the day."""
        standing = [s for s in standings if s.stands]
        out: list[Item] = []
        for one in standing:
            finding = one.finding
            only_positive = one.state == "carried" or not finding.clears
            for cause, subject, db, name in _raw(finding, self._catalogue):
                if db == 0.0 or (only_positive and db < 0.0):
                    continue
                group = self.group(one.plugin, name or finding.rule, finding.sheet)
                out.extend(self._item(key, group, one, db) for key in self._places.keys(cause, subject))
        out.extend(self._retest_items(standing))
        return out

    def group(self, plugin: str, name: str, sheet: str) -> str:
        """Return the group's full name: declared groups are global, all others local to plugin and sheet."""
        declared = self._catalogue.groups.get(name)
        if declared is None:
            return f"{plugin}/{name}#{sheet}"
        return f"{name}:{sheet}" if declared.per_sheet else name

    def _item(self, key: Key, group: str, one: Standing, db: float, note: str = "") -> Item:
        raw = max(-CAP_DB, min(CAP_DB, db))
        factor, why = self._fade(key[0], one.finding.sheet) if raw < 0.0 else (1.0, "")
        return Item(
            key=key,
            group=group,
            finding=one.id,
            sheet=one.finding.sheet,
            raw=raw,
            fade=factor,
            db=raw * factor,
            note="; ".join(part for part in (note, why) if part),
        )

    def _fade(self, cause: str, sheet_id: str) -> tuple[float, str]:
        """Return the factor on an exonerating weight and why it is not 1."""
        sheet = self._sheets.get(sheet_id)
        if sheet is None:
            return 1.0, ""
        section = self._catalogue.sections.get(sheet.section)
        declared = self._catalogue.causes.get(cause)
        ends = declared.events if declared is not None else ()
        any_event = section is not None and section.ended_by_any_event
        for event in self._case.events:
            if sheet.date <= event.date <= self._day and (any_event or event.kind in ends):
                return 0.0, f"ended by {event.kind} on {event.date.isoformat()}"
        days, km, half_lives = age(sheet, self._day, self._odometer, section)
        if half_lives == 0.0:
            return 1.0, ""
        return 0.5**half_lives, f"faded over {days:.0f} days, {km:.0f} km"

    def _retest_items(self, standings: Sequence[Standing]) -> Iterator[Item]:
        """Yield the weight of each clean test on causes that name it as their retest but give it no ratio."""
        rules = self._catalogue.rules
        by_test: dict[tuple[str, str], list[Standing]] = {}
        for one in standings:
            rule = rules.get(one.finding.rule)
            if one.state == "governs" and rule is not None and rule.test and one.finding.sheet:
                by_test.setdefault((rule.test, one.finding.sheet), []).append(one)
        if not by_test:
            return
        for (test, sheet), runs in sorted(by_test.items()):
            computed = {weight.cause for run in runs for weight in run.finding.weights}
            spoken = {
                part for name in _spoken_of(self._catalogue, test) | computed for part in self._places.parts(name)
            }
            declared = self._catalogue.tests.get(test)
            weak = declared is not None and declared.weak
            db = 10.0 * log10(WEAK_RETEST_LR if weak else RETEST_LR)
            for cause in self._catalogue.causes.values():
                if test not in cause.retest or cause.id in spoken or cause.capacity:
                    continue
                for member in self._places.members(cause.id):
                    about = [r for r in runs if r.finding.subject in (None, member) or member is None]
                    if about and all(is_clean(run) for run in about):
                        rule = rules[about[0].finding.rule]
                        group = self.group(about[0].plugin, rule.group or about[0].finding.rule, sheet)
                        yield self._item((cause.id, member), group, about[0], db, f"clean {test}")


def _spoken_of(catalogue: Catalogue, test: str) -> frozenset[str]:
    """Return the causes on which a rule of this test declares a weight of its own."""
    return frozenset(
        cause
        for rule in catalogue.rules.values()
        if rule.test == test
        for band in rule.bands.values()
        for cause in band
    )
