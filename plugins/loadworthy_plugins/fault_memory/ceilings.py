"""Which ceilings codes and the state of the memory set, and what lifts them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

from loadworthy.sdk import Ceiling, Curve, Step
from loadworthy_plugins.fault_memory.snapshots import air_flow_at
from loadworthy_plugins.shared_demand import along
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Case, Demand, Limits
    from loadworthy_plugins.fault_memory.memory import Frame, Memory
    from loadworthy_plugins.fault_memory.pointing import Told

    Key = tuple[str, str | None, str]

RETEST: Final = "drive-until-monitors-complete"
#: A code counts in full from this exponent on.
FULL_FROM: Final = 0.5
#: Engine speeds (rev/s) between which a ceiling of load is drawn: it is straight, and no engine turns faster.
_SPEEDS: Final = (1.0, 300.0)


def at_standard(
    name: str,
    reason: str,
    case: Case,
    *,
    finding: Key | None,
    subject: str | None = None,
    row: str = "",
    until: str = RETEST,
) -> Iterator[Ceiling]:
    """Yield "not above standard, nor above as received"; the maker's curve only where it is given."""
    origin: Literal["fault", "gap"] = "fault" if finding is not None else "gap"
    for part, value in (("", "as_received"), ("_standard", "standard")):
        if part and case.vehicle.get("standard_torque") is None:
            continue
        yield Ceiling(
            name + part, "torque", value, reason, subject, origin=origin, until=until, finding=finding, row=row
        )


def of_code(
    told: Told, key: Key, case: Case, demand: Demand | None, memory: Memory, limits: Limits
) -> Iterator[Ceiling]:
    """Yield the ceilings of one family at one place: in full from a pending code on, milder below."""
    if told.source == "trim":
        return
    kind = told.family.ceiling
    if told.s < FULL_FROM:
        if told.family.severity != "stop":
            return
        kind = "standard_torque"
    name = f"code_{told.family.id}"
    reason = f"{told.text}: {told.meaning}"
    if kind == "standard_boost":
        yield from _at_standard_boost(name, reason, told, key, case, demand)
    elif kind == "standard_rpm":
        yield from _at_standard_speed(name, reason, told, key, case)
    elif kind == "load_below_freeze_frame":
        yield from at_standard(name, reason, case, finding=key, subject=told.subject)
        yield from _below_frame(f"{name}_frame", reason, told, key, case, memory, limits)
    elif kind == "standard_torque":
        yield from at_standard(name, reason, case, finding=key, subject=told.subject)


def _at_standard_boost(
    name: str, reason: str, told: Told, key: Key, case: Case, demand: Demand | None
) -> Iterator[Ceiling]:
    """Yield the manifold pressure of the torque as received; where it cannot be had, that torque itself."""
    pressure = demand.quantities.get("manifold_pressure") if demand is not None else None
    if demand is None or demand.base is None or pressure is None or case.vehicle.get("induction") in (None, "none"):
        yield from at_standard(name, reason, case, finding=key, subject=told.subject)
        return
    values = []
    for i, base in enumerate(demand.base):
        torque = min(base, demand.standard[i]) if demand.standard is not None else base
        values.append(along(demand.torque[i], pressure.high[i], torque))
    yield Ceiling(
        name,
        "manifold_pressure",
        Curve(demand.speeds, tuple(values)),
        reason,
        told.subject,
        until=RETEST,
        finding=key,
        steps=(
            Step("pressure at the torque as received", values[len(values) // 2], "Pa", "in the middle of the range"),
        ),
    )


def _at_standard_speed(name: str, reason: str, told: Told, key: Key, case: Case) -> Iterator[Ceiling]:
    base = case.base_torque()
    given = case.vehicle.get("standard_torque")
    ends = [curve.speeds[-1] for curve in (base[0] if base is not None else None, given) if curve is not None]
    if not ends:
        yield from at_standard(name, reason, case, finding=key, subject=told.subject)
        return
    yield Ceiling(name, "engine_speed", min(ends), reason, told.subject, until=RETEST, finding=key)


def _below_frame(
    name: str, reason: str, told: Told, key: Key, case: Case, memory: Memory, limits: Limits
) -> Iterator[Ceiling]:
    """Yield a share of the load at which the code was set, from this code's own frames alone."""
    share = limits["fault_memory.load_fraction"].number
    codes = {one.code for one in told.codes}
    own = [frame for frame in memory.frames if frame.code in codes]
    displacement = number(case.vehicle.get("displacement"))
    loads = [load for frame in own if (load := frame.value("absolute_load")) is not None]
    if loads and displacement:
        load = share * min(loads)
        flows = tuple(air_flow_at(load, speed, displacement) for speed in _SPEEDS)
        yield Ceiling(
            name,
            "air_flow",
            Curve(_SPEEDS, flows),
            f"{reason}; set at an absolute load of {100 * min(loads):.0f} %",
            told.subject,
            until=RETEST,
            finding=key,
            steps=(
                Step(
                    "absolute load in the freeze frame", min(loads), "", "(256 A + B) / 255", "ISO 15031-5, second hand"
                ),
                Step("ceiling", load, "", f"{share:g} x load of this code's frame", "judgement"),
            ),
        )
        return
    torques = [torque for frame in own if (torque := _frame_torque(frame, case)) is not None]
    if torques:
        yield Ceiling(
            name,
            "torque",
            share * min(torques),
            f"{reason}; set at {min(torques):.0f} N m by the frame's load and the standard torque",
            told.subject,
            until=RETEST,
            finding=key,
        )


def _frame_torque(frame: Frame, case: Case) -> float | None:
    """Return load (parameter 04) times standard torque at the frame's speed; of a charged engine it is no air load."""
    load, speed = frame.value("load"), frame.value("engine_speed")
    standard = case.vehicle.get("standard_torque")
    if load is None or speed is None or standard is None:
        return None
    torque = standard.at(speed, None)
    return load * torque if torque is not None else None
