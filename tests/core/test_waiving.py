"""Waivers: what may be accepted, by whom, for how long, and what never."""

from __future__ import annotations

import datetime

import pytest

from loadworthy.beliefs import Belief, Standing, WeightUse
from loadworthy.case import Waiver
from loadworthy.ceilings import CeilingView
from loadworthy.declarations import Catalogue, Cause
from loadworthy.findings import Ceiling, Finding, Gap
from loadworthy.risk import build
from loadworthy.waiving import WaiverView, apply_waivers, waived_gaps, without_waived

DAY = datetime.date(2026, 5, 10)
ROLES = {"head": ("*",), "fitter": ("row", "plug.mild*")}
GAPS = (
    Gap("row", "the row is missing", required=True),
    Gap("wish", "would be nice"),
    Gap("plugin:x", "x failed", True),
)
CATALOGUE = Catalogue(
    causes={
        "person": Cause("person", "a danger", 0.1, 1, "load", person=True),
        "law": Cause("law", "against the law", 0.1, 3, "none", waivable=False),
        "plain": Cause("plain", "a cause", 0.1, 3, "load"),
    }
)


def standing(rule: str, grade: str, state: str = "governs", own: str = "", accept: bool = False) -> Standing:
    finding = Finding(rule, "s1", text=rule)
    return Standing(f"{rule}#s1", "plug", finding, state, grade, own or grade, accept=accept)


STANDINGS = (
    standing("plug.mild", "fix_first"),
    standing("plug.mild_accept", "watch", accept=True),
    standing("plug.harmless", "watch"),
    standing("plug.halt", "stop"),
    standing("plug.was_halt", "fix_first", "carried", own="stop", accept=True),
    standing("plug.danger", "fix_first"),
    standing("plug.unlawful", "fix_first"),
    standing("plug.past", "fix_first", "history"),
)


def belief(cause: str, finding: str) -> Belief:
    use = WeightUse(cause, None, "g", f"{finding}#s1", 6.0, 1.0, 6.0, True)
    return Belief(cause, None, 0.1, "", 6.0, 0.0, 6.0, 0.3, 0.3, 0.3, True, weights=(use,))


BELIEFS = (belief("person", "plug.danger"), belief("law", "plug.unlawful"), belief("plain", "plug.mild"))
RISKS = build(BELIEFS, catalogue=CATALOGUE, demand=None, standings=STANDINGS)


def view(what: str, who: str = "A. Nonym", role: str = "head", start: int = -1, until: int = 1) -> WaiverView:
    waiver = Waiver(
        who, what, "the owner accepts it", DAY + datetime.timedelta(start), DAY + datetime.timedelta(until), role
    )
    (found,) = apply_waivers(
        [waiver], DAY, gaps=GAPS, standings=STANDINGS, risks=RISKS, catalogue=CATALOGUE, roles=ROLES,
        never={"plugin:x": "a failed check cannot be waived"},
    )  # fmt: skip
    return found


@pytest.mark.parametrize("what", ["row", "plug.mild#s1", "plug.mild_accept#s1"])
def test_a_gap_or_a_finding_that_withholds_something_can_be_waived(what: str) -> None:
    assert view(what).in_force


@pytest.mark.parametrize(
    ("what", "why"),
    [
        ("plug.halt#s1", "stop"),
        ("plug.was_halt#s1", "stop"),
        ("plug.danger#s1", "risk to persons"),
        ("person", "risk to persons"),
        ("plug.unlawful#s1", "of this kind"),
        ("plugin:x", "failed check"),
    ],
)
def test_what_nobody_may_waive(what: str, why: str) -> None:
    found = view(what)
    assert found.state == "refused"
    assert why in found.why


@pytest.mark.parametrize("what", ["wish", "plug.harmless#s1", "plug.past#s1", "nothing of the kind", "plug.mild"])
def test_a_waiver_of_what_withholds_nothing_is_unused(what: str) -> None:
    assert view(what).state == "unused"


@pytest.mark.parametrize(
    ("start", "until", "state"),
    [(-1, 1, "in_force"), (0, 0, "in_force"), (-9, -1, "expired"), (1, 9, "expired"), (-9, 0, "in_force")],
)
def test_both_its_days_are_included(start: int, until: int, state: str) -> None:
    assert view("row", start=start, until=until).state == state


@pytest.mark.parametrize(
    ("what", "who", "role", "allowed"),
    [
        ("row", "anybody", "fitter", True),
        ("row", "fitter", "", True),
        ("plug.mild#s1", "anybody", "fitter", True),
        ("row", "anybody", "", False),
        ("row", "anybody", "owner", False),
    ],
)
def test_the_house_says_who_may_waive_what(what: str, who: str, role: str, allowed: bool) -> None:
    found = view(what, who, role)
    assert found.in_force is allowed
    assert allowed or "does not let" in found.why


def test_without_house_settings_nobody_may_waive() -> None:
    waiver = Waiver("head", "row", "why", DAY, DAY, "head")
    (found,) = apply_waivers([waiver], DAY, gaps=GAPS, standings=(), risks=(), catalogue=CATALOGUE)
    assert found.state == "refused"


def test_a_waived_gap_lifts_its_own_unproven_ceiling_and_no_other() -> None:
    unproven = Ceiling("row", "", "as_received", "unproven", origin="gap", row="row")
    other = Ceiling("other", "", "as_received", "unproven", origin="gap", row="other")
    fault = Ceiling("fault", "", "as_received", "a fault", row="row")
    views = [CeilingView(c.name, "plug", c) for c in (unproven, other, fault)]
    waived = waived_gaps([view("row"), view("plug.mild#s1"), view("wish")])
    assert waived == {"row"}
    assert [v.id for v in without_waived(views, waived)] == ["other", "fault"]


def test_order_of_entry_makes_no_difference() -> None:
    some = [Waiver("head", what, "why", DAY, DAY, "head") for what in ("row", "wish", "plug.mild#s1")]
    fixed = {"gaps": GAPS, "standings": STANDINGS, "risks": RISKS, "catalogue": CATALOGUE, "roles": ROLES}
    assert apply_waivers(some, DAY, **fixed) == apply_waivers(some[::-1], DAY, **fixed)
