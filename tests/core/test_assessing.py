"""What only the whole run shows: which plugin supplied demand, and who else could have."""

from __future__ import annotations

import datetime
from typing import Any

import generic_check
import pytest

from loadworthy import Case, Host, assess
from loadworthy.hookspecs import hookimpl

DAY = datetime.date(2026, 5, 10)


class Mute:
    """A plugin that answers for demand and has none."""

    @hookimpl
    def demand(self, case: Any) -> None:
        """Have none."""


@pytest.mark.parametrize("known", [True, False])
def test_who_could_also_supply_demand_is_said_only_beside_the_one_who_does(known: bool) -> None:
    host = Host({"generic": generic_check, "mute": Mute()}, entry_points=False)
    tables = {"vehicle": {"base_torque_measured": generic_check.BASE}, "plan": {"torque": generic_check.PLAN}}
    case = Case.from_dict(tables if known else {}, catalogue=host.catalogue)
    register = assess(case, host=host, as_of=DAY)
    said = [str(note) for note in register.notes if "demand" in str(note)]
    assert said == (["mute could also supply the demand; generic does"] if known else [])
    assert register.demand_by == ("generic" if known else "")
