"""Meter, compressor, driveline and engine internals against the plan, and what stands for parts that nobody knows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import AtLeast, Ceiling, Finding
from loadworthy_plugins.modifications import flow_limits
from loadworthy_plugins.modifications.entry import ID, standard
from loadworthy_plugins.modifications.parallel import chain_of_air, together
from loadworthy_plugins.modifications.parts import BY_ID
from loadworthy_plugins.modifications.setting import judged, over_speed, relative, value
from loadworthy_plugins.shared_results import step

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Result
    from loadworthy_plugins.modifications.inventory import Part
    from loadworthy_plugins.modifications.setting import Setting

INTERVIEW, LOOK = "inventory-interview", "look-for-undeclared-parts"
#: Relative uncertainty of a full scale that follows from the bore of another housing (judgement: 5 to 10 % of error).
U_HOUSING: Final = 0.05
#: Parts whose rating this check itself holds against the plan: without one they may do what the standard part did.
RATED: Final = (
    "injector",
    "fuel_pump",
    "high_pressure_pump",
    "air_meter",
    "turbocharger",
    "camshaft",
    "pistons_rods_gasket_head",
    "displacement",
    "gearbox_differential_tyres",
)
#: Kinds that one sentence names before it only counts them.
MOST_NAMED: Final = 4
#: The same of the torque that they carry.
_TORQUE: Final = ("pistons_rods_gasket_head", "displacement", "camshaft", "gearbox_differential_tyres")


def air_capacities(s: Setting) -> Iterator[Result]:
    """Return what air meter, compressor, internals and driveline can do, and the ceilings of what nobody knows."""
    yield from _meter(s)
    if any(part.row or part.answer == "modified" for part in s.found.of("turbocharger")):
        from loadworthy_plugins.modifications.capacity_compressor import compressor_capacities

        yield from compressor_capacities(s)
    for part in s.found.of(*_TORQUE):
        if part.answer != "unknown":
            yield from _torque_rating(s, part)
            yield from _speed_rating(s, part)
    yield from _unrated(s)
    yield from _doubtful(s)
    yield from _class(s)


# Air meter --------------------------------------------------------------------------------------------


def full_scale(part: Part) -> tuple[float, float] | None:
    """Return the full scale of an air meter, kg/s, with its u: stated, or that of the standard one by the bores."""
    stated = value(part.row, "full_scale")
    if stated is not None:
        return stated
    before = part.row.get("replaces") or {}
    scale, bore, old = value(before, "full_scale"), value(part.row, "housing_bore"), value(before, "housing_bore")
    if scale is None or bore is None or old is None:
        return None
    ratio = flow_limits.housing_ratio(old[0], bore[0])
    u = relative(scale[1] / scale[0], 2.0 * bore[1] / bore[0], 2.0 * old[1] / old[0], U_HOUSING)
    return scale[0] * ratio, scale[0] * ratio * u


def _meter(s: Setting) -> Iterator[Result]:
    parts = s.found.of("air_meter")
    known = [(part, scale) for part in parts if (scale := full_scale(part)) is not None]
    if s.demand is None or not known:
        return
    part, total, u, sure = together(s, parts, known)
    use_max = s.limit("meter_use_max")
    rows = []
    for i in range(len(s.speeds)):
        air = s.at_plan("air_flow", i)
        if air is None:
            return
        used = flow_limits.meter_use(air.value, total)
        rows.append((use_max * total, use_max * total * u, used, used * relative(u, air.u / air.value)))
    i = max(range(len(rows)), key=lambda k: rows[k][2])
    steps = (*step("full scale", total, "kg/s"), *chain_of_air(s, use_max * total, i))
    text = "planned air flow over the air meter's full scale; above it sensor and transfer must be changed first"
    yield from judged(
        s,
        "meter_use",
        ("meter_use_max",),
        part,
        over_speed(rows),
        "air_flow",
        text,
        INTERVIEW,
        steps=steps,
        sure=sure,
    )


# Ratings -------------------------------------------------------------------------------------------------------------


def rating(part: Part) -> tuple[float, float] | None:
    """Return the torque that a part may carry: its lowest rating, of a gearbox 1.1 of it as a documented peak."""
    gears = [value(row, "torque") for row in part.row.get("gear_ratings") or ()]
    told = [one for one in (value(part.row, "torque_rating"), *gears) if one is not None]
    if not told:
        return None
    continuous, peak = min(told), value(part.row, "torque_peak_rating")
    papers = part.row.get("documents") or ()
    if peak is None or part.kind != "gearbox_differential_tyres" or "data_sheet" not in papers:
        return continuous
    most = min(1.1 * continuous[0], max(peak[0], continuous[0]))
    return most, most * continuous[1] / continuous[0]


def _torque_rating(s: Setting, part: Part) -> Iterator[Result]:
    most = rating(part)
    if most is not None and s.demand is not None:
        planned = max(s.demand.plan)
        text = f"planned torque {planned:.0f} N m over a rating of {most[0]:.0f} N m"
        gears = [(row["gear"], value(row, "torque")) for row in part.row.get("gear_ratings") or () if "gear" in row]
        words = [f"gear {gear} {rated[0]:.0f}" for gear, rated in gears if rated is not None]
        text += f"; by gear, N m: {', '.join(words)}" if words else ""
        yield from _rated(s, part, "rating_use", "torque", planned, most, text)


def _speed_rating(s: Setting, part: Part) -> Iterator[Result]:
    most = value(part.row, "speed_rating")
    if most is not None and s.demand is not None:
        top = max((n for n, torque in zip(s.speeds, s.demand.plan, strict=True) if torque > 0.0), default=0.0)
        text = f"planned speed {60.0 * top:.0f} rpm over a rating of {60.0 * most[0]:.0f} rpm"
        yield from _rated(s, part, "speed_rating", "engine_speed", top, most, text)


def _rated(
    s: Setting, part: Part, rule: str, quantity: str, planned: float, most: tuple[float, float], text: str
) -> Iterator[Result]:
    use = planned / most[0]
    found = s.limits[ID + "rating_use_max"].judge(use, use * most[1] / most[0])
    key = (ID + rule, part.name, part.sheet_id)
    words, clears = f"{BY_ID[part.kind].text}: {text}", part.status != "conflicting"
    yield Finding(key[0], part.sheet_id, part.name, verdicts=(found,), text=words, clears=clears)
    reason = f"rating of {BY_ID[part.kind].text}"
    yield Ceiling(rule, quantity, most[0], reason, subject=part.name, until=INTERVIEW, finding=key)


def has_figures(part: Part) -> bool:
    """Tell whether a part has the figures that this check holds against the plan."""
    from loadworthy_plugins.modifications.capacity import rated

    row = part.row
    if part.kind == "injector":
        return rated(row) is not None
    if part.kind == "fuel_pump":
        return any(point.get("voltage") is not None for point in row.get("flow_points") or ())
    if part.kind == "high_pressure_pump":
        return all(row.get(key) for key in ("plunger_bore", "plunger_stroke", "pump_lobes"))
    if part.kind == "air_meter":
        return full_scale(part) is not None
    if part.kind == "turbocharger":
        return all(row.get(key) for key in ("choke_flow", "map_temperature", "map_pressure"))
    if part.kind == "camshaft":
        return row.get("speed_rating") is not None
    if part.kind == "gearbox_differential_tyres" and rating(part) is None:
        # Other tyres alone carry no torque rating: their own check judges them.
        return "tyre_circumference" in row and not ("gear_ratios" in row or "final_drive" in row)
    return rating(part) is not None


def _unrated(s: Setting) -> Iterator[Result]:
    for part in s.found.of(*RATED):
        if part.answer == "modified" and not part.doubtful and not has_figures(part):
            yield Ceiling(
                "unrated",
                "torque",
                standard(s.case),
                f"{BY_ID[part.kind].text} not as made and without figures: may do what the standard part did",
                subject=part.name,
                origin="gap",
                until=INTERVIEW,
            )


def _doubtful(s: Setting) -> Iterator[Result]:
    unknown = [kind for kind in s.found.unknown if BY_ID[kind].could_limit]
    if unknown:
        names = "; ".join(BY_ID[kind].text for kind in unknown[:MOST_NAMED])
        if len(unknown) > MOST_NAMED:
            names += f"; and {len(unknown) - MOST_NAMED} kinds more"
        yield Ceiling(
            "unanswered",
            "torque",
            standard(s.case),
            f"not known whether as made: {names}",
            origin="gap",
            until=INTERVIEW,
        )
    for part in s.found.conflicting:
        if BY_ID[part.kind].could_limit:
            yield Ceiling(
                "conflicting",
                "torque",
                standard(s.case),
                f"{BY_ID[part.kind].text}: {part.why}",
                subject=part.name,
                origin="gap",
                until=LOOK,
            )


def _class(s: Setting) -> Iterator[Result]:
    changed = [BY_ID[p.kind].text for p in s.found.parts if p.answer == "modified" and BY_ID[p.kind].internal]
    if changed:
        yield AtLeast("strong", f"not as made: {', '.join(dict.fromkeys(changed))}")
