"""Entries under way: what they lack is no fault, they are told, and they set nothing aside."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
import recording.bench_check as bench_check

from loadworthy import Case, CaseError, Host, assess
from loadworthy.case import UNDATED, Attached
from loadworthy.casefile import from_dict, to_dict
from loadworthy.core_fields import LISTS
from loadworthy.core_fields import SHEET as SHEET_KEYS
from loadworthy.outputs.text import register_text
from support import DEMOS, bundled

HOST = Host({"bench": bench_check}, entry_points=False)
CATALOGUE = HOST.catalogue
SHEET = {"date": "2026-05-04", "must": "said", "grip": "12 bar"}
REPAIR = {"id": "r", "date": "2026-05-05", "what": "tightened", "treats": ["loose"]}
EVENT = {"kind": "shock", "date": "2026-05-06"}
WAIVER = {"who": "A", "what": "bench", "why": "known", "from": "2026-05-04", "until": "2026-06-04"}
INSTRUMENT = {"id": "g", "measures": "pressure_gauge", "class": 1.0, "span": "20 bar"}


def read(**tables: Any) -> Case:
    return from_dict(tables, catalogue=CATALOGUE, today=datetime.date(2026, 6, 1))


WHOLE = {
    "bench": SHEET,
    "repair": REPAIR,
    "event": EVENT,
    "waiver": WAIVER,
    "instrument": INSTRUMENT,
    "void": {"sheet": "s", "why": "wrong", "who": "A", "date": "2026-05-07"},
}

REQUIRED = {
    name: {field.name for field in (*SHEET_KEYS, *bench_check.BENCH.fields) if field.required}
    if name == "bench"
    else {field.name for field in LISTS[name] if field.required}
    for name in WHOLE
}


@pytest.mark.parametrize("name", WHOLE)
def test_every_part_of_an_unfinished_entry_can_be_read_and_written(name: str) -> None:
    others = {"bench": [{**SHEET, "id": "s"}]} if name == "void" else {}
    finished = read(**{**others, name: [*others.get(name, []), WHOLE[name]]})
    for kept in range(len(WHOLE[name]) + 1):
        row = {**dict(list(WHOLE[name].items())[:kept]), "unfinished": True}
        case = read(**{**others, name: [*others.get(name, []), row]})
        assert [note.code for note in case.notes] == ["unfinished"], row
        assert "not finished" in case.notes[0].problem
        again = from_dict(to_dict(case, catalogue=CATALOGUE), catalogue=CATALOGUE)
        assert again == case, row
        assert case.digest != finished.digest
        if not REQUIRED[name] <= row.keys():
            with pytest.raises(CaseError, match="missing"):
                read(**{**others, name: [*others.get(name, []), {**row, "unfinished": False}]})


def test_false_is_as_if_it_were_not_written() -> None:
    assert read(bench=[{**SHEET, "unfinished": False}]) == read(bench=[SHEET])


def test_what_stands_in_it_must_be_right_all_the_same() -> None:
    with pytest.raises(CaseError) as told:
        read(bench=[{"unfinished": True, "date": "2036-01-01", "grip": "12 bar abs", "points": [{"lode": 1}]}])
    assert {fault.code for fault in told.value.faults} == {"future-date", "bad-quantity", "unknown-key"}
    with pytest.raises(CaseError, match="true or false"):
        read(bench=[{"unfinished": "yes"}])


def test_rows_of_an_unfinished_sheet_may_be_half_written() -> None:
    case = read(bench=[{**SHEET, "points": [{"word": "rough"}], "unfinished": True}])
    assert case.sheets[0].get("points")[0] == {"word": "rough"}
    with pytest.raises(CaseError, match="load is missing"):
        read(bench=[{**SHEET, "points": [{"word": "rough"}]}])


def test_an_undated_sheet_is_later_than_any_day() -> None:
    case = read(bench=[{"unfinished": True, "grip": "12 bar"}], repair=[{"id": "r", "unfinished": True}])
    assert case.sheets[0].date == case.repairs[0].date == UNDATED
    assert case.until(datetime.date(9999, 12, 30)).sheets == ()
    assert read(bench=[{**SHEET, "retest_of": "r"}], repair=[{"id": "r", "unfinished": True}]).sheets


def test_an_unfinished_instrument_lends_nothing() -> None:
    sheet = {**SHEET, "instrument": "g"}
    whole = read(bench=[sheet], instrument=[INSTRUMENT]).sheets[0].reading("grip")
    under_way = read(bench=[sheet], instrument=[{**INSTRUMENT, "unfinished": True}]).sheets[0].reading("grip")
    assert whole is not None
    assert under_way is not None
    assert whole.u is not None
    assert under_way.u is None


def demo(name: str) -> dict[str, Any]:
    path = next(path for path in DEMOS if path.stem == name)
    return to_dict(Case.load(path, catalogue=bundled().catalogue), catalogue=bundled().catalogue)


def outcome(tables: dict[str, Any]) -> dict[str, Any]:
    case = from_dict(tables, catalogue=bundled().catalogue)
    return assess(case, host=bundled()).to_dict()


def test_an_unfinished_repair_sets_nothing_aside() -> None:
    tables = demo("diesel-repaired-clear")
    assert outcome(tables)["outcome"] == "clear"
    without = {**tables, "repair": []}
    for section in ("compression", "leak_down"):
        without[section] = [{k: v for k, v in row.items() if k != "retest_of"} for row in tables[section]]
    bare = outcome(without)
    assert bare["outcome"] != "clear"
    for kept in ({"date", "what", "treats"}, {"date"}, set()):
        rows = [
            {**{key: value for key, value in row.items() if key in kept | {"id"}}, "unfinished": True}
            for row in tables["repair"]
        ]
        found = outcome({**without, "repair": rows})
        for key in ("outcome", "risks", "ceilings", "gaps"):
            assert found[key] == bare[key]
        assert any("not finished" in note for note in found["notes"])


def test_an_unfinished_waiver_or_void_has_no_effect() -> None:
    tables = demo("diesel-exhaust-valve-hold")
    bare = outcome(tables)
    sheet = tables["compression"][0]["id"]
    void = {"sheet": sheet, "why": "wrong", "who": "A", "date": "2026-05-09"}
    gap = next(gap["id"] for gap in bare["gaps"])
    waiver = {"who": "A", "what": gap, "why": "known", "from": "2026-05-01", "until": "2026-12-01"}
    assert outcome({**tables, "void": [void]})["struck_out"]
    for extra in ({"void": [{**void, "unfinished": True}]}, {"waiver": [{**waiver, "unfinished": True}]}):
        found = outcome({**tables, **extra})
        for key in ("outcome", "risks", "ceilings", "waivers", "struck_out"):
            assert found[key] == bare[key]


def test_an_unfinished_event_ends_what_an_event_ends() -> None:
    tables = demo("petrol-six-clear")
    event = {"kind": "overheating", "date": tables["as_of"]}
    judged = ("outcome", "risks", "not_looked_into", "gaps")
    bare, finished, under_way = (
        {key: found[key] for key in judged}
        for found in (
            outcome(tables),
            outcome({**tables, "event": [event]}),
            outcome({**tables, "event": [{**event, "unfinished": True}]}),
        )
    )
    assert finished == under_way != bare


def test_the_register_says_what_is_not_finished() -> None:
    tables = demo("petrol-six-clear")
    tables["crankcase"] = [{"id": "blow", "date": tables["as_of"], "unfinished": True}]
    case = from_dict(tables, catalogue=bundled().catalogue)
    assert "sheet blow is not finished" in " ".join(register_text(assess(case, host=bundled())).split())


@pytest.mark.parametrize("section", sorted(bundled().catalogue.sections))
def test_no_bundled_check_stumbles_over_a_sheet_that_only_begins(section: str) -> None:
    tables = demo("petrol-six-clear")
    sheet = {"id": "begun", "date": tables["as_of"], "unfinished": True}
    found = outcome({**tables, section: [*tables.get(section, []), sheet]})
    assert found["plugin_failures"] == []


DIGEST = "0123456789abcdef" * 4


@pytest.mark.parametrize(
    ("written", "files"),
    [
        ("a.jpg", (Attached("a.jpg"),)),
        ({"path": "a.jpg"}, (Attached("a.jpg"),)),
        ({"path": "a.jpg", "sha256": DIGEST.upper()}, (Attached("a.jpg", DIGEST),)),
        (["b.jpg", {"path": "a.jpg", "sha256": DIGEST}], (Attached("a.jpg", DIGEST), Attached("b.jpg"))),
        ([], ()),
    ],
)
def test_files_of_a_sheet(written: Any, files: tuple[Attached, ...]) -> None:
    case = read(bench=[{**SHEET, "file": written}])
    assert case.sheets[0].file == files
    assert from_dict(to_dict(case, catalogue=CATALOGUE), catalogue=CATALOGUE) == case
    if files:
        assert case.digest != read(bench=[SHEET]).digest


@pytest.mark.parametrize("written", [3, {"path": "a", "sha256": "12"}, {"sha256": DIGEST}, [["a"]], {"name": "a"}])
def test_what_names_no_file_is_a_fault(written: Any) -> None:
    with pytest.raises(CaseError) as told:
        read(bench=[{**SHEET, "file": written}])
    assert all("file" in fault.place for fault in told.value.faults)
