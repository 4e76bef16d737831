"""Which readings of other checks a part falsifies as long as the calibration does not know it.

Modified parts distort, and parts in conflict as well, for one of the two sources may be right; so does software that a
record of the calibration shows to be changed. Any other kind that nobody answered distorts nothing: that is a gap; it
holds the plan to the standard part. Were readings widened for it, every car without an inventory would have its faults
judged less surely. A widened reading that lies beyond its limit still does, and a refused one clears nothing: no
declared part hides a fault.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Distortion

if TYPE_CHECKING:
    from loadworthy.sdk import Case


def distortions(case: Case) -> tuple[Distortion, ...]:
    """Return what to widen or refuse, one for each part and target."""
    inferred = {}
    if any(True for _ in case.of("calibration")):
        from loadworthy_plugins.modifications.rules_calibration import recorded_change

        changed = recorded_change(case)
        inferred = {"software": changed} if changed else {}
    if not inferred and not any(True for _ in case.of("modification")):
        return ()
    from loadworthy_plugins.modifications.inventory import inventory
    from loadworthy_plugins.modifications.parts import BY_ID

    found: dict[tuple[str, str], Distortion] = {}
    for part in inventory(case, inferred).parts:
        if part.answer != "modified" or part.aware:
            continue
        for one in BY_ID[part.kind].distorts:
            words = "in conflict" if part.status == "conflicting" else "not as made"
            reason = f"{BY_ID[part.kind].text} {words}, calibration not proven to know it: {one.why}"
            found.setdefault(
                (part.kind, one.target),
                Distortion(one.target, reason, "widen" if one.relative else "refuse", widen_relative=one.relative),
            )
    return tuple(found.values())
