"""What an error says, and what it holds."""

from __future__ import annotations

from loadworthy.errors import MOST_SHOWN, CaseError, Fault


def test_every_fault_has_a_line_until_there_are_too_many_to_read() -> None:
    few = CaseError("no good", (Fault("a", "wrong", "sheet[1].x", 7, "write y"), Fault("b", "odd")))
    assert str(few).splitlines() == ["no good", "  sheet[1].x (line 7): wrong; write y", "  odd"]
    faults = tuple(Fault("a", f"wrong {n}") for n in range(MOST_SHOWN + 5))
    many = CaseError("no good", faults)
    assert len(str(many).splitlines()) == MOST_SHOWN + 2
    assert str(many).endswith("and 5 more; mend these first")
    assert many.faults == faults
