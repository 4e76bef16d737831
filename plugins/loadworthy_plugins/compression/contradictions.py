"""Where this check and another one contradict each other: said aloud, so that the right thing is looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Advice, Finding, Symptom
from loadworthy_plugins.compression.engine import read_engine
from loadworthy_plugins.compression.results import ID

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from loadworthy.sdk import Case, Result

#: A cylinder is mechanically sound where these stand clean on it.
_SOUND = (ID + "balance", ID + "leak_area")
_MISFIRE = "misfire-one-cylinder"
#: Symptoms of another check that mean a lean mixture; on an engine with several banks they name the bank.
_LEAN = frozenset({"trim-lean-at-idle", "trim-lean-with-flow", "trim-uniform-lean"})
#: From here on a limit is exceeded (method, section 2).
_SEEN = 0.5


def contradictions(case: Case, results: Sequence[Result]) -> Iterator[Advice]:
    """Yield advice where this check and another one, put side by side, point somewhere else than each alone."""
    yield from _misfire_of_a_sound_cylinder(results)
    yield from _lean_bank_with_intake_escape(case, results)


def _misfire_of_a_sound_cylinder(results: Sequence[Result]) -> Iterator[Advice]:
    """Yield advice where a cylinder misfires although compression and leak-down show it sound."""
    beyond: dict[tuple[str, str | None], float] = {}
    for one in results:
        if isinstance(one, Finding) and one.rule in _SOUND and one.verdicts and one.clears:
            key = (one.rule, one.subject)
            beyond[key] = max(beyond.get(key, 0.0), *(v.p_beyond for v in one.verdicts))
    misfiring = {one.subject for one in results if isinstance(one, Symptom) and one.id == _MISFIRE and one.subject}
    for subject in sorted(filter(None, misfiring)):
        if all(beyond.get((rule, subject), 1.0) < 0.05 for rule in _SOUND):
            yield Advice(
                "misfires although compression and leak-down are good: look at ignition, injector and valve springs "
                "(float at speed does not show here)",
                subject,
            )


def _lean_bank_with_intake_escape(case: Case, results: Sequence[Result]) -> Iterator[Advice]:
    """Yield advice where a bank runs lean and leak-down air of one of its cylinders comes out at the intake."""
    lean = {one.subject for one in results if isinstance(one, Symptom) and one.id in _LEAN and one.p_beyond >= _SEEN}
    if not lean:
        return
    engine = read_engine(case.vehicle)
    heard: dict[str, str] = {}
    for one in results:
        if isinstance(one, Finding) and one.rule == ID + "escape_intake" and one.subject and one.verdicts:
            if max(v.p_beyond for v in one.verdicts) >= _SEEN:
                heard[one.subject] = one.sheet
            else:
                heard.pop(one.subject, None)
    for i, bank in enumerate(engine.banks, 1):
        place = f"bank {i}" if len(engine.banks) > 1 else None
        if place not in lean:
            continue
        for subject, sheet in sorted(heard.items()):
            if subject in {f"cylinder {n}" for n in bank}:
                yield Advice(
                    f"{place or 'the engine'} runs lean and air is heard at the intake of this cylinder: intake valve, "
                    "or a leak of the manifold; smoke the manifold before the head comes off",
                    subject,
                    "leak-down",
                    sheet,
                )
