"""What can be written, and in which order it is asked for."""

from __future__ import annotations

import pytest
from recording.bench_check import BENCH
from recording.benched import CATALOGUE, known

from loadworthy.core_fields import LISTS, VEHICLE
from loadworthy.declarations import Catalogue, Field
from loadworthy.recording.targets import members, names, target
from support import bundled


@pytest.mark.parametrize("catalogue", [CATALOGUE, bundled().catalogue], ids=["bench", "bundled"])
def test_every_name_is_a_target_and_no_key_is_asked_for_twice(catalogue: Catalogue) -> None:
    for name in names(catalogue):
        found = target(name, catalogue)
        assert found is not None
        asked = [field.name for field in found.asked]
        assert len(asked) == len(set(asked))
        assert {field.name for field in found.fields} - set(asked) <= {"u", "unfinished"}
    assert target("nothing", catalogue) is None


def test_a_sheet_asks_for_its_day_first_and_for_what_is_required_before_the_rest() -> None:
    asked = [field.name for field in known("bench").asked]
    assert asked[:6] == ["date", "time", "odometer", "by", "instrument", "conditions"]
    assert asked[6:8] == ["must", "grip"]
    assert asked[-4:] == ["file", "note", "retest_of", "id"]
    assert {field.name for field in BENCH.fields} <= set(asked)


def test_an_entry_asks_for_what_is_required_first() -> None:
    for name, fields in LISTS.items():
        found = known(name).asked
        required = [field.required for field in found]
        assert required == sorted(required, reverse=True)
        assert sum(required) == sum(field.required for field in fields)


def test_what_several_checks_ask_for_comes_first() -> None:
    shared, own = Field("alike", "number"), Field("own", "number")
    needed = Field("needed", "number", required=True)
    catalogue = Catalogue(
        vehicle={field.name: field for field in (*VEHICLE, own, shared, needed)}, shared=frozenset(("vehicle:alike",))
    )
    found = target("vehicle", catalogue)
    assert found is not None
    assert [field.name for field in found.asked] == ["needed", "alike", *(field.name for field in VEHICLE), "own"]
    assert found.first == len(VEHICLE) + 2


def test_members_are_listed_by_their_short_keys() -> None:
    listed = (("a", {"wheel": ("wheel 1", "wheel 2")}), ("b", {"wheel": ("wheel 1",), "side": ("side left",)}))
    assert members(listed) == {"wheel": ("1", "2"), "side": ("left",)}
