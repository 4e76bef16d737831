"""Small pieces for the direct tests of weighing: sheets, findings, one catalogue, and odds worked independently."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

from loadworthy.case import Case, Repair, Sheet, Treated
from loadworthy.declarations import Broader, Catalogue, Cause, Group, Rule, Section, SymptomSet, WorkshopTest
from loadworthy.findings import Finding, Symptom, Verdict
from loadworthy.weigh import weigh

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from loadworthy.beliefs import Belief, Standing, Weighed
    from loadworthy.findings import Grade, Result

DAY = datetime.date(2026, 5, 10)
PARTS: Mapping[str, Sequence[str]] = {"part": ("part 1", "part 2", "part 3"), "frame": ("frame 1",)}

CATALOGUE = Catalogue(
    sections={
        "bench": Section("bench", "bench", (), tests=("gauging",)),
        "quick": Section("quick", "ages fast", (), half_life_days=10.0, half_life_km=100.0, ended_by_any_event=True),
    },
    groups={"heard": Group("heard", "what is heard"), "log": Group("log", "one log", per_sheet=True)},
    rules={
        "p.level": Rule(
            "level", "bench", "level", "gauging", bands={"fired": {"worn": 6.0}, "clean": {"worn": 0.15, "whole": 0.5}}
        ),
        "p.noise": Rule("noise", "bench", "noise", "listening", "heard", {"fired": {"worn": 3.0, "loose": 5.0}}),
        "p.look": Rule("look", "bench", "look", "looking", bands={"clean": {"loose": 0.2}}),
        "p.run": Rule("run", "bench", "run", group="log"),
        "p.record": Rule("record", "bench", "a record", "reading-records"),
    },
    causes={
        "worn": Cause("worn", "worn", 0.30, 3, "load", located="part", retest=("gauging",)),
        "loose": Cause("loose", "loose", 0.05, 3, "heat", retest=("tapping", "looking"), events=("shock",)),
        "cracked": Cause("cracked", "cracked", 0.02, 2, "sudden", located="frame", retest=("listening",)),
        "whole": Cause("whole", "whole", 0.10, 3, "load", retest=("looking",)),
        "stuck-open": Cause("stuck-open", "open", 0.40, 3, "load", excludes=("stuck-shut",)),
        "stuck-shut": Cause("stuck-shut", "shut", 0.70, 3, "load", excludes=("stuck-open",)),
        "too-small": Cause("too-small", "too small", 0.05, 3, "load", capacity=True, retest=("looking",)),
    },
    broader={
        "slack": Broader("slack", "worn or loose", ("worn", "loose")),
        "bad": Broader("bad", "anything", ("slack", "cracked")),
    },
    symptoms={"short": SymptomSet("short", "short", (("worn", 0.6), ("loose", 0.3), ("whole", 0.06)))},
    tests={
        "gauging": WorkshopTest("gauging", "gauge", 20, "any", "none"),
        "looking": WorkshopTest("looking", "look", 5, "any", "none", weak=True),
        "listening": WorkshopTest("listening", "listen", 5, "any", "none"),
    },
)


def days(count: int) -> datetime.date:
    """The day ``count`` days after the day of the tests."""
    return DAY + datetime.timedelta(days=count)


def sheet(id: str, day: int = 0, hour: int | None = None, section: str = "bench", **more: Any) -> Sheet:
    time = None if hour is None else datetime.time(hour)
    return Sheet(section, id, days(day), time=time, **more)


def repair(id: str, day: int, *treats: str, hour: int | None = None) -> Repair:
    """A repair of ``cause@subject`` or ``plugin.rule``."""
    treated = tuple(Treated(what, at or None) for what, _, at in (t.partition("@") for t in treats))
    return Repair(id, days(day), "mended", treated, time=None if hour is None else datetime.time(hour))


def ran(rule: str, sheet: str, p: float = 1.0, grade: Grade = "watch", **more: Any) -> Finding:
    """A finding with one verdict; its rule's bands are mixed by the same probability where it has both."""
    bands = CATALOGUE.rules[rule].bands if rule in CATALOGUE.rules else {}
    mixed = {band: q for band, q in (("fired", p), ("clean", 1.0 - p)) if band in bands}
    return Finding(rule, sheet, verdicts=(Verdict(grade, p),), **{"bands": mixed, **more})


def weighed(
    results: Iterable[Result],
    *sheets: Sheet,
    day: int = 0,
    catalogue: Catalogue = CATALOGUE,
    subjects: Mapping[str, Sequence[str]] = PARTS,
    **case: Any,
) -> Weighed:
    given = Case(sheets=sheets, **case)
    return weigh([("p", r) for r in results], case=given, day=days(day), catalogue=catalogue, subjects=subjects)


def belief(found: Weighed, cause: str, subject: str | None = None) -> Belief:
    (one,) = (b for b in found.beliefs if (b.cause, b.subject) == (cause, subject))
    return one


def standing(found: Iterable[Standing], sheet: str, rule: str = "p.level") -> Standing:
    (one,) = (s for s in found if s.finding.sheet == sheet and s.finding.rule == rule)
    return one


def probability(prior: float, db: float) -> float:
    """Bayes' theorem in odds, worked here once more."""
    odds = prior / (1.0 - prior) * 10.0 ** (db / 10.0)
    return odds / (1.0 + odds)


def symptom(p: float = 1.0, sheet: str = "s", rule: str = "p.run", **more: Any) -> Symptom:
    return Symptom("short", rule, sheet, p, **more)
