"""Sheets, and registers of them by this check, the bundled demand and one row of required evidence that is met."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from vehicle import DAY, KNOWN_U, PLAN, SOUND, VEHICLE

import loadworthy_cooling
import loadworthy_plugins.load_demand
from loadworthy import Case, Host, assess
from loadworthy.sdk import Coverage, Requirement, hookimpl

if TYPE_CHECKING:
    import datetime

    from vehicle import Registers, Sheets

    from loadworthy import Register


class Rows:
    """All that the house asks for, and has: what other checks require is not this one's affair."""

    @hookimpl
    def requirements(self) -> tuple[Requirement, ...]:
        return (Requirement("walk_round", "walk round the vehicle", dict.fromkeys(PLAN_CLASSES, "R")),)

    @hookimpl
    def examine(self) -> tuple[Coverage, ...]:
        return (Coverage("walk_round", "met"),)


PLAN_CLASSES = ("none", "mild", "strong", "extreme")


@pytest.fixture(scope="session")
def host() -> Host:
    """This check and what it needs beside it, and it is found as installed."""
    installed = Host()
    assert installed.failures == ()
    assert "cooling" in {plugin.id for plugin in installed.plugins}
    plugins = {"cooling": loadworthy_cooling, "load_demand": loadworthy_plugins.load_demand, "rows": Rows()}
    return Host(plugins, entry_points=False)


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
