"""Patterns of codes and readings that say more together than each alone. Each is an evidence group of its own.

A pattern holds where every conjunct does. Its factor counts to the power of the least conjunct, where a conjunct of
codes is the largest exponent that satisfies it and a measured one is 1. What lacks its data does not hold.
"""

from __future__ import annotations

from math import log10
from typing import TYPE_CHECKING, Final

from loadworthy.sdk import NamedTuple, Weight
from loadworthy_plugins.fault_memory.code_table import CAUSES, PATTERNS
from loadworthy_plugins.fault_memory.memory import read_memory
from loadworthy_plugins.fault_memory.pointing import SUPPLY_CODES, fits, holds, place, trims, where_of
from loadworthy_plugins.fault_memory.pointing import family as family_by_id
from loadworthy_plugins.fault_memory.pointing import family_id as id_of
from loadworthy_plugins.fault_memory.readiness import HELD
from loadworthy_plugins.shared_layout import banks

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from loadworthy.sdk import Case, Limits
    from loadworthy_plugins.fault_memory.memory import Memory, Present

#: Codes that say too little boost, too much, and either way.
_LOW: Final = ("p0299", "p2262")
_HIGH: Final = ("p0234", "p226b")
_EITHER: Final = "p2263"
_MISFIRES: Final = ("p0300", "p0301", "p0313", "p0316", "p0363")
_RICH: Final = ("P0172", "P0175", "P2178", "P2180", "P2192", "P2194")
_OIL_GROUPS: Final = ("oil pressure", "oil level", "oil temperature")
#: What a circuit code can mean besides its sensor: with nothing else it is no sensor's code.
_NO_SENSOR: Final = ("wiring-or-ground-fault", "control-unit-fault", "sensor-reference-supply-fault")


class Pattern(NamedTuple):
    """A pattern that holds: its exponent, the codes that triggered it with their families, its reason and weights."""

    id: str
    power: float
    codes: tuple[str, ...]
    reason: str
    weights: tuple[Weight, ...]
    families: frozenset[str]


class Lacking(NamedTuple):
    """A pattern of which nobody can tell whether it holds, and what to write."""

    id: str
    what: str


class _View:
    """What the conditions of patterns ask of a reading."""

    def __init__(self, case: Case, memory: Memory, limits: Limits) -> None:
        self.case = case
        self.memory = memory
        self.limits = limits
        self.present = tuple(
            one for one in memory.present if (id := id_of(one.code)) is not None and fits(family_by_id(id), case)
        )
        self.triggers: list[Present] = []

    def best(self, wanted: Callable[[Present], bool]) -> float:
        """Return the largest exponent of the codes that are wanted, noting them as triggers; 0 where none is."""
        found = [one for one in self.present if wanted(one)]
        self.triggers += found
        return max((one.s for one in found), default=0.0)

    def any_of(self, codes: Iterable[str]) -> float:
        chosen = frozenset(codes)
        return self.best(lambda one: one.code in chosen)

    def family(self, *ids: str) -> float:
        return self.best(lambda one: id_of(one.code) in ids)

    @property
    def misfires(self) -> list[Present]:
        """The misfire codes that name a cylinder."""
        return [one for one in self.present if id_of(one.code) == "p0301"]

    def misfire(self) -> float:
        return self.family(*_MISFIRES)

    @property
    def two_banks(self) -> bool | None:
        known = banks(self.case.vehicle)
        return len(known) == 2 if known else None

    def load_trims(self) -> list[float]:
        """Return the usable total trims at load."""
        return [trim.total for trim in trims(self.memory) if trim.region == "load" and not trim.unusable]

    def cylinders(self) -> list[int]:
        return sorted({int(where_of(one.code)) for one in self.misfires})

    def stated(self, key: str) -> str | None:
        found = self.memory.sheet.get(key)
        return str(found) if found is not None else None


def patterns(case: Case, memory: Memory, limits: Limits) -> Iterator[Pattern | Lacking]:
    """Yield the patterns that hold, and those that lack their data with what to write."""
    for id, (any_of, all_of, _, reason, multiply) in PATTERNS.items():
        view = _View(case, memory, limits)
        conjuncts: list[float] = []
        if any_of:
            conjuncts.append(view.any_of(any_of))
        conjuncts += (view.any_of((code,)) for code in all_of)
        found = _CONDITIONS[id](view)
        if id == "cold-runner":
            # One of its codes is enough, or its condition alone.
            conjuncts = [max(*conjuncts, found[0] if isinstance(found, list) else 0.0)]
        elif isinstance(found, str):
            if all(value > 0.0 for value in conjuncts) and found:
                yield Lacking(id, found)
            continue
        elif found is None:
            continue
        else:
            conjuncts += found
        power = min(conjuncts, default=0.0)
        if power > 0.0:
            codes = tuple(dict.fromkeys(one.shown for one in view.triggers))
            families = frozenset(family for one in view.triggers if (family := id_of(one.code)) is not None)
            yield Pattern(id, power, codes, reason, tuple(_weights(id, multiply, power, view)), families)


def _weights(id: str, multiply: Iterable[tuple[str, float, str]], power: float, view: _View) -> Iterator[Weight]:
    named = _named_cylinders(view)
    for cause, factor, when in multiply:
        if not holds(when, view.case) or factor == 1.0:
            continue
        db = 10.0 * power * log10(factor)
        subjects = named if CAUSES[cause][2] == "cylinder" else (None,)
        for subject in subjects:
            yield Weight(cause, subject, db, f"pattern {id}")


def _named_cylinders(view: _View) -> tuple[str | None, ...]:
    """Return the cylinders that the triggers name, else those of the banks that all of them name; None alone: all."""
    found: list[str] = []
    by_bank: list[str] = []
    everywhere = False
    for one in view.triggers:
        id = id_of(one.code)
        subject = place(family_by_id(id), one.code, view.case) if id is not None else None
        if subject is not None and subject.startswith("cylinder "):
            found.append(subject)
        elif subject is not None:
            bank = banks(view.case.vehicle)[int(subject.removeprefix("bank ")) - 1]
            by_bank += (f"cylinder {n}" for n in bank)
        else:
            everywhere = True
    return tuple(dict.fromkeys(found or ((not everywhere and by_bank) or (None,))))


# Conditions: conjuncts where it holds, None where it does not, a sentence where data are missing ---------------------


def _lean_both(view: _View) -> list[float] | str | None:
    if view.two_banks is None:
        return "state cylinder_banks"
    return [1.0] if view.two_banks else None


def _lean_one(view: _View) -> list[float] | str | None:
    if view.two_banks is None:
        return "state cylinder_banks"
    held = [one.code for one in view.present if one.code in ("P0171", "P0174")]
    if not view.two_banks or len(held) != 1:
        return None
    other = 2 if held == ["P0171"] else 1
    found = [trim.total for trim in trims(view.memory) if trim.bank == other and not trim.unusable]
    if not found:
        return f"record the trims of bank {other}"
    return [1.0] if all(abs(total) <= view.limits["fault_memory.bank_shared"].number for total in found) else None


def _several_misfires(view: _View) -> list[float] | str | None:
    general = view.any_of(("P0300",))
    misfires = view.misfires
    if len(misfires) >= 2:
        view.triggers += misfires
        second = sorted((one.s for one in misfires), reverse=True)[1]
        return [max(general, second)]
    return [general] if general else None


def _own_coil(view: _View) -> list[float] | str | None:
    return _same_cylinder(view, ("p0351",))


def _own_injector(view: _View) -> list[float] | str | None:
    return _same_cylinder(view, ("p0201", "p029c", "p029d", "p0263"))


def _same_cylinder(view: _View, families: tuple[str, ...]) -> list[float] | str | None:
    missing = {place(family_by_id("p0301"), one.code, view.case): one for one in view.misfires}
    best: list[float] | None = None
    pairs: list[Present] = []
    placed = False
    others = [one for one in view.present if id_of(one.code) in families]
    for one in others:
        subject = place(family_by_id(str(id_of(one.code))), one.code, view.case)
        if subject is None and len(others) == len(missing) == 1 and families == ("p0351",):
            # As for the code itself, unless the owner said which coil is whose.
            subject = None if view.case.vehicle.get("coil_map") else next(iter(missing))
        placed = placed or subject is not None
        if subject in missing:
            pairs += [one, missing[subject]]
            pair = [one.s, missing[subject].s]
            best = pair if best is None or min(pair) > min(best) else best
    view.triggers += pairs
    if best is None and missing and others and not placed:
        return "state coil_map"
    return best


def _neighbours(view: _View) -> list[float] | str | None:
    numbers = view.cylinders()
    if len(numbers) != 2:
        return None
    layout = banks(view.case.vehicle)
    if not layout:
        return "state cylinder_banks"
    first, second = numbers
    for bank in layout:
        if first in bank and second in bank and abs(bank.index(first) - bank.index(second)) == 1:
            view.triggers += view.misfires
            return [min(one.s for one in view.misfires)]
    return None


def _one_bank(view: _View) -> list[float] | str | None:
    numbers = view.cylinders()
    if len(numbers) < 2:
        return None
    if view.two_banks is None:
        return "state cylinder_banks"
    if not view.two_banks:
        return None
    if not any(set(numbers) <= set(bank) for bank in banks(view.case.vehicle)):
        return None
    view.triggers += view.misfires
    return [sorted((one.s for one in view.misfires), reverse=True)[1]]


def _at_load(view: _View) -> list[float] | str | None:
    return _loads(view, "load_only")


def _at_idle(view: _View) -> list[float] | str | None:
    return _loads(view, "idle_only")


def _loads(view: _View, wanted: str) -> list[float] | str | None:
    misfire = view.misfire()
    found = view.stated("loads_at_misfire")
    if found is None:
        return "state loads_at_misfire" if misfire else None
    # Where misfires were counted is measured: the codes only name the cylinders.
    return [1.0] if found == wanted else None


def _with_misfire(view: _View) -> list[float] | str | None:
    misfire = view.misfire()
    return [misfire] if misfire else None


def _metered(view: _View) -> bool | str:
    found = view.case.vehicle.get("air_metering")
    return "state air_metering" if found is None else found in ("air_meter", "both")


def _rich_at_load(view: _View) -> list[float] | str | None:
    metered = _metered(view)
    if metered is not True:
        return metered or None
    rich = view.any_of(_RICH)
    found = view.load_trims()
    if any(trim < -0.08 for trim in found):
        return [1.0]
    if rich:
        return [rich]
    return None if found else "record the trims at load"


def _normal_at_load(view: _View) -> list[float] | str | None:
    metered = _metered(view)
    if metered is not True:
        return metered or None
    fuel = view.case.vehicle.get("fuel")
    if fuel is None:
        return "state fuel"
    if str(fuel).startswith("diesel") or view.memory.has(*_RICH):
        return None
    found = view.load_trims()
    if not found:
        return "record the trims at load"
    return [1.0] if all(abs(trim) <= 0.05 for trim in found) else None


def _under_and_over(view: _View) -> list[float] | str | None:
    under, over = view.family(*_LOW), view.family(*_HIGH)
    return [under, over] if under and over else None


def _under(view: _View) -> list[float] | str | None:
    under = view.family(*_LOW, _EITHER)
    return [under] if under else None


def _diesel_under(view: _View) -> list[float] | str | None:
    fuel = view.case.vehicle.get("fuel")
    if fuel is None:
        return "state fuel"
    return _under(view) if str(fuel).startswith("diesel") else None


def _catalyst(view: _View) -> list[float] | str | None:
    found = view.best(_ages_catalyst)
    if any(not trim.unusable and trim.total < -0.15 for trim in trims(view.memory)):
        found = 1.0
    if not found:
        own = view.memory.sheet
        before = (read_memory(view.case, one) for one in view.case.of(own.section) if one.date <= own.date)
        found = max((one.s for memory in before for one in memory.present if _ages_catalyst(one)), default=0.0)
    return [found] if found else None


def _ages_catalyst(one: Present) -> bool:
    """Whether a code shows misfire, a rich mixture, or oil that is consumed or thinned with fuel."""
    id = id_of(one.code)
    return id in _MISFIRES or (id is not None and family_by_id(id).group in ("mixture rich", "oil level"))


def _sensors(view: _View) -> list[float] | str | None:
    others = sorted((one for one in view.present if _is_sensors(one)), key=lambda one: (-one.s, one.code))
    if len(others) < 2:
        return None
    view.triggers += others
    return [others[1].s]


def _is_sensors(one: Present) -> bool:
    """Whether a code is of a sensor's circuit."""
    id = id_of(one.code)
    found = family_by_id(id) if id is not None else None
    if found is None or found.kind != "circuit" or found.group == "supply":
        return False
    return any(CAUSES[cause][0] == "sensing" and cause not in _NO_SENSOR for cause, _, _ in found.causes)


def _flood(view: _View) -> list[float] | str | None:
    by_unit: dict[str, float] = {}
    for one in view.memory.present:
        for unit in one.units:
            by_unit[unit] = max(one.s, by_unit.get(unit, 0.0))
    if len(by_unit) < 3:
        return None
    units = sorted(by_unit.values(), reverse=True)[2]
    code = view.any_of(SUPPLY_CODES[1:])
    least = view.limits["fault_memory.frame_voltage_low"].number
    volts = [v for frame in view.memory.frames if (v := frame.value("supply_voltage")) is not None]
    if any(v < least for v in volts):
        return [1.0, units]
    return [code, units] if code else None


def _oil(view: _View) -> list[float] | str | None:
    oil = view.best(lambda one: (id := id_of(one.code)) is not None and family_by_id(id).group in _OIL_GROUPS)
    phasers: dict[str, float] = {}
    for one in view.present:
        if one.code in PATTERNS["timing-codes-with-oil-codes"][0]:
            where = where_of(one.code)
            phasers[where] = max(one.s, phasers.get(where, 0.0))
    second = sorted(phasers.values(), reverse=True)[1] if len(phasers) > 1 else 0.0
    return [max(oil, second)] if oil or second else None


def _both_shafts(view: _View) -> list[float] | str | None:
    best = view.any_of(("P0008", "P0009"))
    for pair in (("P0016", "P0017"), ("P0018", "P0019")):
        least = min(view.memory.has(code) for code in pair)
        if least > 0.0:
            best = max(best, view.any_of(pair) and least)
    return [best] if best else None


def _cold(view: _View) -> list[float] | str | None:
    warm_ups, distance = (view.memory.counters.get(key) for key in ("warm_ups", "distance"))
    if warm_ups is None or distance is None or view.memory.contradiction or distance < 300e3 or warm_ups >= HELD:
        return None
    return [1.0] if warm_ups < view.limits["fault_memory.cold_runner"].number * distance / 100e3 else None


def _alcohol(view: _View) -> list[float] | str | None:
    built = view.case.vehicle.get("built_for_ethanol")
    content = _ethanol(view.case)
    if built is None:
        return "state built_for_ethanol"
    if content is None:
        return "measure the alcohol content of the fuel in the tank"
    return [1.0] if not built and content > 0.25 else None


def _ethanol(case: Case) -> float | None:
    """Return the latest alcohol content of a fuel sample (volume share), None where none was taken."""
    found = None
    for sheet in case.of("fuel_sample"):
        value = sheet.reading("ethanol_fraction")
        if value is not None:
            found = value.value
    return found


_CONDITIONS: Final[Mapping[str, Callable[[_View], list[float] | str | None]]] = {
    "lean-both-banks": _lean_both,
    "lean-one-bank-only": _lean_one,
    "lean-and-several-misfires": _several_misfires,
    "misfire-and-own-coil-code": _own_coil,
    "misfire-and-own-injector-code": _own_injector,
    "misfire-two-neighbours": _neighbours,
    "misfire-one-bank": _one_bank,
    "misfire-at-load-only": _at_load,
    "misfire-at-idle-only": _at_idle,
    "misfire-with-crank-signal-fault": _with_misfire,
    "underboost-and-rich-at-load": _rich_at_load,
    "underboost-mixture-normal-metered": _normal_at_load,
    "under-and-overboost": _under_and_over,
    "underboost-and-overspeed": _under,
    "soot-and-underboost": _diesel_under,
    "catalyst-after-misfire": _catalyst,
    "many-sensors-one-supply": _sensors,
    "low-voltage-flood": _flood,
    "timing-codes-with-oil-codes": _oil,
    "timing-both-shafts-same-way": _both_shafts,
    "cold-runner": _cold,
    "alcohol-in-ordinary-petrol-engine": _alcohol,
}
