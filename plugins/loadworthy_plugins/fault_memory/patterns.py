"""Patterns of codes and readings that say more together than each alone. Each is an evidence group of its own.

A pattern holds where every conjunct does. Its factor counts to the power of the least conjunct, where a conjunct of
codes is the largest exponent that satisfies it and a measured one is 1. What lacks its data does not hold.
"""

from __future__ import annotations

from math import log10
from typing import TYPE_CHECKING, Final

from loadworthy.sdk import NamedTuple, Weight
from loadworthy_plugins.fault_memory.code_table import CAUSES, PATTERNS
from loadworthy_plugins.fault_memory.pointing import SUPPLY_CODES, holds, place, trims, where_of
from loadworthy_plugins.fault_memory.pointing import family as family_by_id
from loadworthy_plugins.fault_memory.pointing import family_id as id_of
from loadworthy_plugins.shared_layout import banks

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from loadworthy.sdk import Case, Limits
    from loadworthy_plugins.fault_memory.memory import Memory, Present

_UNDER: Final = ("p0299", "p2263")
_OVER: Final = ("p0234", "p226b", "p2263")
_RICH: Final = ("P0172", "P0175", "P2178", "P2180", "P2192", "P2194")
_OIL_GROUPS: Final = ("oil pressure", "oil level", "oil temperature")
_SENSING: Final = ("circuit",)


class Pattern(NamedTuple):
    """A pattern that holds: its exponent, the codes that triggered it, its reason and its weights."""

    id: str
    power: float
    codes: tuple[str, ...]
    reason: str
    weights: tuple[Weight, ...]


class _View:
    """What the conditions of patterns ask of a reading."""

    def __init__(self, case: Case, memory: Memory, limits: Limits) -> None:
        self.case = case
        self.memory = memory
        self.limits = limits
        self.present = memory.present
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
        return self.family("p0301", "p0300")

    @property
    def two_banks(self) -> bool | None:
        known = banks(self.case.vehicle)
        return len(known) == 2 if known else None

    def load_trim(self) -> float | None:
        """Return the usable total trim at load that lies farthest from zero."""
        found = [trim.total for trim in trims(self.memory) if trim.region == "load" and not trim.unusable]
        return max(found, key=abs, default=None)

    def cylinders(self) -> list[int]:
        return sorted({int(where_of(one.code)) for one in self.misfires})

    def share(self, key: str) -> str | None:
        found = self.memory.sheet.get(key)
        return str(found) if found is not None else None


def patterns(case: Case, memory: Memory, limits: Limits) -> Iterator[Pattern | str]:
    """Yield the patterns that hold, and for those that lack their data a sentence that says what to write."""
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
                yield f"{id.replace('-', ' ')}: {found}"
            continue
        elif found is None:
            continue
        else:
            conjuncts += found
        power = min(conjuncts, default=0.0)
        if power > 0.0:
            codes = tuple(dict.fromkeys(one.shown for one in view.triggers))
            yield Pattern(id, power, codes, reason, tuple(_weights(id, multiply, power, view)))


def _weights(id: str, multiply: Iterable[tuple[str, float, str]], power: float, view: _View) -> Iterator[Weight]:
    named = _named_cylinders(view)
    for cause, factor, when in multiply:
        if not holds(when, view.case) or factor == 1.0:
            continue
        db = 10.0 * power * log10(factor)
        subjects = named if CAUSES[cause][2] == "cylinder" and named else (None,)
        for subject in subjects:
            yield Weight(cause, subject, db, f"pattern {id}")


def _named_cylinders(view: _View) -> tuple[str | None, ...]:
    found = []
    for one in view.triggers:
        id = id_of(one.code)
        subject = place(family_by_id(id), one.code, view.case) if id is not None else None
        if subject is not None and subject.startswith("cylinder "):
            found.append(subject)
    return tuple(dict.fromkeys(found))


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
            (subject,) = missing
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
    sides = {i for i, bank in enumerate(banks(view.case.vehicle)) for n in numbers if n in bank}
    if len(sides) != 1:
        return None
    view.triggers += view.misfires
    return [min(one.s for one in view.misfires)]


def _at_load(view: _View) -> list[float] | str | None:
    return _loads(view, "load_only")


def _at_idle(view: _View) -> list[float] | str | None:
    return _loads(view, "idle_only")


def _loads(view: _View, wanted: str) -> list[float] | str | None:
    misfire = view.misfire()
    if not misfire:
        return None
    found = view.share("loads_at_misfire")
    if found is None:
        return "state loads_at_misfire"
    return [misfire] if found == wanted else None


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
    trim = view.load_trim()
    if trim is not None and trim < -0.08:
        return [1.0]
    if rich:
        return [rich]
    return "record the trims at load" if trim is None else None


def _normal_at_load(view: _View) -> list[float] | str | None:
    metered = _metered(view)
    if metered is not True:
        return metered or None
    if str(view.case.vehicle.get("fuel") or "diesel").startswith("diesel") or view.memory.has(*_RICH):
        return None
    trim = view.load_trim()
    if trim is None:
        return "record the trims at load"
    return [1.0] if abs(trim) <= 0.05 else None


def _under_and_over(view: _View) -> list[float] | str | None:
    under, over = view.family("p0299"), view.family("p0234")
    return [under, over] if under and over else None


def _under(view: _View) -> list[float] | str | None:
    under = view.family(*_UNDER)
    return [under] if under else None


def _diesel_under(view: _View) -> list[float] | str | None:
    fuel = view.case.vehicle.get("fuel")
    if fuel is None:
        return "state fuel"
    return _under(view) if str(fuel).startswith("diesel") else None


def _catalyst(view: _View) -> list[float] | str | None:
    found = view.best(
        lambda one: (
            (id := id_of(one.code)) is not None
            and (family_by_id(id).system == "misfire" or family_by_id(id).group in ("mixture rich", "oil level"))
        )
    )
    if found:
        return [found]
    rich = [trim.total for trim in trims(view.memory) if not trim.unusable and trim.total < -0.15]
    return [1.0] if rich else None


def _sensors(view: _View) -> list[float] | str | None:
    others = sorted(
        (
            one
            for one in view.present
            if (id := id_of(one.code)) is not None
            and family_by_id(id).kind in _SENSING
            and family_by_id(id).group != "supply"
        ),
        key=lambda one: (-one.s, one.code),
    )
    if len(others) < 2:
        return None
    view.triggers += others
    return [others[1].s]


def _flood(view: _View) -> list[float] | str | None:
    units = {unit for one in view.present for unit in one.units}
    if len(units) < 3:
        return None
    code = view.any_of(SUPPLY_CODES[1:])
    least = view.limits["fault_memory.frame_voltage_low"].number
    volts = [v for frame in view.memory.frames if (v := frame.value("supply_voltage")) is not None]
    if any(v < least for v in volts):
        return [1.0]
    if code:
        return [code]
    return None


def _oil(view: _View) -> list[float] | str | None:
    oil = view.best(lambda one: (id := id_of(one.code)) is not None and family_by_id(id).group in _OIL_GROUPS)
    if oil:
        return [oil]
    phasers: dict[str, float] = {}
    for one in view.present:
        if one.code in PATTERNS["timing-codes-with-oil-codes"][0]:
            where = where_of(one.code)
            phasers[where] = max(one.s, phasers.get(where, 0.0))
    return [sorted(phasers.values(), reverse=True)[1]] if len(phasers) > 1 else None


def _both_shafts(view: _View) -> list[float] | str | None:
    best = view.any_of(("P0008", "P0009"))
    for pair in (("P0016", "P0017"), ("P0018", "P0019")):
        least = min(view.memory.has(code) for code in pair)
        if least > 0.0:
            best = max(best, view.any_of(pair) and least)
    return [best] if best else None


def _cold(view: _View) -> list[float] | str | None:
    warm_ups, distance = (view.memory.counters.get(key) for key in ("warm_ups", "distance"))
    if warm_ups is None or distance is None or view.memory.contradiction or distance < 300e3:
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
        value = sheet.reading("ethanol_content")
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
