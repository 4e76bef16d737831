"""What codes point to: each family with its place and exponent, and the weights that follow for every cause.

A factor counts as ``weight ** (exponent of the status x modifiers)``. Weights, modifiers and exponents are judgement.
"""

from __future__ import annotations

from math import log10
from typing import TYPE_CHECKING, Final

from loadworthy.sdk import NamedTuple, Weight
from loadworthy_plugins.fault_memory.code_table import CAUSES, CODES, FAMILIES, GLOBAL_GROUPS
from loadworthy_plugins.fault_memory.codes import ELECTRICAL
from loadworthy_plugins.fault_memory.outcomes import MISFIRE_MEAN, bank_of, has_run, margin, named, signed
from loadworthy_plugins.physics.middle import median
from loadworthy_plugins.shared_layout import banks, cylinders
from loadworthy_plugins.shared_results import number

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from loadworthy.sdk import Case, Limits
    from loadworthy_plugins.fault_memory.memory import Memory, Present

SUPPLY_CODES: Final = ("P0560", "P0561", "P0562")
#: A result beyond its limit without a code, and misfire counts far above the others' (judgement).
UNTOLD_EXPONENT: Final = 0.35
#: Exponent that a trim reaches where many diagnostics would set a code (judgement).
TRIM_EXPONENT: Final = 0.5
#: Warm enough for trims (K), and distance since erasing from which they are learned (m).
WARM: Final = 343.15
LEARNED: Final = 30e3
_HALF: Final = 0.5
_REGIONS: Final = {
    "idle": ("P2187", "P2188"),
    "cruise": ("P2177", "P2178"),
    "load": ("P2191", "P2192"),
    "unknown": ("P0171", "P0172"),
}
_FOLLOWERS: Final = ("consequence", "pointer")


class Family(NamedTuple):
    """A family of codes that share causes, as the table has it."""

    id: str
    meaning: str
    system: str
    kind: str
    fuel: str
    aspiration: str
    severity: str
    ceiling: str
    group: str
    why: str
    tests: tuple[str, ...]
    causes: tuple[tuple[str, float, str], ...]
    note: str


class Told(NamedTuple):
    """One family seen at one place: ``s`` its exponent, ``codes`` what told it, ``source`` code, result, trim."""

    family: Family
    subject: str | None
    s: float
    codes: tuple[Present, ...]
    source: str
    text: str

    @property
    def meaning(self) -> str:
        """What its codes mean, as a part of a longer sentence, with the cylinder that they name."""
        return clause(self.family.meaning.replace("cylinder n", self.subject or "cylinder n"))


def clause(sentence: str) -> str:
    """Return a sentence of the table as a part of a longer one; what begins with an acronym keeps its capital.

    >>> clause("Misfire on cylinder 3."), clause("EGR flow too low.")
    ('misfire on cylinder 3', 'EGR flow too low')
    """
    text = sentence.rstrip(".")
    return text[:1].lower() + text[1:] if text[1:2].islower() else text


def family(id: str) -> Family:
    """Return a family of the table."""
    return Family(id, *FAMILIES[id])


def family_id(code: str) -> str | None:
    """Return the family of a code, None where the table has none; P0156 to P0161 are read as P0136 is."""
    found = CODES.get(code)
    if found is not None:
        return str(found[0])
    return "p0136" if "P0156" <= code <= "P0161" else None


def where_of(code: str) -> str:
    """Return where the table places a code: a cylinder's number, a bank, a coil's letter, or other words."""
    if "P0156" <= code <= "P0161":
        return "b2"
    found = CODES.get(code)
    return str(found[1]) if found is not None else ""


def fits(one: Family, case: Case) -> bool:
    """Whether a family can belong to this vehicle; what nobody stated fits."""
    fuel, induction = str(case.vehicle.get("fuel") or ""), case.vehicle.get("induction")
    diesel = fuel.startswith("diesel")
    if fuel and one.fuel != "any" and diesel != (one.fuel == "diesel"):
        return False
    return not (one.aspiration == "turbo" and induction == "none")


def place(one: Family, code: str, case: Case) -> str | None:
    """Return the subject of a code: a cylinder, a bank, or None for the whole engine."""
    where = where_of(code)
    if where.isdigit() and one.group in ("injector n", "misfire"):
        return _cylinder(int(where), case)
    if one.group == "ignition n" and len(where) == 1:
        for row in case.vehicle.get("coil_map") or ():
            if row.get("coil") == where:
                return _cylinder(int(number(row.get("cylinder")) or 0), case)
        return None
    known = banks(case.vehicle)
    for word in where.replace("bank ", "b").split():
        if word in ("b1", "b2") and len(known) > 1:
            return f"bank {word[1]}"
    return None


def _cylinder(n: int, case: Case) -> str | None:
    own = cylinders(case.vehicle)
    return f"cylinder {n}" if len(own) != 1 else None


def told_by_codes(case: Case, memory: Memory) -> tuple[list[Told], list[Present]]:
    """Return the families of the codes that are present, and the codes without a family that fits."""
    found: dict[tuple[str, str | None], list[Present]] = {}
    unknown = []
    for one in memory.present:
        id = family_id(one.code)
        if id is None or not fits(family(id), case):
            unknown.append(one)
        else:
            found.setdefault((id, place(family(id), one.code, case)), []).append(one)
    told = []
    for (id, subject), codes in sorted(found.items(), key=lambda item: (item[0][0], item[0][1] or "")):
        s = max(code.s for code in codes)
        told.append(Told(family(id), subject, s, tuple(codes), "code", _said(codes)))
    return _presumed(told, case), unknown


def _presumed(told: list[Told], case: Case) -> list[Told]:
    """One misfiring cylinder and one coil code of unknown cylinder: presume that they are the same."""
    coils = [one for one in told if one.family.group == "ignition n" and one.subject is None]
    missing = {one.subject for one in told if one.family.id == "p0301" and one.subject}
    if len(coils) != 1 or len(coils[0].codes) != 1 or len(missing) != 1 or case.vehicle.get("coil_map"):
        return told
    (subject,) = missing
    text = f"{coils[0].text}; taken as the coil of {subject}, the only one that misfires: state coil_map"
    return [one._replace(subject=subject, text=text) if one is coils[0] else one for one in told]


def _said(codes: Iterable[Present]) -> str:
    parts = []
    for one in codes:
        state = one.state.replace("_", " ")
        units = ", ".join(one.units)
        more = "; sources differ" if one.differing else ""
        more += "; failed and not tested since erasing contradict each other" if one.contradictory else ""
        more += "; intermittent or healed: ask when it came, wiggle test" if one.intermittent else ""
        parts.append(f"{one.shown} {state} ({units}{more})")
    return ", ".join(parts)


def told_by_results(case: Case, memory: Memory, limits: Limits) -> Iterator[Told]:
    """Yield families whose on-board test result lies beyond its limit without a code, or whose misfires stand out."""
    present = {
        (id, place(family(id), one.code, case)) for one in memory.present if (id := family_id(one.code)) is not None
    }
    counts = misfire_counts(memory)
    for one in memory.outcomes:
        code, name = named(one)
        id = family_id(code) if code else None
        if id is None or not fits(family(id), case) or not has_run(one):
            continue
        subject = _place_of_result(family(id), code, one.monitor, case)
        far = margin(one)
        coded = any(held == id and (subject is None or at in (None, subject)) for held, at in present)
        if far is not None and far < 0.0 and not coded:
            text = (
                f"test {one.monitor:02X} {one.test:02X} ({name}) is beyond its limit (margin {far:.3f}), no code is set"
            )
            yield Told(family(id), subject, UNTOLD_EXPONENT, (), "result", text)
        elif one.test == MISFIRE_MEAN and one.monitor in counts and code not in {p.code for p in memory.present}:
            count = counts[one.monitor]
            others = [c for m, c in counts.items() if m != one.monitor]
            least = limits["fault_memory.misfire_mean_watch"].number
            if others and count > least and count > 5.0 * median(others):
                text = f"{name}: mean count {count:g}, the others' median {median(others):g}; no code is set"
                yield Told(family(id), subject, UNTOLD_EXPONENT, (), "result", text)


def _place_of_result(one: Family, code: str, id: int, case: Case) -> str | None:
    """Return the subject of a result: the monitor's cylinder or bank, None where its id does not tell."""
    if one.group == "misfire":
        return place(one, code, case)
    bank = bank_of(id)
    return f"bank {bank}" if bank is not None and 1 < len(banks(case.vehicle)) >= bank else None


def misfire_counts(memory: Memory) -> Mapping[int, float]:
    """Return the mean misfire count by monitor of each cylinder; a test that never ran has none."""
    return {
        one.monitor: float(signed(one.scaling, one.value))
        for one in memory.outcomes
        if one.test == MISFIRE_MEAN and 0xA2 <= one.monitor <= 0xAD and has_run(one) and one.scaling is not None
    }


class Trim(NamedTuple):
    """One total trim: region, bank, total and product as shares, and why it may not be used (empty: it may)."""

    region: str
    bank: int | None
    total: float
    product: float
    unusable: str


def trims(memory: Memory) -> tuple[Trim, ...]:
    """Return the trims of a sheet: short and long added; the product differs by less than a point below 15 %.

    >>> round(total_trim(0x92 / 128 - 1, 0x8E / 128 - 1)[0], 4), round(total_trim(18 / 128, 14 / 128)[1], 4)
    (0.25, 0.2654)
    """
    found = []
    for row in memory.sheet.get("trims") or ():
        short, long = number(row.get("short")), number(row.get("long"))
        if short is None and long is None:
            continue
        total, product = total_trim(short or 0.0, long or 0.0)
        coolant, bank = number(row.get("coolant")), number(row.get("bank"))
        why = ""
        if coolant is None or row.get("closed_loop") is None:
            why = "coolant temperature or closed loop not stated"
        elif coolant < WARM or not row.get("closed_loop"):
            why = "not warm, or not in closed loop"
        elif memory.counters.get("distance") is None or memory.counters["distance"] < LEARNED:
            why = "less than 30 km since erasing, or unknown: still learning"
        found.append(Trim(str(row.get("region")), int(bank) if bank is not None else None, total, product, why))
    return tuple(found)


def total_trim(short: float, long: float) -> tuple[float, float]:
    """Return total trim as sum and as product of short and long trim (shares)."""
    return short + long, (1.0 + short) * (1.0 + long) - 1.0


def trim_exponent(total: float, start: float = 0.10, full: float = 0.25) -> float:
    """Return the exponent of a total trim: 0 up to ``start``, half a code from ``full`` on (judgement).

    >>> round(trim_exponent(0.19), 3), round(8.0 ** trim_exponent(0.19), 3)
    (0.3, 1.866)
    """
    return TRIM_EXPONENT * min(1.0, max(0.0, (abs(total) - start) / (full - start)))


def told_by_trims(case: Case, memory: Memory, limits: Limits) -> Iterator[Told]:
    """Yield the families that trims would set a code of, were they larger; none where a code of the group is there."""
    groups = {family(id).group for one in memory.present if (id := family_id(one.code)) is not None}
    start, full = (limits[f"fault_memory.trim_code_{name}"].number for name in ("from", "full"))
    strongest: dict[tuple[str, str | None], Told] = {}
    for trim in trims(memory):
        code = _REGIONS.get(trim.region, _REGIONS["unknown"])[trim.total < 0.0]
        id = family_id(code)
        s = trim_exponent(trim.total, start, full)
        if trim.unusable or s <= 0.0 or id is None:
            continue
        one = family(id)
        if one.group in groups or not fits(one, case):
            continue
        subject = f"bank {trim.bank}" if trim.bank and len(banks(case.vehicle)) > 1 else None
        at = f", bank {trim.bank}" if trim.bank else ""
        more = f" (product {100 * trim.product:+.1f} %)" if abs(trim.total) > 0.15 else ""
        text = f"total trim {100 * trim.total:+.1f} % at {trim.region}{at}{more}, no code is set"
        told = Told(one, subject, s, (), "trim", text)
        held = strongest.get((id, subject))
        if held is None or (told.s, told.text) > (held.s, held.text):
            strongest[id, subject] = told
    yield from strongest.values()


# Weights -------------------------------------------------------------------------------------------------------------


def supply_suspect(memory: Memory, lowest: float) -> str:
    """Say why circuits count half: the supply was low; empty: it was not, as far as is known."""
    codes = [one.code for one in memory.present if one.code in SUPPLY_CODES]
    if codes:
        return f"{', '.join(codes)} present"
    volts = [v for frame in memory.frames if (v := frame.value("supply_voltage")) is not None and v < lowest]
    return f"{min(volts):.1f} V in a freeze frame" if volts else ""


def modifier(one: Family, code: Present | None, cause: str, memory: Memory, supply: str) -> float:
    """Return the factor on the exponent for one cause of one code, None: of a result or trim (judgement)."""
    factor = 1.0
    network = code is not None and code.code.startswith("U")
    if supply and one.group != "supply" and (one.kind in ("circuit", "correlation") or network):
        factor *= _HALF
    types = code.failure_types if code is not None else ()
    electrical = bool(types) and all(kind >> 4 == ELECTRICAL and kind != 0x10 for kind in types)
    if electrical and one.kind != "circuit" and CAUSES[cause][0] == "physical":
        factor *= _HALF
    erased = code is not None and code.code in ("P0603", "P0315")
    if erased and memory.age.kind == "recent" and cause != "memory-recently-cleared":
        factor *= _HALF
    return factor


def exponent(told: Told, cause: str, memory: Memory, supply: str) -> float:
    """Return the exponent for one cause: that of the code of the family that says most."""
    if not told.codes:
        return told.s * modifier(told.family, None, cause, memory, supply)
    return max(code.s * modifier(told.family, code, cause, memory, supply) for code in told.codes)


def group_of(one: Family) -> str:
    """Return the evidence group of a family: one that other checks read too, or one of this reading alone."""
    return GLOBAL_GROUPS.get(one.group, one.group)


def holds(when: str, case: Case) -> bool:
    """Whether the condition of one entry of the table is known to hold."""
    return not when or (when == "bypass valve vents to atmosphere" and case.vehicle.get("bypass_vents") is True)


def places_of(told: Told, cause: str, case: Case) -> tuple[str | None, ...]:
    """Return at which subjects a cause is meant: those of a bank's cylinders where the code names a bank."""
    kind = CAUSES[cause][2]
    if told.subject is None or kind not in ("bank", "cylinder"):
        return (None,)
    if kind == "cylinder" and told.subject.startswith("bank "):
        known = banks(case.vehicle)
        return tuple(f"cylinder {n}" for n in known[int(told.subject.removeprefix("bank ")) - 1])
    return (told.subject,)


def weights_of(told: Told, all_told: Iterable[Told], case: Case, memory: Memory, supply: str) -> tuple[Weight, ...]:
    """Return the weights of one family. What only reports another fault shares that fault's group: it counts once."""
    leaders = [one for one in all_told if one.family.kind not in _FOLLOWERS and one is not told]
    found = []
    for cause, ratio, when in told.family.causes:
        if not holds(when, case):
            continue
        power = exponent(told, cause, memory, supply)
        if power <= 0.0 or ratio == 1.0:
            continue
        db = 10.0 * power * log10(ratio)
        group = group_of(told.family)
        if told.family.kind in _FOLLOWERS:
            group = next((group_of(one.family) for one in leaders if _speaks(one, cause)), group)
        found += [Weight(cause, subject, db, group) for subject in places_of(told, cause, case)]
    return tuple(found)


def _speaks(told: Told, cause: str) -> bool:
    return any(id == cause and ratio > 1.0 for id, ratio, _ in told.family.causes)
