"""All cylinders low: cranking, throttle, adaptor, closing and altitude come before wear and timing.

Each rule is an observation: it says what was so, and whether the evenly low level fits it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy_plugins.compression.conditions import cranked_slowly
from loadworthy_plugins.compression.results import bands, finding, seen
from loadworthy_plugins.compression.rules_pattern import normal_leakage
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Finding
    from loadworthy_plugins.compression.dry import DrySet
    from loadworthy_plugins.compression.leak import LeakSet
    from loadworthy_plugins.compression.session import Session

#: Standard pressure at 4 000 m over that at sea level: more than this no inhabited place takes away.
_LOWEST_AIR = 0.60


def even_rules(
    dry: DrySet, leak: LeakSet | None, session: Session, *, blowby_high: bool, oil_recovers: bool
) -> Iterator[Finding]:
    """Report what explains a level that is low everywhere, and what is excluded as its reason."""
    p = dry.p_all_low if dry.evenly_low else 0.0
    engine, sheet = dry.engine, dry.sheet
    tight = normal_leakage(session, leak, engine.numbers)

    def observed(rule: str, fits: bool, text: str, excluded: str = "") -> Finding:
        fired = fits and p > 0.0
        found = bands(low=p) if fired else bands(**{excluded: 1.0}) if excluded else {}
        return finding(rule, sheet, verdicts=seen(fired), text=text, bands=found)

    slow = cranked_slowly(sheet, engine, session.limits)
    if slow is not None:
        volts = number(sheet.get("cranking_battery_voltage"))
        text = "cranked slowly" if slow else "cranked fast enough"
        text += f", {volts:.1f} V at the starter" if volts is not None else ""
        yield observed("all_low_slow", slow, text, "" if slow else "fast")
    throttle = sheet.get("throttle_state")
    if throttle != "none" or not engine.diesel:
        wide = throttle == "wide_open"
        text = "throttle seen wide open" if wide else "throttle closed or not looked at"
        yield observed("all_low_throttle", not wide, text, "open" if wide else "")
    if engine.diesel:
        missing = sheet.get("adaptor_dead_volume") is None
        yield observed("all_low_adaptor", missing, "dead volume of the adaptor " + ("unknown" if missing else "known"))
    late = engine.late_closing(session.limits["compression.late_closing"].number)
    if late is not None:
        text = "intake closes late by design" if late else "intake closes at the usual angle"
        yield observed("all_low_late_closing", late and tight, text, "" if late else "usual_closing")
    yield _altitude(dry)
    yield observed("all_low_tight", tight, "leakage " + ("normal" if tight else "not known to be normal"))
    built = bool(engine.flag("gasket_thicker")) or engine.word("pistons_changed") == "lowered"
    text = "thicker gasket or pistons of lower ratio" if built else "no parts known that lower the ratio"
    yield observed("all_low_built", built and tight, text)
    filler = leak is not None and any("oil_filler" in place.escapes for place in leak.places)
    worn = filler and blowby_high
    yield _worn(dry, worn)
    if engine.flag("engine_rebuilt"):
        text = "rebuilt; oil " + ("brings it back" if oil_recovers else "does not bring it back, or was not tried")
        yield observed("all_low_new_rings", oil_recovers, text)


def _altitude(dry: DrySet) -> Finding:
    """Tell whether the missing air pressure could explain the level."""
    known = max((v for v in dry.known if v is not None), default=None)
    top = max((place.standard for place in dry.places), default=0.0)
    fits = dry.air is None and dry.all_low and known is not None and top / known >= _LOWEST_AIR
    given = dry.air is not None
    return finding(
        "all_low_altitude",
        dry.sheet,
        verdicts=seen(fits),
        text="air pressure at the place " + ("given" if given else "not given"),
        bands=bands(low=dry.p_all_low if fits else 0.0, station=1.0 if given else 0.0),
    )


def _worn(dry: DrySet, worn: bool) -> Finding:
    fired = worn and dry.all_low
    return finding(
        "all_low_wear",
        dry.sheet,
        verdicts=seen(fired),
        text="air at the oil filler and blow-by high" if worn else "no air at the oil filler with high blow-by",
        bands=bands(low=dry.p_all_low if fired else 0.0),
    )
