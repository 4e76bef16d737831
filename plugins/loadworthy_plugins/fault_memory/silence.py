"""What it means that a memory holds no code of a cause: LR = w ** (C E L H).

C is how much of what would have told was supported and complete, E what the memory has been exposed to, L whether full
load was driven, H whether the lists were read. All figures are judgement.
"""

from __future__ import annotations

from math import log, log10
from typing import TYPE_CHECKING, Final

from loadworthy.sdk import NamedTuple, Weight
from loadworthy_plugins.fault_memory.answers import PENDING, STORED
from loadworthy_plugins.fault_memory.code_table import CAUSES, FAMILIES, PARTS
from loadworthy_plugins.fault_memory.memory import ENGINE, READ
from loadworthy_plugins.fault_memory.pointing import Family, family, family_id, fits, holds
from loadworthy_plugins.fault_memory.readiness import COMPRESSION, SPARK

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from loadworthy.sdk import Case
    from loadworthy_plugins.fault_memory.memory import Memory
    from loadworthy_plugins.fault_memory.pointing import Told

GROUP: Final = "silence"
#: Causes that show themselves at full load.
AT_LOAD: Final = frozenset(
    ("low-pressure-fuel-supply-weak", "high-pressure-fuel-pump-weak", "fuel-filter-restricted",
     "charge-air-leak-after-compressor", "compressor-bypass-valve-leaking", "wastegate-not-sealing",
     "wastegate-stuck-closed", "turbocharger-worn", "exhaust-restricted", "charge-cooler-not-cooling", "real-knock",
     "ignition-weak", "ignition-coil-or-lead-weak", "spark-gap-too-wide", "radiator-blocked", "water-pump-weak",
     "gearbox-clutch-pack-slipping", "converter-lock-up-slipping")
)  # fmt: skip
_LOADED: Final = {"yes": 1.0, "no": 0.25}
_UNKNOWN_LOAD: Final = 0.5
_NOT_ASKED: Final = 0.7


class Silence(NamedTuple):
    """The parts of the exponent for one cause, the ratio, and what it weighs on: the parts that no code speaks for."""

    cause: str
    coverage: float
    exposure: float
    load: float
    heard: float
    ratio: float
    at: tuple[str, ...]

    @property
    def exponent(self) -> float:
        """The product of the parts."""
        return self.coverage * self.exposure * self.load * self.heard


def parts(cause: str) -> tuple[str, ...]:
    """Return what a broader name of the table covers, or the cause itself."""
    return PARTS.get(cause, (cause,))


def monitor_of(one: Family, memory: Memory, case: Case) -> tuple[str, bool]:
    """Return the monitor that would set a code of a family, and whether its unit was read at all."""
    compression = memory.compression
    if compression is None:
        compression = str(case.vehicle.get("fuel") or "").startswith("diesel")
    names = COMPRESSION if compression else SPARK
    if one.group.startswith("lambda"):
        return names[5], True
    if one.system in ("mixture", "injectors", "fuel supply"):
        return "fuel system", True
    if one.system in ("misfire", "ignition"):
        return "misfire", True
    if one.system in ("transmission", "clutch"):
        return "components", memory.gearbox_read
    if one.system == "boost":
        return ("boost pressure" if compression else "components"), True
    if one.system == "particulate filter":
        return (names[6] if compression else names[4]), True
    at = {"catalyst": 0, "purge": 2, "EGR": 7}.get(one.system)
    return (names[at] or "components" if at is not None else "components"), True


def is_complete(one: Family, memory: Memory, case: Case) -> bool:
    """Whether the monitor of a family is supported and complete; of each code a status list may say so too."""
    name, read = monitor_of(one, memory, case)
    if not read or ENGINE not in memory.statuses or any(family_id(code) == one.id for code in memory.untested):
        return False
    if name in memory.supported:
        return name in memory.complete
    return any(family_id(code) == one.id for code in memory.passed)


def coverage(memory: Memory, case: Case) -> dict[str, float]:
    """Return per cause how much of what would have told of it was supported and complete, by logs of the weights."""
    total: dict[str, float] = {}
    covered: dict[str, float] = {}
    for id in FAMILIES:
        one = family(id)
        if not fits(one, case):
            continue
        complete = is_complete(one, memory, case)
        for cause, ratio, when in one.causes:
            if ratio > 1.0 and holds(when, case):
                total[cause] = total.get(cause, 0.0) + log(ratio)
                covered[cause] = covered.get(cause, 0.0) + log(ratio) * complete
    return {cause: covered[cause] / total[cause] for cause in total}


def silence(case: Case, memory: Memory, told: Iterable[Told]) -> Iterator[Silence]:
    """Yield what the missing codes say of each cause that no present code speaks for."""
    spoken = {
        part
        for one in told
        for id, ratio, when in one.family.causes
        if ratio > 1.0 and one.s > 0.0 and holds(when, case)
        for part in parts(id)
    }
    stored, pending = memory.states[STORED], memory.states[PENDING]
    heard = 0.0
    if stored in READ:
        heard = 1.0 if pending in READ else _NOT_ASKED if pending == "not_asked" else 0.0
    shares = coverage(memory, case) if heard > 0.0 else {}
    load = _LOADED.get(str(memory.sheet.get("full_load_since_clear")), _UNKNOWN_LOAD)
    for cause, (_, weight, _) in CAUSES.items():
        unspoken = tuple(part for part in parts(cause) if part not in spoken)
        if weight == 1.0 or not unspoken:
            continue
        share = shares.get(cause, 0.0)
        at_load = load if cause in AT_LOAD else 1.0
        exponent = share * memory.age.exposure * at_load * heard
        if exponent > 0.0:
            at = (cause,) if unspoken == parts(cause) else unspoken
            yield Silence(cause, share, memory.age.exposure, at_load, heard, weight**exponent, at)


def silent_weights(found: Iterable[Silence]) -> tuple[Weight, ...]:
    """Return the weights of what is silent."""
    return tuple(Weight(cause, None, 10.0 * log10(one.ratio), GROUP) for one in found for cause in one.at)
