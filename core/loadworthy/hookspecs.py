"""Every hook of loadworthy: the only contract between the core and its plugins.

A plugin is a module (or object) with functions of these names, each marked with ``hookimpl``. A function may take fewer
arguments than the specification offers. Hooks return plain values and never change what they are given: all of it is
frozen. One plugin that raises, overruns its time or returns nonsense becomes a line of the register; it never costs
another plugin its findings.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pluggy

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from loadworthy.case import Case
    from loadworthy.declarations import Declaration, Requirement
    from loadworthy.findings import Demand, Distortion, Result
    from loadworthy.limits import Limits

#: Version of this contract: the first number changes when a plugin must change.
HOOK_VERSION = "1.0"

hookspec = pluggy.HookspecMarker("loadworthy")
hookimpl = pluggy.HookimplMarker("loadworthy")


@hookspec
def declare() -> Iterable[Declaration]:
    """Declare what this plugin brings: sections, fields, limits, rules, causes, symptom sets, tests, quantities ...

    Called once when the plugin is loaded. Ids of limits and rules are local names; the host prefixes them with the
    plugin's id. Every limit needs a source mark.
    """


@hookspec
def requirements() -> Iterable[Requirement]:
    """Return rows of required evidence as data (method, section 8). Normally only the house's rules do."""


@hookspec
def subjects(case: Case) -> Mapping[str, Sequence[str]]:
    """List the members of each located kind as subject ids, say ``{"wheel": ["wheel 1", "wheel 2"]}``.

    An unknown number is left out: the prior of such a cause is then not shared.
    """


@hookspec
def distort(case: Case) -> Iterable[Distortion]:
    """Say which readings a declared part falsifies. The core widens or refuses them before anyone judges."""


@hookspec
def demand(case: Case) -> Demand | None:
    """Turn the plan into demanded quantities over speed and load; None where that is not possible.

    One supplier: the one named in the house settings, else the lowest plugin id; others are reported.
    """


@hookspec
def extend_demand(case: Case, demand: Demand) -> Demand | None:
    """Add quantities of this plugin's own to the table; those already there must be kept as they are."""


@hookspec
def examine(case: Case, demand: Demand | None, limits: Limits) -> Iterable[Result]:
    """Judge every sheet of this plugin's sections; the core picks which of them governs.

    Returns findings (clean ones too), symptoms, capacities, ceilings, gaps, coverage of required rows, gates, class
    floors and advice. A sheet that is ``unfinished`` may lack fields that its section requires: take them with ``get``
    or ``reading``, which return None for what is missing.
    """


@hookspec
def review(case: Case, results: Sequence[Result]) -> Iterable[Result]:
    """Return further results in view of all others. A house plugin adds its own findings here."""
