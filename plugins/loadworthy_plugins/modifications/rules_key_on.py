"""What comes before everything else: pressure sensors at key-on and added connectors."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Gap, Verdict
from loadworthy_plugins.modifications.entry import ID
from loadworthy_plugins.modifications.mixture import sensor_ratio
from loadworthy_plugins.modifications.rule_table import CONVERTER, READ
from loadworthy_plugins.modifications.run import Value, finding, most_trusted, show, within
from loadworthy_plugins.shared_results import bands, step

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Result
    from loadworthy_plugins.modifications.run import Run

#: Ratios of the ranges of common pressure sensors, and how near a ratio must be to one of them (judgement).
TYPICAL_RATIOS: Final = (1.25, 1.5, 2.0, 1.0 / 1.25, 1.0 / 1.5, 1.0 / 2.0)
NEAR_RATIO: Final = 0.03
SENSORS: Final = ("map_key_on", "boost_key_on")


def scales(run: Run) -> tuple[tuple[Value, float, float], ...]:
    """Return (ratio k, P(scaling), P(typical ratio)) of every sensor read at key-on, k = station pressure/reading."""
    found = []
    for name in SENSORS:
        reading = run.read(name)
        if reading is None or run.ambient is None or reading.value <= 0.0:
            continue
        k = sensor_ratio(run.ambient.value, reading.value)
        u = k * ((run.ambient.u / run.ambient.value) ** 2 + (reading.u / reading.value) ** 2) ** 0.5
        refused = most_trusted([reading.refused, run.ambient.refused])
        off = run.limits[ID + "key_on_scale"].judge(abs(k - 1.0), u).p_beyond
        typical = sum(within(k, u, r * (1.0 - NEAR_RATIO), r * (1.0 + NEAR_RATIO)) for r in TYPICAL_RATIOS)
        found.append((Value(k, u, reading.place, refused), off, min(off, typical)))
    return tuple(found)


def scaled(run: Run) -> float | None:
    """Return the probability that a pressure sensor is off by a ratio; None where none could be read."""
    return max((off for _, off, _ in scales(run)), default=None)


def key_on_rules(run: Run) -> Iterator[Result]:
    """Judge the pressure sensors against station pressure, and what was seen of added connectors."""
    yield from _key_on(run)
    seen = run.sheet.get("sensor_connectors")
    if seen in ("original", "added"):
        added = seen == "added"
        yield finding(
            run,
            "connectors",
            verdicts=(Verdict("watch", float(added)),),
            text="connectors were added at a sensor: find out what hangs on them before any log is believed"
            if added
            else "no connector added at boost, rail and air-meter sensors",
            bands=bands(original=float(not added)),
            names=((CONVERTER, None),) if added else (),
            accept=added,
        )


def _key_on(run: Run) -> Iterator[Result]:
    read = [run.sheet.get(name) for name in SENSORS]
    if not any(read) and not run.rows:
        return
    found = scales(run)
    if not found:
        why = (
            "air pressure at the place not known, or its kind not written" if any(read) else "no sensor read at key-on"
        )
        yield finding(run, "key_on", unknown=why)
        yield Gap(
            ID + "key_on",
            "pressure sensors against station pressure, engine at rest: until then no log of pressure clears anything",
            section="mixture_run",
            test=READ,
            write='map_key_on = "99.8 kPa", ambient_pressure = "100.1 kPa", ambient_pressure_kind = "station"',
        )
        return
    k, off, typical = max(found, key=lambda one: one[1])
    refused = most_trusted([one[0].refused for one in found])
    limit = run.limits[ID + "key_on_scale"]
    words = f"station pressure is {k.value:.2f} times what the sensor reads at key-on"
    if off >= 0.5:
        words += ": true absolute pressure is that many times what the log shows"
        if len(found) > 1 and min(one[1] for one in found) >= 0.5:
            words += "; both sensors say so: check the barometer and the kind of its reading first"
    yield finding(
        run,
        "key_on",
        verdicts=(limit.judge(abs(k.value - 1.0), k.u),),
        text=words,
        bands=bands(typical_ratio=typical, changed=off - typical, clean=1.0 - off),
        accept=True,
        clears=not refused,
        readings=tuple(show(one[0], "1") for one in found),
        steps=step("k", k.value, "1", "station pressure/key-on reading"),
    )
