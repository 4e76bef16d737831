"""Blow-by and crankcase pressure against the maker's limit, or this engine's own record under equal conditions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Candidate, NamedTuple, Symptom
from loadworthy_plugins.compression.crankcase import blowby_share, same_conditions
from loadworthy_plugins.compression.results import bands, finding, step, used
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from loadworthy.sdk import Case, Finding, Limits, Reading, ResolvedLimit, Result, Sheet
    from loadworthy_plugins.compression.engine import Engine

#: Who raises crankcase pressure or blow-by, with P(candidate | symptom): judgement.
_CANDIDATES = (
    ("crankcase-ventilation-fault", 0.40),
    ("ring-seal", 0.25),
    ("general-wear", 0.10),
    ("piston-or-ring-land-broken", 0.05),
    ("turbo-oil-drain-restricted", 0.05),
    ("turbocharger-worn", 0.05),
)


class _Basis(NamedTuple):
    """What a reading is held to: a limit in the reading's own unit, and where it comes from."""

    limit: ResolvedLimit
    source: str


def crankcase_rules(case: Case, engine: Engine, limits: Limits) -> Iterator[Result]:
    """Judge every crankcase sheet; none without a maker's limit or an own record taken alike."""
    sheets = list(case.of("crankcase"))
    for index, sheet in enumerate(sheets):
        earlier = sheets[:index]
        flow = _flow(sheet, earlier, engine, limits)
        if flow is not None:
            yield flow
            if _p(flow) >= 0.5:
                yield _symptom(flow, sheet)
        pressure = _pressure(sheet, earlier, engine, limits, flow)
        if pressure is not None:
            yield pressure
            if _p(pressure) >= 0.5:
                yield _symptom(pressure, sheet)


def blowby_is_high(case: Case, engine: Engine, limits: Limits, sheet: Sheet) -> bool:
    """Tell whether blow-by taken within 90 days of another sheet was high."""
    sheets = list(case.of("crankcase"))
    for index, one in enumerate(sheets):
        if abs((one.date - sheet.date).days) <= 90:
            flow = _flow(one, sheets[:index], engine, limits)
            if flow is not None and _p(flow) >= 0.5:
                return True
    return False


def _p(one: Finding) -> float:
    return max((v.p_beyond for v in one.verdicts), default=0.0)


def _symptom(one: Finding, sheet: Sheet) -> Symptom:
    return Symptom(
        "crankcase-pressure-high",
        one.rule,
        sheet.id,
        _p(one),
        candidates=tuple(Candidate(cause, None, weight) for cause, weight in _CANDIDATES),
        text="crankcase pressure or blow-by high",
    )


def _conditions(sheet: Sheet) -> tuple[float | None, str]:
    """Return (engine speed in rev/s, load) of a sheet."""
    return number(sheet.get("blowby_engine_speed")), str(sheet.get("blowby_load") or "")


def _basis(
    sheet: Sheet, earlier: Sequence[Sheet], engine: Engine, limits: Limits, field: str, spec: str
) -> _Basis | None:
    """Return the limit of a reading: the maker's for these conditions, else 1.5 times the own record taken alike."""
    limit = limits["compression.blowby_high"]
    maker = engine.values.get("blowby_spec") or {}
    figure = number(maker.get(spec))
    here = _conditions(sheet)
    if figure is not None and same_conditions(here, (number(maker.get("speed")), str(maker.get("load") or ""))):
        restrictor = maker.get("restrictor")
        if spec != "pressure" or not restrictor or restrictor == sheet.get("breather_restriction"):
            return _Basis(limit.maker(figure), "maker")
    alike = [
        value
        for one in earlier
        if (value := number(one.get(field))) is not None
        and value > 0.0
        and same_conditions(here, _conditions(one))
        and (spec != "pressure" or one.get("breather_restriction") == sheet.get("breather_restriction"))
    ]
    if not alike:
        return None
    return _Basis(limit.maker(limit.number * min(alike)), "own record")


def _flow(sheet: Sheet, earlier: Sequence[Sheet], engine: Engine, limits: Limits) -> Finding | None:
    reading = sheet.reading("blowby_flow")
    if reading is None:
        return None
    basis = _basis(sheet, earlier, engine, limits, "blowby_flow", "flow")
    speed = number(sheet.get("blowby_engine_speed"))
    displacement = engine.value("displacement")
    share = blowby_share(reading.value, displacement, speed) if speed and displacement else None
    return _judged("blowby", sheet, "blowby_flow", reading, basis, "m3/s", share)


def _judged(
    rule: str,
    sheet: Sheet,
    field: str,
    reading: Reading,
    basis: _Basis | None,
    unit: str,
    share: float | None = None,
) -> Finding:
    readings = (used(sheet, field, reading.value, reading.u, unit),)
    steps = step(
        "share of the swept charge", share, "1", "flow / (V_d n / 2)", "order of magnitude: 0.5 to 2 % is usual"
    )
    if basis is None:
        return finding(
            rule,
            sheet,
            unknown="no maker's limit and no own record at this speed, load and breather restriction",
            readings=readings,
            steps=steps,
        )
    if reading.u is None:
        return finding(rule, sheet, unknown="uncertainty of the reading not known", readings=readings)
    verdict = basis.limit.judge(reading.value, reading.u)
    if basis.source != "maker":
        verdict = verdict._replace(origin="default")
    fired = verdict.p_beyond >= 0.5
    return finding(
        rule,
        sheet,
        verdicts=(verdict,),
        text=f"{'over' if fired else 'within'} the limit ({basis.source})",
        bands=bands(high=verdict.p_beyond if fired else 0.0) if rule == "blowby" else {},
        readings=readings,
        steps=steps,
        clears=not reading.refused,
    )


def _pressure(
    sheet: Sheet, earlier: Sequence[Sheet], engine: Engine, limits: Limits, flow: Finding | None
) -> Finding | None:
    """Judge crankcase pressure; high with normal flow is the breather, low in boost too clears it."""
    reading = sheet.reading("crankcase_pressure")
    if reading is None:
        return None
    basis = _basis(sheet, earlier, engine, limits, "crankcase_pressure", "pressure")
    found = _judged("crankcase_pressure", sheet, "crankcase_pressure", reading, basis, "Pa gauge")
    if basis is None or not found.verdicts:
        return found
    boosted = sheet.reading("crankcase_pressure_in_boost")
    verdicts = found.verdicts
    if boosted is not None and boosted.u is not None:
        verdicts = (*verdicts, basis.limit.judge(boosted.value, boosted.u))
    high = max(v.p_beyond for v in verdicts)
    normal = flow is not None and bool(flow.verdicts) and _p(flow) < 0.5
    in_limit = 1.0 - high if boosted is not None and high < 0.5 else 0.0
    return finding(
        "crankcase_pressure",
        sheet,
        verdicts=verdicts,
        text=found.text + (", blow-by normal" if normal else ""),
        bands=bands(high_with_normal_flow=high if high >= 0.5 and normal else 0.0, in_limit=in_limit),
        readings=found.readings,
        clears=not reading.refused and (boosted is None or not boosted.refused),
    )
