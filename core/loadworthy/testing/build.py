"""Building cases and hosts for tests."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.casefile import from_dict
from loadworthy.host import Host

if TYPE_CHECKING:
    from typing import Self

    from loadworthy.case import Case


def host_with(**plugins: Any) -> Host:
    """Return a host with exactly these plugins: id = module or object. Nothing installed is added."""
    return Host(plugins, entry_points=False)


class CaseBuilder:
    """Builds a case through the same reader as a file, so that units and errors are those of files.

    ``CaseBuilder(host).vehicle(name="...").sheet("section", date="2026-05-04", field="12 bar").build()``
    """

    def __init__(self, host: Host) -> None:
        self._host = host
        self.tables: dict[str, Any] = {}

    def _table(self, name: str, values: dict[str, Any]) -> Self:
        self.tables.setdefault(name, {}).update(values)
        return self

    def _row(self, name: str, values: dict[str, Any]) -> Self:
        self.tables.setdefault(name, []).append(values)
        return self

    def vehicle(self, **values: Any) -> Self:
        """Add keys of ``[vehicle]``."""
        return self._table("vehicle", values)

    def plan(self, **values: Any) -> Self:
        """Add keys of ``[plan]``."""
        return self._table("plan", values)

    def sheet(self, section: str, **values: Any) -> Self:
        """Add a dated sheet of a section."""
        return self._row(section, values)

    def repair(self, **values: Any) -> Self:
        """Add a repair."""
        return self._row("repair", values)

    def event(self, **values: Any) -> Self:
        """Add an event."""
        return self._row("event", values)

    def build(self) -> Case:
        """Return the case. Raises CaseError with every fault."""
        return from_dict(self.tables, catalogue=self._host.catalogue)
