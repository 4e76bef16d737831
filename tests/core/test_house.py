"""House settings: read with every fault at once, applied with their provenance."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from loadworthy.declarations import Catalogue, Limit, Requirement
from loadworthy.errors import HouseError
from loadworthy.house import House, Override, direction
from loadworthy.limits import ResolvedLimit


def limit(name: str, value: Any, kind: str, worse: Any = "above", grade: Any = "fix_first") -> Limit:
    return Limit(name, value, kind, worse, "text", "source", "published", grade if worse != "setting" else None)


CATALOGUE = Catalogue(
    limits={
        "pads.least": limit("least", 2e-3, "length", "below"),
        "pads.wear": limit("wear", 0.5, "ratio"),
        "pads.count": limit("count", 4.0, "number"),
        "pads.play": limit("play", 1e-4, "length", "outside"),
        "pads.method": limit("method", "gauge", "text", "setting"),
        "pads.unset": limit("unset", None, "length"),
        "hoses.pressure": limit("pressure", 3e5, "pressure_gauge", "below"),
    }
)
ROWS = (
    Requirement("pads", "pads looked at", {"none": "-", "mild": "A", "strong": "R", "extreme": "R"}),
    Requirement("hoses", "hoses pressed", {"none": "-", "mild": "-", "strong": "A", "extreme": "R"}),
)

FULL = """
letterhead = "Our shop\\nStreet 1"
demand = "own_demand"
plan_value = 2500

[loss]
1 = 50000
3 = 1200.5

[limits]
"pads.least" = {value = "3 mm", reason = "heavy vehicles"}
"pads.wear" = {value = 0.6, reason = "measured twice"}
hoses.pressure = {value = "45 psi", reason = "our pump"}
"pads.method" = {value = "laser", reason = "newer"}
"pads.play" = {value = "0.05 mm", high = "0.2 mm", reason = "both sides"}

[require.pads]
mild = "required"
strong = "advised"
reason = "seen at every visit"

[require.hoses]
mild = "advised"
reason = "rubber ages"

[[may_waive]]
role = "foreman"
what = ["pads", "hoses.*"]

[[may_waive]]
role = "owner"
what = ["*"]

[[may_waive]]
role = "foreman"
what = ["oil"]

[[instrument]]
id = "gauge-1"
measures = "pressure_gauge"
span = "10 bar"
class = 1.6
resolution = "0.1 bar"
"""


@pytest.fixture
def write(tmp_path: Path) -> Any:
    def write(text: str) -> Path:
        path = tmp_path / "house.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def faults(path: Path, catalogue: Catalogue | None = CATALOGUE) -> list[str]:
    with pytest.raises(HouseError) as caught:
        House.load(path, catalogue=catalogue)
    return [str(fault) for fault in caught.value.faults]


def test_default_house() -> None:
    house = House()
    limits = house.resolve(CATALOGUE)
    assert [one.id for one in limits] == sorted(CATALOGUE.limits)
    assert all(one.origin == "default" and one.value == one.default for one in limits)
    assert limits["pads.least"].value == 2e-3
    assert limits["pads.least"].grade == "fix_first"
    assert house.requirements(ROWS) == ROWS
    assert house.overrides(CATALOGUE, ROWS) == ()
    assert (house.losses, house.may_waive, house.demand_supplier, house.plan_value) == ({}, {}, None, 1000.0)
    assert House.from_dict({}) == house


def test_everything_that_can_be_set(write: Any) -> None:
    house = House.load(write(FULL), catalogue=CATALOGUE)
    limits = house.resolve(CATALOGUE)
    assert limits["pads.least"].value == pytest.approx(3e-3)
    assert (limits["pads.least"].origin, limits["pads.least"].default) == ("house", 2e-3)
    assert limits["pads.least"].reason == "heavy vehicles"
    assert limits["pads.wear"].value == 0.6
    # 1 psi = 6894.757 Pa (NIST SP 811, appendix B.8)
    assert limits["hoses.pressure"].value == pytest.approx(45 * 6894.757, rel=1e-6)
    assert limits["pads.method"].value == "laser"
    assert (limits["pads.play"].value, limits["pads.play"].high) == (pytest.approx(5e-5), pytest.approx(2e-4))
    assert limits["pads.count"].origin == "default"

    assert house.letterhead == "Our shop\nStreet 1"
    assert house.demand_supplier == "own_demand"
    assert house.plan_value == 2500.0
    assert house.losses == {1: 50000.0, 3: 1200.5}
    assert house.may_waive == {"foreman": ("pads", "hoses.*", "oil"), "owner": ("*",)}
    assert [(one.id, one.kind) for one in house.instruments] == [("gauge-1", "pressure_gauge")]
    assert house.instruments[0].span == pytest.approx(1e6)

    pads, hoses = house.requirements(ROWS)
    assert pads.levels == {"none": "-", "mild": "R", "strong": "A", "extreme": "R"}
    assert hoses.levels == {"none": "-", "mild": "A", "strong": "A", "extreme": "R"}
    assert ROWS[0].levels["mild"] == "A"


def test_provenance(write: Any) -> None:
    found = House.load(write(FULL)).overrides(CATALOGUE, ROWS)
    assert [(one.what, one.id, one.direction) for one in found] == [
        ("limit", "hoses.pressure", "tighter"),
        ("limit", "pads.least", "tighter"),
        ("limit", "pads.method", "changed"),
        ("limit", "pads.play", "changed"),
        ("limit", "pads.wear", "looser"),
        ("row", "hoses.mild", "tighter"),
        ("row", "pads.mild", "tighter"),
        ("row", "pads.strong", "looser"),
    ]
    assert found[-1] == Override("row", "pads.strong", "R", "A", "looser", "seen at every visit")


@pytest.mark.parametrize(
    ("worse", "value", "default", "expected"),
    [
        ("above", 2.0, 1.0, "looser"),
        ("above", 0.5, 1.0, "tighter"),
        ("below", 2.0, 1.0, "tighter"),
        ("below", 0.5, 1.0, "looser"),
        ("below", 1.0, 1.0, "same"),
        ("outside", 0.5, 1.0, "changed"),
        ("setting", 0.5, 1.0, "changed"),
        ("above", 0.5, None, "changed"),
        ("setting", "a", "b", "changed"),
    ],
)
def test_direction(worse: str, value: Any, default: Any, expected: str) -> None:
    one = ResolvedLimit("a.b", value, "number", worse, None, origin="house", default=default)
    assert direction(one) == expected
    # The register marks looser limits by the limit's own word.
    assert one.looser == (expected == "looser") or worse in ("outside", "setting")


def test_loosening_needs_somebody_who_may_waive(write: Any) -> None:
    text = '[require.pads]\nstrong = "advised"\nreason = "too much work"\n'
    house = House.load(write(text))
    with pytest.raises(HouseError) as caught:
        house.requirements(ROWS)
    assert [str(fault) for fault in caught.value.faults] == [
        "require.pads (line 1): asks for less than the default for strong, and nobody may waive this row; "
        'add [[may_waive]] with a role and what = ["pads"]'
    ]
    for what in ("pads", "pa*", "*"):
        allowed = House.load(write(f'{text}[[may_waive]]\nrole = "owner"\nwhat = ["{what}"]\n'))
        assert allowed.requirements(ROWS)[0].levels["strong"] == "A"
    other = House.load(write(f'{text}[[may_waive]]\nrole = "owner"\nwhat = ["hoses", "pad"]\n'))
    with pytest.raises(HouseError):
        other.requirements(ROWS)


def test_unknown_row(write: Any) -> None:
    house = House.load(write('\n[require.hose]\nstrong = "required"\nreason = "x"\n'))
    with pytest.raises(HouseError, match=r"require\.hose \(line 2\).*did you mean hoses\?"):
        house.requirements(ROWS)


def test_unknown_limit(write: Any) -> None:
    path = write('[limits]\n\n"pads.last" = {value = "3 mm", reason = "x"}\n')
    expected = "limits.pads.last (line 3): no installed plugin declares this limit; did you mean pads.least?"
    assert faults(path) == [expected]
    # Without a catalogue the same is said once there is one.
    house = House.load(path)
    with pytest.raises(HouseError) as caught:
        house.resolve(CATALOGUE)
    assert [str(fault) for fault in caught.value.faults] == [expected]


BAD = [
    ('colour = "red"', "colour (line 1): no such key in house settings"),
    ('letterhed = "x"', "did you mean letterhead?"),
    ("letterhead = 5", "letterhead (line 1): 5 stands where a text that is not empty is needed"),
    ('demand = ""', "demand (line 1): "),
    ('plan_value = "much"', 'plan_value (line 1): "much" stands where a number of currency units'),
    ("plan_value = -1", "plan_value (line 1): -1 stands"),
    ("plan_value = nan", "plan_value (line 1): nan stands"),
    ("plan_value = true", "plan_value (line 1): true stands"),
    (f"plan_value = {10**400}", "plan_value (line 1): a number of more than 60 digits stands"),
    ("loss = 5", "loss (line 1): 5 stands where a table is needed; write [loss]"),
    ("[loss]\n5 = 1", "loss.5 (line 2): no such key here"),
    ("[loss]\n1 = -1", "loss.1 (line 2): -1 stands"),
    ('[limits]\n"pads.least" = "3 mm"', 'write {value = "3 mm", reason = "..."}'),
    ('[limits]\n"pads.least" = {value = "3 mm"}', "limits.pads.least (line 2): reason is missing"),
    ('[limits]\n"pads.least" = {value = "3 mm", reason = " "}', "limits.pads.least.reason (line 2): "),
    ('[limits]\n"pads.least" = {reason = "x"}', "value is missing"),
    (
        '[limits]\n"pads.least" = {value = "3 mm", reason = "x", why = "y"}',
        "limits.pads.least.why (line 2): no such key",
    ),
    ('[limits]\n"pads.least" = {value = 3, reason = "x"}', "limits.pads.least.value (line 2): 3 has no unit"),
    ('[limits]\n"pads.least" = {value = "3 kg", reason = "x"}', "limits.pads.least.value (line 2): "),
    ('[limits]\n"pads.least" = {value = "3 mm +- 1 mm", reason = "x"}', "a limit takes no uncertainty"),
    ('[limits]\n"pads.least" = {value = [3], reason = "x"}', "a list stands where a number or a text with its unit"),
    ('[limits]\n"pads.count" = {value = "4", reason = "x"}', "stands where a bare number is needed"),
    ('[limits]\n"pads.count" = {value = inf, reason = "x"}', "inf stands where a number"),
    ('[limits]\n"pads.method" = {value = 4, reason = "x"}', "stands where a text is needed"),
    ('[limits]\n"pads.least" = {value = "3 mm", high = "4 mm", reason = "x"}', "this limit has one side only"),
    ('[limits]\n"pads.play" = {value = "3 mm", high = "2 mm", reason = "x"}', "this lies below value"),
    ('[require.pads]\nstrong = "required"', "require.pads (line 1): reason is missing"),
    ('[require.pads]\nstrong = "must"\nreason = "x"', '"must" is no level; write "required", "advised", "not asked"'),
    ('[require.pads]\nwild = "required"\nreason = "x"', "require.pads.wild (line 2): no such key here"),
    ('[require.pads]\nreason = "x"', "no plan class is named"),
    ('require = {pads = "required"}', "stands where a table of plan classes is needed"),
    ('[may_waive]\nrole = "x"', "stands where a list of tables is needed; write [[may_waive]]"),
    ("may_waive = [3]", "may_waive[1] (line 1): 3 stands where a table is needed"),
    ('[[may_waive]]\nrole = "x"', "may_waive[1] (line 1): what is missing"),
    ('[[may_waive]]\nrole = "x"\nwhat = "*"', "stands where a list of ids is needed"),
    ('[[may_waive]]\nrole = "x"\nwhat = []', "stands where a list of ids is needed"),
    ('[[may_waive]]\nrole = "x"\nwhat = ["a*b"]', "has * in the middle"),
    ('[[may_waive]]\nrole = "x"\nwhat = [""]', "may_waive[1].what[1] (line 3)"),
    ('[[instrument]]\nid = "g"\nmeasures = "mood"', "instrument[1].measures (line 3)"),
    ('[[instrument]]\nid = "g"', "measures is missing"),
]


@pytest.mark.parametrize(("text", "words"), BAD, ids=[f"{number}: {words}" for number, (_, words) in enumerate(BAD)])
def test_faults_with_place_and_line(text: str, words: str, write: Any) -> None:
    found = faults(write(text + "\n"))
    assert len(found) == 1
    assert words in found[0]


def test_every_fault_at_once(write: Any) -> None:
    text = (
        'colour = "red"\nplan_value = "x"\n[loss]\n9 = 1\n[limits]\n"pads.last" = {value = "3 mm", reason = "x"}\n'
        '"pads.least" = {value = "3 kg", reason = "x"}\n[require.pads]\nreason = "x"\n'
    )
    found = faults(write(text))
    assert [one.partition(" (line ")[2][0] for one in found] == ["1", "2", "4", "6", "7", "8"]


def test_files_that_cannot_be_read(tmp_path: Path, write: Any) -> None:
    assert faults(tmp_path / "none.toml") == ["there is no such file"]
    assert "not valid TOML" in faults(write("a = = b\n"))[0]
    assert "line 1" in faults(write("a = = b\n"))[0]
    with pytest.raises(HouseError, match=r"house\.toml cannot be used: 1 fault"):
        House.load(write("colour = 1\n"))


def test_digest_depends_on_content_only(write: Any) -> None:
    house = House.load(write(FULL))
    assert (
        House.load(write(FULL.replace("0.6,", "1,"))).digest == House.load(write(FULL.replace("0.6,", "1.0,"))).digest
    )
    lines = FULL.replace('"pads.wear" = {value = 0.6, reason = "measured twice"}\n', "").replace(
        "[limits]\n", '# comment\n[limits]\n"pads.wear" = {reason = "measured twice", value = 0.60}\n'
    )
    assert House.load(write(lines)).digest == house.digest
    assert House().digest == House.from_dict({}).digest
    assert len(house.digest) == 64
    changes = [
        ('"3 mm"', '"4 mm"'),
        ('"heavy vehicles"', '"other"'),
        ('high = "0.2 mm"', 'high = "0.3 mm"'),
        ("2500", "2501"),
        ("50000", "50001"),
        ('"own_demand"', '"other"'),
        ('mild = "required"', 'mild = "advised"'),
        ('what = ["pads", "hoses.*"]', 'what = ["pads"]'),
        ('resolution = "0.1 bar"', 'resolution = "0.2 bar"'),
        ("Street 1", "Street 2"),
    ]
    digests = {House.load(write(FULL.replace(old, new))).digest for old, new in changes}
    assert len(digests | {house.digest, House().digest}) == len(changes) + 2
