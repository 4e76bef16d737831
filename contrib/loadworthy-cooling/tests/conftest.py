"""Sheets, and registers of them, with whatever plugins are installed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from vehicle import DAY, KNOWN_U, PLAN, SOUND, VEHICLE

from loadworthy import Case, Host, assess

if TYPE_CHECKING:
    import datetime

    from vehicle import Registers, Sheets

    from loadworthy import Register


@pytest.fixture(scope="session")
def host() -> Host:
    """Everything that is installed; this plugin must be among it."""
    host = Host()
    assert host.failures == ()
    assert "cooling" in {plugin.id for plugin in host.plugins}
    return host


@pytest.fixture
def sheet() -> Sheets:
    """A sound sheet with some fields changed; None takes a field away."""

    def made(id: str = "run", date: datetime.date = DAY, **changed: Any) -> dict[str, Any]:
        fields = {name: value for name, value in {**SOUND, **changed}.items() if value is not None}
        return {"id": id, "date": date, **fields, "u": {name: u for name, u in KNOWN_U.items() if name in fields}}

    return made


@pytest.fixture
def register(host: Host) -> Registers:
    """The register of some sheets on the vehicle of above."""

    def made(*sheets: dict[str, Any], plan: dict[str, Any] | None = None, **tables: Any) -> Register:
        data = {"as_of": DAY, "vehicle": VEHICLE, "plan": plan or PLAN, **tables}
        if sheets:
            data["cooling"] = list(sheets)
        return assess(Case.from_dict(data, catalogue=host.catalogue), host=host)

    return made
