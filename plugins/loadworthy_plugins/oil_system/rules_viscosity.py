"""Rules on the viscosity of the used oil: thinned, thickened, the wrong grade; fuel or sheared polymer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import NamedTuple, Verdict, format_value, normal_cdf
from loadworthy_plugins.oil_system.results import ID, finding
from loadworthy_plugins.physics.oil_blend import mass_share, reason_of_loss, residue, share_from_loss
from loadworthy_plugins.physics.oil_grades import Grade, grades_of, read_grade
from loadworthy_plugins.physics.viscosity import T40, T100, viscosity_index
from loadworthy_plugins.shared_fields import DIESEL_FUELS
from loadworthy_plugins.shared_results import bands, number, percent, seen, step, used

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Case, Finding, Limits, Result, Sheet, Used

#: Relative standard uncertainty of a viscosity that was measured, and of one from a data sheet (judgement).
_U_USED, _U_FRESH = 0.02, {"measured": 0.02, "data_sheet": 0.04, "grade_typical": 0.10}
#: A change within this share of the fresh oil, in the band of its grade, clears (judgement).
_WITHIN = 0.10
#: From this loss of viscosity on its reason is looked for; from these shares fuel and soot are no longer left out of
#: account (judgement).
_LOSS, _FUEL, _SOOT = 0.05, 0.01, 0.02
#: Indices beyond which a pair of figures is doubted (judgement).
_DOUBT = (90.0, 220.0)


class Pair(NamedTuple):
    """Used and fresh viscosity at 100 degC, m2/s, and the change relative to the fresh oil with its uncertainty."""

    used: float
    fresh: float | None
    change: float | None
    u: float
    grade: Grade | None


def viscosity_rules(case: Case, limits: Limits) -> Iterator[Result]:
    """Judge the viscosity of every sample."""
    for sheet in case.of("oil_sample"):
        pair = read_pair(sheet)
        yield from _doubt(sheet)
        if pair is None:
            continue
        yield _change(sheet, pair, limits)
        yield from _thick(sheet, pair)
        yield from _asked(sheet, case, pair)
        yield from _fuel_or_shear(sheet, case)


def read_pair(sheet: Sheet) -> Pair | None:
    """Return the viscosities of a sample; None where the used oil's is missing."""
    found = number(sheet.get("used_kv100"))
    if found is None:
        return None
    fresh = number(sheet.get("kv100"))
    basis = str(sheet.get("kv_basis") or "data_sheet")
    grade = read(sheet.get("oil_grade_filled"))
    if fresh is None:
        return Pair(found, None, None, _U_USED, grade)
    u = (_U_USED**2 + _U_FRESH[basis] ** 2) ** 0.5 * found / fresh
    return Pair(found, fresh, found / fresh - 1.0, u, grade)


def read(text: object) -> Grade | None:
    """Return the grade in a text, or None."""
    try:
        return read_grade(text) if isinstance(text, str) else None
    except ValueError:
        return None


def _out(pair: Pair) -> tuple[float, float]:
    """Return the probabilities that the used oil lies below and above the band of its grade."""
    if pair.grade is None or pair.grade.hot is None:
        return 0.0, 0.0
    low, high = pair.grade.band
    u = _U_USED * pair.used
    return normal_cdf((low - pair.used) / u), normal_cdf((pair.used - high) / u)


def _change(sheet: Sheet, pair: Pair, limits: Limits) -> Finding:
    below, above = _out(pair)
    found: list[Verdict] = []
    if pair.change is not None:
        found.append(limits[ID + "kv100_change_loss"].judge(-pair.change, pair.u))
        found.append(limits[ID + "kv100_change_rise"].judge(pair.change, pair.u))
    if pair.grade is not None and pair.grade.hot is not None:
        limit = limits[ID + "kv100_change_band"]
        found.append(Verdict("fix_first", max(below, above), limit.id, pair.grade.name, limit.kind, limit.origin))
    if not found:
        return finding("viscosity", sheet, unknown="neither the fresh oil's viscosity nor its grade is known")
    lost = found[0].p_beyond if pair.change is not None else 0.0
    low = max(lost, below)
    within = 0.0
    if pair.change is not None and pair.grade is not None:
        inside = normal_cdf((_WITHIN - pair.change) / pair.u) + normal_cdf((_WITHIN + pair.change) / pair.u) - 1.0
        within = max(0.0, min(inside, 1.0 - below - above))
    return finding(
        "viscosity",
        sheet,
        verdicts=tuple(found),
        text=_words(pair),
        bands=bands(low=low, in_band=min(within, 1.0 - low)),
        names=(("oil-too-thin", None),) if below >= 0.5 else (),
        readings=_readings(sheet),
        steps=(
            *step("change against the fresh oil", pair.change, "1"),
            *step("grade filled", _name(pair.grade)),
            *step("grades of this viscosity", _grades(sheet, pair), "", "SAE J300"),
        ),
    )


def _words(pair: Pair) -> str:
    """Return what the viscosity at 100 degC has become, in words."""
    now = format_value(pair.used, "viscosity_kinematic")
    if pair.change is None:
        return f"viscosity {now} at 100 degC"
    return (
        f"viscosity {now} at 100 degC, {percent(abs(pair.change))} {'less' if pair.change < 0.0 else 'more'} than fresh"
    )


def _name(grade: Grade | None) -> str | None:
    return None if grade is None else grade.name


def _grades(sheet: Sheet, pair: Pair) -> str:
    """Return the hot grades that the used oil's viscosity, and high-shear viscosity if measured, can be."""
    found = grades_of(pair.used, number(sheet.get("hths150")))
    return ", ".join(map(str, found)) or "none"


def _readings(sheet: Sheet) -> tuple[Used, ...]:
    names = ("used_kv40", "used_kv100", "kv40", "kv100")
    return tuple(
        used(sheet, name, value, None, "m2/s") for name in names if (value := number(sheet.get(name))) is not None
    )


def _thick(sheet: Sheet, pair: Pair) -> Iterator[Finding]:
    if pair.grade is None or pair.grade.hot is None:
        return
    below, above = _out(pair)
    soot = number(sheet.get("soot"))
    reason = sheet.get("oxidation_high") is True or (soot is not None and soot >= _SOOT)
    yield finding(
        "thick",
        sheet,
        verdicts=(Verdict("watch", above),),
        text="viscosity above the band of its grade" + (", with soot or oxidation" if reason else "")
        if above >= 0.5
        else "viscosity not above the band of its grade",
        bands=bands(above_band=above if reason else 0.0, in_band=max(0.0, 1.0 - above - below)),
        readings=_readings(sheet),
    )


def _asked(sheet: Sheet, case: Case, pair: Pair) -> Iterator[Finding]:
    """Hold viscosity and high-shear viscosity to the grade that the maker asks for, fuel and soot excluded."""
    grade = read(case.vehicle.get("oil_grade_spec"))
    if grade is None or grade.hot is None:
        return
    excluded = _dirty(sheet)
    kv = pair.fresh if pair.fresh is not None and excluded else pair.used
    if pair.fresh is None and excluded:
        yield finding("grade", sheet, unknown="fuel or soot in the oil: its own viscosity cannot be told")
        return
    low, high = grade.band
    u = _U_USED * kv
    outside = normal_cdf((low - kv) / u) + normal_cdf((kv - high) / u)
    hths, least = sheet.reading("hths150"), grade.least_hths
    if hths is not None and hths.u and least is not None:
        outside = max(outside, normal_cdf((least - hths.value) / hths.u))
    outside = min(1.0, outside)
    inside = 1.0 - outside
    yield finding(
        "grade",
        sheet,
        verdicts=(Verdict("watch", outside),),
        text=f"viscosity {format_value(kv, 'viscosity_kinematic')} at 100 degC; the maker asks for {grade.name}",
        bands=bands(
            outside=outside,
            inside=inside if hths is not None else 0.0,
            inside_kv_only=0.0 if hths is not None else inside,
        ),
        readings=_readings(sheet),
    )


def _dirty(sheet: Sheet) -> bool:
    fuel, soot = number(sheet.get("fuel_dilution")), number(sheet.get("soot"))
    return (fuel is not None and fuel >= _FUEL) or (soot is not None and soot >= _SOOT)


def _fuel_or_shear(sheet: Sheet, case: Case) -> Iterator[Finding]:
    """Lost viscosity is fuel or sheared polymer; the losses at two temperatures part them."""
    fresh40, fresh100 = number(sheet.get("kv40")), number(sheet.get("kv100"))
    used40, used100 = number(sheet.get("used_kv40")), number(sheet.get("used_kv100"))
    if fresh100 is None or used100 is None:
        return
    lost = 1.0 - used100 / fresh100
    if lost >= _LOSS and sheet.get("flash_point_drop") is True:
        yield finding(
            "fuel_flash",
            sheet,
            verdicts=seen(True, "watch"),
            text="viscosity and flash point both lowered: fuel in the oil",
            bands={"both": 1.0},
            readings=_readings(sheet),
        )
    if fresh40 is None or used40 is None or lost < _LOSS or used40 >= fresh40:
        return
    kind = "diesel" if case.vehicle.get("fuel") in DIESEL_FUELS else "petrol"
    line = residue(kind)
    share40 = share_from_loss(fresh40, used40, line.at(T40))
    share100 = share_from_loss(fresh100, used100, line.at(T100))
    reason = reason_of_loss(share40, share100, kind)
    fuel = percent(mass_share(share100, kind), 1)
    yield finding(
        "two_temperatures",
        sheet,
        verdicts=seen(reason == "fuel", "note"),
        text={
            "fuel": f"up to {fuel} fuel by mass by the loss of viscosity, alike at 40 and 100 degC",
            "shear": "viscosity lost as by sheared polymer, not by fuel",
            "": f"up to {fuel} fuel by mass, or shear: gas chromatography or flash point would tell",
        }[reason],
        bands={reason: 1.0} if reason else {},
        readings=_readings(sheet),
        steps=(
            *step("fuel by the loss at 40 degC", share40, "1"),
            *step("fuel by the loss at 100 degC", share100, "1"),
        ),
    )


def _doubt(sheet: Sheet) -> Iterator[Finding]:
    """Doubt a pair of figures whose viscosity index no engine oil has."""
    for names in (("kv40", "kv100"), ("used_kv40", "used_kv100")):
        at40, at100 = (number(sheet.get(name)) for name in names)
        if at40 is None or at100 is None:
            continue
        try:
            index = viscosity_index(at40, at100)
        except ValueError:
            index = None
        if index is None or not _DOUBT[0] <= index <= _DOUBT[1]:
            words = "none" if index is None else f"{index:.0f}"
            yield finding(
                "figures_doubted",
                sheet,
                names[0],
                verdicts=seen(True, "note"),
                text=f"viscosity index of {names[0]} and {names[1]}: {words}; doubt the pair",
            )
