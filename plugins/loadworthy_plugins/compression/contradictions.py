"""Where this check and another one contradict each other: said aloud, so that the right thing is looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Advice, Finding, Symptom
from loadworthy_plugins.compression.results import ID

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from loadworthy.sdk import Result

#: A cylinder is mechanically sound where these stand clean on it.
_SOUND = (ID + "balance", ID + "leak_area")
_MISFIRE = "misfire-one-cylinder"


def contradictions(results: Sequence[Result]) -> Iterator[Advice]:
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
