"""loadworthy: from dated evidence on a vehicle to a ranked and explained risk register.

The public names are imported when they are first used, so that importing the package costs next to nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from loadworthy.assessing import assess
    from loadworthy.case import Case
    from loadworthy.errors import (
        CaseError,
        DeclarationError,
        Fault,
        HouseError,
        LoadworthyError,
        PluginError,
    )
    from loadworthy.host import Host
    from loadworthy.house import House
    from loadworthy.register import Register

__version__ = "0.1.0"

_HOMES = {
    "Case": "case",
    "CaseError": "errors",
    "DeclarationError": "errors",
    "Fault": "errors",
    "Host": "host",
    "House": "house",
    "HouseError": "errors",
    "LoadworthyError": "errors",
    "PluginError": "errors",
    "Register": "register",
    "assess": "assessing",
}

__all__ = [
    "Case",
    "CaseError",
    "DeclarationError",
    "Fault",
    "Host",
    "House",
    "HouseError",
    "LoadworthyError",
    "PluginError",
    "Register",
    "__version__",
    "assess",
]


def __getattr__(name: str) -> Any:
    """Import a public name from its home when it is first used."""
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module 'loadworthy' has no attribute {name!r}")
    from importlib import import_module

    module = import_module(f"loadworthy.{home}")
    value = getattr(module, name)
    globals()[name] = value
    return value
