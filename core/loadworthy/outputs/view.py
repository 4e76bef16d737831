"""A register as one reader sees it: in his units, with short ids, and with facts in whole sentences."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from loadworthy.outputs.names import short_forms
from loadworthy.outputs.words import at, grade_word, in_prose, proofs, shown, source_text, whole

if TYPE_CHECKING:
    from collections.abc import Iterable

    from loadworthy.beliefs import Standing
    from loadworthy.decide import Fact
    from loadworthy.register import Register

_PROVE = "repair and prove: "


class View:
    """Words for one register. ``system`` is ``si`` or ``us``."""

    __slots__ = ("_short", "register", "system")

    def __init__(self, register: Register, system: str) -> None:
        if system not in ("si", "us"):
            raise ValueError(f'unit system is "si" or "us", not {system!r}')
        self.register = register
        self.system = system
        self._short = short_forms(register)

    def id(self, full: str) -> str:
        """Return the shortest id that means the same."""
        return self._short.get(full, full)

    def prose(self, text: str) -> str:
        """Return free text with its quantities in the reader's units."""
        return in_prose(text, self.system)

    def shown(self, value: object, unit: str, digits: int = 3) -> str:
        """Return a value in the reader's units."""
        return shown(value, unit, self.system, digits)

    def torque(self, value: float) -> str:
        """Return a torque with its unit."""
        return shown(value, "torque", self.system)

    def cell(self, value: float, kind: str) -> str:
        """Return a value for a table whose head names the unit."""
        return whole(value, kind, self.system)

    def tests(self, ids: Iterable[str]) -> str:
        """Return workshop tests in words."""
        return self.prose(proofs(ids, self.register.catalogue))

    def source(self, text: str, mark: str) -> str:
        """Return the source of a number with its mark."""
        return f"{source_text(text, mark, self.system)} ({mark})"

    def finding(self, one: Standing) -> str:
        """Return a finding with its grade, in words."""
        text = one.finding.text or one.finding.rule
        more = [word for word, flag in (("borderline", one.borderline), ("to be accepted", one.accept)) if flag]
        if one.state == "carried":
            more.append("measured again, but not repaired and proven")
        behind = f" ({', '.join(more)})" if more else ""
        return self.prose(f"{grade_word(one.grade)}: {text}{behind}")

    def fact(self, fact: Fact, *, brief: bool = True) -> str:
        """Return a deciding fact in words: with the speed where torque is short; ``brief`` leaves out lists of ids."""
        allowed = self.register.allowed
        if fact.code == "ceiling" and allowed.short_at:
            i = min(allowed.short_at, key=lambda i: (allowed.torque[i] - allowed.plan[i], i))
            return (
                f"{self.torque(allowed.torque[i])} is allowed at {self.shown(allowed.speeds[i], 'rotation')} where "
                f"the plan asks for {self.torque(allowed.plan[i])}"
            )
        if fact.code == "no gain" and brief:
            words, _, names = fact.text.partition(": ")
            count = names.count(", ") + 1
            return f"{words} ({count} ceiling{'' if count == 1 else 's'}, below)"
        if fact.code in ("risk", "person"):
            risk = next((risk for risk in self.register.risks if risk.id == fact.id), None)
            if risk is not None:
                danger = "to persons" if fact.code == "person" else "at the planned load"
                return f"{risk.level} risk {danger}: {risk.text}{at(risk.subject)}"
        return self.prose(fact.text)

    def change(self, text: str) -> str:
        """Return what would change the outcome, with tests in words."""
        known = self.register.catalogue.tests
        test = text.removeprefix(_PROVE)
        if test != text and test in known:
            return f"repair, proven by {self.tests((test,))}"
        words, _, test = text.rpartition(" (")
        if words and test == f"{words})":
            return words
        return self.tests((test[:-1],)) if words and test[:-1] in known else self.prose(text)

    def allowed(self, i: int) -> str:
        """Return the allowed torque at one speed as a cell: the plan where nothing cuts, words where it is unknown."""
        allowed = self.register.allowed
        most = allowed.torque[i]
        cut = self.cell(most, "torque") if isfinite(most) and most < allowed.plan[i] else ""
        if self.unknown_at(i):
            return f"as received, most {cut}" if cut else "as received"
        return cut or "as planned"

    def unknown_at(self, i: int) -> tuple[str, ...]:
        """Return the hard ceilings that are known only in words at one speed."""
        return tuple(
            view.id for view in self.register.ceilings if view.hard and (not view.torque or view.torque[i] is None)
        )
