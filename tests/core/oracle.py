"""The method once more, in plain Python and straight from its text: what ``assess`` is compared with.

Shares no step with the core. It takes what plugins declare and return, and computes standings, probabilities (in
``oracle_evidence``), ranks, allowed torque and the outcome in the simplest way, however slow. House settings, waivers
and variants are left out.
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import Any

from oracle_evidence import GRADES, Evidence

CLASSES = ("none", "mild", "strong", "extreme")
HAZARDS = {"none": (0.0, 1), "rare": (0.001, 2), "slow": (0.02, 2), "load": (0.05, 4), "heat": (0.05, 5),
           "speed": (0.05, 6), "sudden": (0.15, 3), "already failing": (0.60, 2)}  # fmt: skip
LOSS = {1: 30000.0, 2: 8000.0, 3: 1500.0, 4: 300.0}
MATRIX = ("high high serious medium", "high high serious medium", "high serious medium low",
          "serious medium medium low", "medium medium medium low")  # fmt: skip
LEVELS = ("high", "serious", "medium", "low")
ROUNDING = 1e-9


def phi(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def h_plan(hazard: str, ratio: float) -> float:
    h0, m = HAZARDS[hazard]
    return 1.0 - (1.0 - h0) ** (ratio**m)


class Oracle(Evidence):
    """Adds consequence, ceilings, required evidence and outcome."""

    # Sections 5 and 6: consequence, level, rank

    def at(self, quantity: str, i: int, torque: float, which: str = "nominal") -> float:
        assert self.demand is not None
        xs, ys = self.demand.torque[i], getattr(self.demand.quantities[quantity], which)[i]
        a = next(a for a in range(len(xs) - 1) if torque <= xs[a + 1] + ROUNDING and xs[a + 1] > xs[a])
        return float(ys[a] + (ys[a + 1] - ys[a]) * (torque - xs[a]) / (xs[a + 1] - xs[a]))

    @cached_property
    def pairs(self) -> list[tuple[int, float, float]]:
        """(index of speed, plan, base) where base is above a fifth of its peak."""
        d = self.demand
        if d is None or d.base is None:
            return []
        return [(i, p, b) for i, (p, b) in enumerate(zip(d.plan, d.base, strict=True)) if b > 0.2 * max(d.base)]

    def unknown_ratio(self) -> float:
        return max(1.3, *(p / b for _, p, b in self.pairs)) if self.pairs else 1.6

    def ratio(self, driver: str) -> float:
        if driver == "none":
            return 1.0
        return max((self.at(driver, i, p) / self.at(driver, i, b) for i, p, b in self.pairs), default=1.6)

    def raised(self) -> list[int]:
        """The speeds at which the plan asks for more than base."""
        plan, base = (self.demand.plan, self.demand.base or [0.0] * 99) if self.demand else ((), ())
        return [i for i, p in enumerate(plan) if p > base[i] * (1.0 + ROUNDING)]

    def capacity(self, one: Any) -> tuple[float, float]:
        """P and P_fail."""
        cause, d = self.cat.causes[one.cause], self.demand
        if one.value is None or d is None:
            p = max(cause.prior, 0.05)
            return p, p * h_plan(cause.hazard, self.unknown_ratio())
        found = []
        for i in self.raised():
            low, load, high = (
                self.at(one.quantity, i, d.plan[i], w) * one.use_factor for w in ("low", "nominal", "high")
            )
            u = math.hypot((high - low) / 4.0, one.u)
            p = phi((load - one.value) / u) if u else float(load > one.value)
            found.append((p, p * h_plan(cause.hazard, max(1.0, load / one.value))))
        return max(p for p, _ in found), max(f for _, f in found)

    def risks(self) -> list[dict[str, Any]]:
        keys = {key for c in self.cat.causes.values() if not c.capacity for key in self.places(c.id, None)}
        for r in self.runs:
            keys |= {key for key, _, _ in self.weights(r)} | {k for name in r.finding.names for k in self.places(*name)}
        keys |= {key for symptom in self.symptoms for key, _ in self.candidates(symptom)}
        out = [{**self.belief(key), "capacity": False} for key in keys]
        for one in self.of("Capacity"):
            judged = self.demand is None or bool(self.raised())
            p, fail = self.capacity(one) if judged else (0.0, 0.0)
            out.append({"key": (one.cause, one.subject), "p": p, "fail": fail, "capacity": True, "active": judged})
        for risk in out:
            cause = self.cat.causes.get(risk["key"][0])
            hazard, driver, severity = (cause.hazard, cause.driver, cause.severity) if cause else ("load", "torque", 3)
            risk.setdefault("fail", risk["p"] * h_plan(hazard, self.ratio(driver)))
            row = sum(risk["fail"] < edge for edge in (0.1, 0.01, 0.001, 1e-6))
            risk["level"], risk["loss"] = MATRIX[row].split()[severity - 1], risk["fail"] * LOSS[severity]
            risk["person"] = severity == 1 or bool(cause and cause.person)
        return sorted(out, key=lambda r: (LEVELS.index(r["level"]), not r["person"], -r["loss"], -r["p"],
                                          r["key"][0], r["key"][1] or ""))  # fmt: skip

    # Section 7: ceilings

    def in_force(self) -> list[tuple[str, str, Any]]:
        """(origin, quantity, value) of every hard ceiling."""
        at = {st.key: st for st in self.stands}
        live = {
            k
            for k, st in at.items()
            if st.stands and st.grade != "clean" and (st.state, st.grade) != ("carried", "note")
        }
        own = [c for c in self.of("Ceiling") if c.kind == "hard" and (c.finding not in at or c.finding in live)]
        out: list[tuple[str, str, Any]] = [(c.origin, c.quantity, c.value) for c in own]
        out += [("fault", "", 0.0) for st in self.stands if st.stands and st.grade == "stop"]
        out += [("fault", "", "as_received") for st in self.stands
                if st.stands and st.grade == "fix_first" and st.key not in {c.finding for c in own}]  # fmt: skip
        out += [("gap", "", "as_received") for c in self.of("Capacity") if c.value is None]
        return out + [("gap", "", "as_received") for row in self.rows if row.ceiling and row.id in self.missing()]

    def torque(self, quantity: str, value: Any, i: int) -> float:
        d = self.demand
        assert d is not None
        assert d.base is not None
        if value == "as_received" or (quantity and quantity not in self.cat.quantities):
            return d.base[i]
        role = self.cat.quantities[quantity].role if quantity else "load"
        if role:
            return float(value) if role == "load" else 0.0 if d.speeds[i] > value else math.inf
        xs, ys = d.torque[i], d.quantities[quantity].high[i]
        a = next((a for a, y in enumerate(ys) if y > value), None)
        if not a:
            return math.inf if a is None else 0.0
        return float(xs[a - 1] + (xs[a] - xs[a - 1]) * (value - ys[a - 1]) / (ys[a] - ys[a - 1]))

    def allowed(self, *origins: str) -> list[float]:
        given = [(q, v) for o, q, v in self.in_force() if not origins or o in origins]
        plan = self.demand.plan if self.demand else ()
        return [min([1.2 * p, *(self.torque(q, v, i) for q, v in given)]) for i, p in enumerate(plan)]

    # Sections 8 and 9: required evidence, outcome

    def plan_class(self) -> str:
        ratio = max((p / b for _, p, b in self.pairs), default=None)
        found = 2 if ratio is None else sum(ratio > e + ROUNDING for e in (1.02, 1.15, 1.35))
        if (
            self.demand
            and self.demand.base
            and any(p > 0.0 >= b for p, b in zip(self.demand.plan, self.demand.base, strict=True))
        ):
            found = max(2, found)
        return CLASSES[max([found, *(CLASSES.index(r.plan_class) for r in self.of("AtLeast"))])]

    def stale(self, id: str) -> bool:
        sheet = self.sheets[id]
        return self.ended(sheet) or self.half_lives(sheet) > self.cat.sections[sheet.section].stale_after

    def missing(self) -> set[str]:
        out = set()
        for row in self.rows:
            answers = [a for a in self.of("Coverage") if a.row == row.id]
            fresh = [not (a.sheets and all(map(self.stale, a.sheets))) for a in answers]
            good = [
                a.state == "not_applicable" or (a.state == "met" and f) for a, f in zip(answers, fresh, strict=True)
            ]
            if row.levels[self.plan_class()] == "R" and not (good and all(good)):
                out.add(row.id)
        return out

    def outcome(self) -> str:
        risks, d = self.risks(), self.demand
        up = [st for st in self.stands if st.stands]
        if any(st.grade == "stop" for st in up) or any(map(self.endangers, risks)):
            return "hold"
        if d is None or d.base is None:
            return "hold" if any((o, v) == ("fault", "as_received") for o, _, v in self.in_force()) else "incomplete"
        if self.raised() and all(a <= b * (1.0 + ROUNDING) for a, b in zip(self.allowed("fault"), d.base, strict=True)):
            return "hold"
        lost = any(q and q not in self.cat.quantities for _, q, _ in self.in_force())
        if lost or self.unproven() or self.missing():
            return "incomplete"
        serious = any(r["active"] and not r["capacity"] and r["level"] in ("high", "serious") for r in risks)
        short = any(a < p * (1.0 - ROUNDING) for a, p in zip(self.allowed(), d.plan, strict=True))
        return "limited" if serious or short or any(st.grade == "fix_first" or st.accept for st in up) else "clear"

    def endangers(self, risk: dict[str, Any]) -> bool:
        if not (risk["active"] and risk["person"] and risk["level"] == "high") or risk["capacity"]:
            return False
        for st in self.stands:
            if st.stands and GRADES.index(st.grade) >= 3 and self.side(st.run.sheet, risk["since"]) >= 0:
                seen = [y for y in self.symptoms if (y.rule, y.subject, y.sheet) == st.key and y.p_beyond >= 0.05]
                named = [key for name in st.run.finding.names for key in self.places(*name)]
                named += [key for key, db, _ in self.weights(st.run) if db > 0.0]
                if risk["key"] in [*named, *(key for y in seen for key, _ in self.candidates(y))]:
                    return True
        return False
