"""What line, filter and wiring take from the fuel pump where only a part of it is known."""

from __future__ import annotations

import pytest
from inventory_cases import PUMP, answered, look, part

LABEL = ("fuel_pump_margin", "pressure that the pump works against")


def test_a_wide_line_says_nothing_of_the_filter() -> None:
    wide = part("fuel_line_and_filter", "standard", line_bore="20 mm", line_length="0.2 m")
    free = part("fuel_line_and_filter", "standard", line_loss="0 kPa", line_loss_flow="150 L/h")
    # 15 kPa for the filter; a loss that was measured holds it already.
    lost = look(answered(PUMP, wide)).step(*LABEL) - look(answered(PUMP, free)).step(*LABEL)
    assert lost == pytest.approx(15e3, abs=50.0)


def test_a_drop_in_the_wiring_takes_from_the_pump_until_the_voltage_is_measured() -> None:
    def volts(drop: str | None, **fields: str) -> float:
        wiring = part("pump_wiring", "standard", **({"wire_drop": drop} if drop else {}))
        return float(look(answered(PUMP, wiring, **fields)).step("fuel_pump_margin", "loaded voltage"))

    assert volts(None) == volts("0.5 V") == 12.0
    assert volts("3 V") == pytest.approx(11.0)
    assert volts("3 V", loaded_voltage="12.6 V") == pytest.approx(12.6)
