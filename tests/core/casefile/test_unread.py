"""What belongs to a plugin that could not be loaded is kept, said, and judged by nobody."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import Any

import pytest
from attrs import evolve

from loadworthy import CaseError, Host, assess
from loadworthy.case import Case
from loadworthy.casefile import dump, from_dict, load, to_dict
from loadworthy.declarations import Catalogue, Field, Section

TODAY = datetime.date(2026, 11, 25)
BENCH = Section("bench", "a bench", (Field("grip", "quantity", kind="pressure_gauge", u=1e4),))
CATALOGUE = Catalogue(sections={"bench": BENCH}, vehicle={"tank": Field("tank", "quantity", kind="volume", u=1e-4)})
LAME = evolve(CATALOGUE, absent=("lame",))
TABLES: dict[str, Any] = {
    "vehicle": {"tank": "50 L", "spokes": [36, "each 2 mm"]},
    "bench": [{"id": "one", "date": TODAY, "grip": "9 bar"}],
    "rim": [{"date": TODAY, "depth": {"1": "3 mm"}, "ok": True}],
}


def read(tables: Any, catalogue: Catalogue = LAME) -> Case:
    return from_dict(tables, catalogue=catalogue, today=TODAY)


def test_it_is_refused_where_every_plugin_was_loaded() -> None:
    with pytest.raises(CaseError) as error:
        read(TABLES, CATALOGUE)
    assert {fault.place for fault in error.value.faults} == {"rim", "vehicle.spokes"}


def test_it_is_noted_and_kept_and_written_again(tmp_path: Path) -> None:
    case = read(TABLES)
    assert [sheet.id for sheet in case.sheets] == ["one"]
    assert {note.place for note in case.notes if "lame could not be loaded" in note.problem} == {
        "rim",
        "vehicle.spokes",
    }
    again = to_dict(case, catalogue=LAME)
    assert again["rim"] == TABLES["rim"]
    assert again["vehicle"] == TABLES["vehicle"]
    dump(case, tmp_path / "case.toml", catalogue=LAME)
    reread = load(tmp_path / "case.toml", catalogue=LAME, today=TODAY)
    assert (reread.unread, reread.digest) == (case.unread, case.digest)


def test_it_counts_in_the_digest() -> None:
    other = {**TABLES, "rim": [{**TABLES["rim"][0], "ok": False}]}
    digests = {read(tables).digest for tables in (TABLES, other, {k: v for k, v in TABLES.items() if k != "rim"})}
    assert len(digests) == 3


def test_other_faults_are_still_faults() -> None:
    with pytest.raises(CaseError) as error:
        read({**TABLES, "bench": [{"date": TODAY, "grap": "9 bar"}]})
    assert [fault.place for fault in error.value.faults] == ["bench[1].grap"]


@pytest.mark.parametrize("junk", [object(), {1: 2}, None, [[[]]] * 3 + [{"a": object()}]])
def test_what_no_file_can_hold_is_refused(junk: Any) -> None:
    with pytest.raises(CaseError):
        read({"rim": junk})


def test_nesting_without_end_is_refused() -> None:
    deep: list[Any] = []
    for _ in range(100_000):
        deep = [deep]
    with pytest.raises(CaseError):
        read({"rim": deep})


@pytest.mark.parametrize(
    "text",
    [
        "import nothing_of_this_name\n",
        "from loadworthy.sdk import hookimpl\n\n\n@hookimpl\ndef declare():\n    raise RuntimeError('broken')\n",
    ],
    ids=["import", "declare"],
)
def test_a_case_with_a_section_of_a_broken_plugin_is_judged_and_never_clear(text: str, tmp_path: Path) -> None:
    (tmp_path / "lame.py").write_text(text, encoding="utf-8")
    host = Host(files=[tmp_path / "lame.py"], entry_points=False)
    assert host.catalogue.absent == ("lame",)
    case = from_dict({"rim": TABLES["rim"]}, catalogue=host.catalogue, today=TODAY)
    register = assess(case, host=host, as_of=TODAY)
    assert register.outcome == "incomplete"
    assert any("lame" in str(note) for note in register.notes)
    assert [failure.plugin for failure in register.failures] == ["lame"]


def test_a_broken_second_plugin_of_one_id_makes_nothing_absent(tmp_path: Path) -> None:
    (tmp_path / "same.py").write_text("import nothing_of_this_name\n", encoding="utf-8")

    class Given:
        from loadworthy.sdk import hookimpl

        @hookimpl
        def examine(self, case: Any) -> tuple[()]:
            return ()

    host = Host({"same": Given()}, files=[tmp_path / "same.py"], entry_points=False)
    assert host.failures
    assert host.catalogue.absent == ()
