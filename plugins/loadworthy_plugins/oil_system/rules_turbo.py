"""Rules on the turbocharger's oil: whether it gets enough, and whether it can drain."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.sdk import Gap, NamedTuple
from loadworthy_plugins.oil_system.results import ID, finding, most, pressure_words
from loadworthy_plugins.shared_results import bands, number, seen, used

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Case, Finding, Grade, Limits, Reading, Result, Sheet, Verdict


class _Place(NamedTuple):
    """A turbocharger that a sheet speaks of. ``sure``: the sheet says which; otherwise it clears none of them."""

    subject: str | None
    sure: bool


def turbo_rules(case: Case, limits: Limits) -> Iterator[Result]:
    """Judge every turbocharger sheet."""
    for sheet in case.of("turbo_oil"):
        places = _places(sheet, case)
        if len(places) > 1:
            yield Gap(
                ID + "turbo_bank",
                "two banks, and the sheet does not say which turbocharger: it accuses both and clears none",
                section="turbo_oil",
                test="turbo-oil-feed-test",
                write="bank = 1",
            )
        for place in places:
            yield from _feed(sheet, place, case, limits)
            yield from _line(sheet, place)
            yield from _drain(sheet, place)


def _places(sheet: Sheet, case: Case) -> tuple[_Place, ...]:
    banks = case.vehicle.get("cylinder_banks") or ()
    if len(banks) < 2:
        return (_Place(None, True),)
    bank = number(sheet.get("bank"))
    if bank is not None and 1 <= bank <= len(banks):
        return (_Place(f"bank {int(bank)}", True),)
    return tuple(_Place(f"bank {i}", False) for i in range(1, len(banks) + 1))


def _feed(sheet: Sheet, place: _Place, case: Case, limits: Limits) -> Iterator[Finding]:
    idle, load = sheet.reading("turbo_feed_idle"), sheet.reading("turbo_feed_pressure")
    if idle is None and load is None:
        return
    readings = tuple(
        used(sheet, name, one.value, one.u, "Pa gauge")
        for name, one in (("turbo_feed_idle", idle), ("turbo_feed_pressure", load))
        if one is not None
    )
    kind = case.vehicle.get("turbo_bearing_kind")
    if any(one is not None and one.u is None for one in (idle, load)):
        yield finding("turbo_feed", sheet, place.subject, unknown="uncertainty not known", readings=readings)
        return
    if kind == "ball":
        yield _ball(sheet, place, load, limits)
        return
    found: list[Verdict] = []
    for one, name in ((idle, "turbo_feed_min_idle"), (load, "turbo_feed_min_load")):
        if one is not None:
            found.append(limits[ID + name].judge(one.value, one.u or 0.0))
    low = most(found)
    sound = 1.0 - low if load is not None and kind == "plain" else 0.0
    gallery = sheet.reading("gallery_pressure")
    short = (
        gallery is not None
        and limits[ID + "turbo_feed_min_load"].judge(gallery.value, gallery.u or 0.0).p_beyond >= 0.5
    )
    # A gallery as short as the feed says that the fault lies before the line.
    normal = "low" if gallery is not None else "low_gallery_unknown"
    refused = any(one is not None and one.refused for one in (idle, load))
    yield finding(
        "turbo_feed",
        sheet,
        place.subject,
        verdicts=tuple(found),
        text=f"{_words(idle, load)} at the turbocharger" + ("; gallery as short" if short else ""),
        bands=bands(**{normal: 0.0 if short else low, "sound": sound}),
        max_grade=None if kind == "plain" else "watch",
        clears=place.sure and not refused and kind == "plain" and load is not None,
        readings=readings,
    )


def _words(idle: Reading | None, load: Reading | None) -> str:
    """Return both pressures in words."""
    told = ((idle, "at idle"), (load, "at high speed"))
    return ", ".join(f"{pressure_words(one.value)} {when}" for one, when in told if one is not None)


def _ball(sheet: Sheet, place: _Place, load: Reading | None, limits: Limits) -> Finding:
    """Ball bearings are hurt by too much oil; how little is enough their maker says."""
    if load is None:
        return finding("turbo_feed_high", sheet, place.subject, unknown="no pressure at high engine speed")
    return finding(
        "turbo_feed_high",
        sheet,
        place.subject,
        verdicts=(limits[ID + "turbo_feed_ball_max"].judge(load.value, load.u or 0.0),),
        text=f"feed of ball bearings after the restrictor {pressure_words(load.value)}",
        clears=place.sure and not load.refused,
        readings=(used(sheet, "turbo_feed_pressure", load.value, load.u, "Pa gauge"),),
    )


def _line(sheet: Sheet, place: _Place) -> Iterator[Finding]:
    line = sheet.get("turbo_feed_line")
    if line in (None, "not_checked"):
        return
    coked = line == "coked"
    yield finding(
        "turbo_line",
        sheet,
        place.subject,
        verdicts=seen(coked, "fix_first"),
        text="feed line coked" if coked else "feed line clean",
        bands={"coked": 1.0} if coked else {},
        clears=place.sure,
        readings=(used(sheet, "turbo_feed_line", line),),
    )


def _drain(sheet: Sheet, place: _Place) -> Iterator[Finding]:
    drain, smoke = sheet.get("turbo_drain_seen"), sheet.get("blue_smoke")
    high, falls = sheet.get("crankcase_pressure_high"), sheet.get("turbo_drain_fall")
    if drain == "not_checked":
        drain = None
    if drain is None and falls is not False and (smoke is None or high is None):
        return
    text, band, fired, sure = "drain", "", True, place.sure
    grade: Grade = "note"
    if drain == "restricted":
        text, band, grade = "drain line restricted", "restricted", "fix_first"
    elif smoke and high:
        text, band, grade = (
            "blue smoke and crankcase pressure high: look at the ring seal first",
            "smoke_and_pressure",
            "watch",
        )
    elif falls is False:
        text, grade = "drain does not fall all the way", "watch"
    elif drain == "clear":
        text, band, fired = "drain seen clear", "clear", False
    elif smoke is False and high is False:
        text, band, fired = "no smoke, crankcase pressure within its limit", "quiet", False
    else:
        text, fired, sure = "one of smoke and crankcase pressure only: it clears nothing", False, False
    yield finding(
        "turbo_drain",
        sheet,
        place.subject,
        verdicts=seen(fired, grade),
        text=text,
        bands={band: 1.0} if band else {},
        clears=sure,
        readings=tuple(
            used(sheet, name, str(value).lower())
            for name, value in (("turbo_drain_seen", drain), ("blue_smoke", smoke), ("turbo_drain_fall", falls))
            if value is not None
        ),
    )
