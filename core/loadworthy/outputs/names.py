"""Ids as people meet them: what can be asked for, short forms of long ids, and which id somebody meant.

A finding's id ends with its sheet. Where one finding of a rule at a place governs, it goes by the short form without
the sheet; every other one keeps its full id.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from loadworthy.register import Register

#: Figures that every register has.
FIGURES = ("outcome", "plan_class", "demand", "allowed")
#: States of a finding from the one that is meant first to the one that is meant last.
_STATES = ("governs", "carried", "unknown", "history")


def ids(register: Register) -> dict[str, tuple[str, ...]]:
    """Return everything on the register that can be asked for, by family, in the order of the register."""
    short = short_forms(register)
    return {
        "figures": FIGURES,
        "risks": tuple(risk.id for risk in (*register.risks, *register.unlooked)),
        "findings": tuple(short[s.id] for s in register.standings),
        "symptoms": tuple(short[view.id] for view in register.symptoms),
        "ceilings": tuple(view.id for view in register.ceilings),
        "gaps": tuple(dict.fromkeys(gap.id for gap in register.gaps)),
        "required evidence": tuple(row.id for row in register.rows),
        "gates": tuple(gate.id for gate in register.gates),
    }


def short_forms(register: Register) -> Mapping[str, str]:
    """Return the shortest unmistakable form of each finding's and symptom's id.

    Tried in this order: without its sheet, with the sheet's section, with section and day, in full.
    """
    ordered = [s.id for state in _STATES for s in register.standings if s.state == state]
    ordered += [view.id for view in register.symptoms]
    short: dict[str, str] = {}
    claimed: set[str] = set()
    for id in ordered:
        form = next((form for form in _forms(id) if form not in claimed), id)
        claimed.add(form)
        short[id] = form
    return short


def _forms(id: str) -> Iterator[str]:
    stem, _, sheet = id.partition("#")
    section, _, rest = sheet.partition(":")
    yield stem
    if section:
        yield f"{stem}#{section}"
    if rest:
        yield f"{stem}#{section}:{rest[:10]}"


def meant(register: Register, text: str) -> tuple[str, ...]:
    """Return the full ids that a text names: exactly, by a short form, else by its only beginning; empty for none.

    Case does not matter, nor whether words are parted by blanks, hyphens or underscores.
    """
    full: dict[str, None] = {}
    for names in every_id(register).values():
        full.update(dict.fromkeys(names))
    forms = {form: id for id, form in short_forms(register).items()}
    # A rule without places has the id of its own finding; the finding is meant, and tells about the rule.
    if text in forms:
        return (forms[text],)
    if text in full:
        return (text,)
    folded = _folded(text)
    same = {id for id in full if _folded(id) == folded} | {id for form, id in forms.items() if _folded(form) == folded}
    begun = same or ({id for id in full if _folded(id).startswith(folded)} if folded else set())
    return tuple(sorted(begun))


def every_id(register: Register) -> dict[str, tuple[str, ...]]:
    """Return all full ids that have a derivation, also those of declarations, sheets and repairs."""
    catalogue, case = register.catalogue, register.case
    return {
        **ids(register),
        "findings": tuple(s.id for s in register.standings),
        "symptoms": tuple(view.id for view in register.symptoms),
        "causes": tuple(f"{b.cause}@{b.subject}" if b.subject else b.cause for b in register.beliefs),
        "causes in general": tuple(sorted(catalogue.causes)),
        "limits": tuple(limit.id for limit in register.limits),
        "rules": tuple(sorted(catalogue.rules)),
        "quantities": tuple(sorted(catalogue.quantities)),
        "workshop tests": tuple(sorted({*catalogue.tests, *undeclared_tests(register)})),
        "sheets": tuple(sheet.id for sheet in case.sheets),
        "repairs": tuple(repair.id for repair in case.repairs),
        "waivers": tuple(dict.fromkeys(view.waiver.what for view in register.waivers)),
        "plugins": tuple(plugin.id for plugin in register.plugins),
    }


def undeclared_tests(register: Register) -> tuple[str, ...]:
    """Return the tests that lift a ceiling or prove a repair and that no installed plugin declares."""
    named = {view.ceiling.until for view in register.ceilings} | {test for r in register.risks for test in r.retest}
    gaps = {gap.id for gap in register.gaps} | {row.id for row in register.rows}
    return tuple(sorted(named - register.catalogue.tests.keys() - gaps - {""}))


def nearest(register: Register, text: str, most: int = 5) -> tuple[str, ...]:
    """Return the ids most like ``text``, those of the register before those of declarations."""
    from difflib import SequenceMatcher

    short = short_forms(register)
    candidates = dict.fromkeys(name for names in ids(register).values() for name in names)
    candidates.update(dict.fromkeys(short.get(n, n) for names in every_id(register).values() for n in names))
    folded = _folded(text)[:100]
    likeness: list[tuple[float, int, str]] = []
    for order, name in enumerate(candidates):
        ratio = SequenceMatcher(None, folded, _folded(name)[:100]).ratio()
        if ratio >= 0.4:
            likeness.append((-ratio, order, name))
    return tuple(name for _, _, name in sorted(likeness)[:most])


def _folded(text: str) -> str:
    return "".join(" " if char in "-_" else char for char in text.casefold()).strip()
