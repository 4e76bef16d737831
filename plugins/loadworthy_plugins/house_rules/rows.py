"""Required evidence per plan class. All levels are judgement; each row belongs to a check that is installed."""

from __future__ import annotations

from loadworthy.sdk import Requirement

ROWS = (
    Requirement(
        id="fault_memory",
        text="full reading of the fault memory of all control units, settled since it was last erased",
        levels={"none": "R", "mild": "R", "strong": "R", "extreme": "R"},
        section="fault_memory",
        test="full-memory-reading",
        ceiling="as_received",
    ),
    Requirement(
        id="compression",
        text="dry compression of every cylinder, warm, under good conditions",
        levels={"none": "A", "mild": "A", "strong": "R", "extreme": "R"},
        section="compression",
        test="dry-compression",
        ceiling="as_received",
    ),
    Requirement(
        id="leak_down",
        text="leak-down of every cylinder through a known jet",
        levels={"none": "-", "mild": "-", "strong": "-", "extreme": "R"},
        section="leak_down",
        test="leak-down",
        ceiling="as_received",
    ),
    Requirement(
        id="modifications",
        text="list of modifications, kind of part by kind: standard, modified or unknown",
        levels={"none": "R", "mild": "R", "strong": "R", "extreme": "R"},
        section="modification",
        test="inventory-interview",
        ceiling="as_received",
    ),
    Requirement(
        id="oil_pressure",
        text="oil pressure hot, at idle, 2 000, 3 000 rpm and the highest safe speed",
        levels={"none": "A", "mild": "R", "strong": "R", "extreme": "R"},
        section="oil_pressure",
        test="oil-pressure-sweep",
        ceiling="as_received",
    ),
    Requirement(
        id="oil_viscosity",
        text="viscosity of the oil in the sump measured, or the oil changed for the test",
        levels={"none": "-", "mild": "-", "strong": "-", "extreme": "R"},
        section="oil_pressure",
        test="oil-sample",
        ceiling="as_received",
    ),
)
