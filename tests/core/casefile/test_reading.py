"""Case files as they come: every fault at once with its place, nothing but CaseError, the file untouched."""

from __future__ import annotations

import datetime
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loadworthy import Case, CaseError
from loadworthy.casefile import from_dict, load, loads, to_dict
from support import DEMOS, bundled

DEMO = next(p for p in DEMOS if p.stem == "petrol-turbo-limited")
SOURCE = DEMO.read_bytes()
TODAY = datetime.date(2026, 11, 25)


def read(data: bytes | str) -> Case:
    raw = data.encode("utf-8") if isinstance(data, str) else data
    return loads(raw, "car.toml", bundled().catalogue, today=TODAY)


def faults(data: bytes | str) -> dict[str, str]:
    with pytest.raises(CaseError) as caught:
        read(data)
    return {fault.code: str(fault) for fault in caught.value.faults}


SHEET = '[[compression]]\ndate = 2026-05-04\ndry_reading = {1 = "12 bar", 2 = "12 bar"}\n'


@pytest.mark.parametrize(
    ("data", "code", "words"),
    [
        (SOURCE[:-9], "syntax", ""),
        (b"\x00\x01\x02\xff\xfe binary", "binary", "NUL"),
        (b"\x89PNG\r\n\x1a\n\xff\xff", "encoding", "UTF-8"),
        ("name = 'x'".encode("utf-16"), "encoding", "save it as UTF-8"),
        ("name = 'a'\nname = 'b'\n", "duplicate-key", "line 2"),
        ("[vehicle]\ndisplacement = 2.0\n", "unit-missing", "line 2"),
        ('[vehicle]\ndisplacement = "2.0 bar"\n', "bad-quantity", "volume"),
        ('[vehicle]\ndisplacment = "1998 cm3"\n', "unknown-key", "did you mean displacement?"),
        ("[vehicle]\nfuel = 'petrol_e15'\n", "bad-choice", "did you mean petrol_e"),
        ("[[comprssion]]\ndate = 2026-05-04\n", "unknown-section", "did you mean compression?"),
        ("name = 'x'\n[[comprssion]]\n", "unknown-section", "(line 2)"),
        ("[plan]\ntorque = {}\n", "wrong-type", "an empty table"),
        ("[plan]\ntorque = {'3000 rpm' = '-5 N m'}\n", "impossible", "(line 2)"),
        ("[vehicle]\nbase_torque_declared = {'3000 rpm' = '-5 N m'}\n", "impossible", "at least"),
        ("[[compression]]\ndry_reading = {1 = '12 bar'}\n", "missing-key", "date is missing"),
        (SHEET.replace("12 bar", "12 bar abs", 1), "bad-quantity", "gauge"),
        (SHEET.replace("12 bar", "nan bar", 1), "bad-quantity", ""),
        (SHEET.replace('"12 bar"', "nan", 1), "wrong-type", "a finite number"),
        (SHEET.replace('"12 bar"', "-inf", 1), "wrong-type", "leave it out"),
        ("[vehicle]\nfuel = 'petrol_e5'\n" + SHEET.replace("12 bar", "175 bar", 1), "impossible", '"175 psi"'),
        (SHEET.replace("12 bar", "3 1/8 bar", 1), "bad-quantity", "3.125 bar"),
        (SHEET.replace("12 bar", "12 bar +- 0", 1), "bad-quantity", ""),
        (SHEET.replace("2026-05-04", '"2026-02-31"'), "bad-date", "calendar"),
        (SHEET.replace("2026-05-04", "2031-05-04"), "future-date", "in the future"),
        (SHEET + 'instrument = "gauge-9"\n', "unknown-instrument", "gauge-9"),
        (SHEET + 'u = {dry_reading = "0 bar"}\n', "bad-uncertainty", ""),
        (SHEET + SHEET, "repeated-id", "entered twice"),
        (SHEET + 'retest_of = "r1"\n', "unknown-repair", "r1"),
        ('[[void]]\nsheet = "x"\nwhy = "y"\nwho = "z"\ndate = 2026-05-04\n', "unknown-sheet", "no sheet"),
        (
            '[[waiver]]\nwho = "a"\nwhat = "b"\nwhy = "c"\nfrom = 2026-05-04\nuntil = 2026-05-01\n',
            "end-before-start",
            "before it begins",
        ),
        ("x = " + "[" * 5000 + "]" * 5000, "nesting", ""),
    ],
)
def test_bad_input_names_place_and_mend(data: bytes | str, code: str, words: str) -> None:
    found = faults(data)
    assert code in found, found
    assert words in found[code]


def test_every_fault_is_reported_at_once_in_order_of_the_file() -> None:
    text = "[vehicle]\nfuel = 'coal'\ndisplacement = 2.0\n" + SHEET.replace("12 bar", "12 furlong", 1) + "strokes = 4\n"
    with pytest.raises(CaseError) as caught:
        read(text)
    lines = [fault.line for fault in caught.value.faults]
    assert len(lines) == 4
    assert lines == sorted(lines, key=lambda line: line or 0)
    assert [f.place for f in caught.value.faults][2] == "compression[1].dry_reading.1"


def test_bom_and_windows_line_ends_are_fine() -> None:
    plain = read(SOURCE)
    assert read(b"\xef\xbb\xbf" + SOURCE).digest == plain.digest
    assert read(SOURCE.replace(b"\n", b"\r\n")).digest == plain.digest


def test_an_empty_file_is_an_empty_case() -> None:
    assert read("").sheets == ()


def test_missing_files_and_folders_are_faults(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(CaseError):
            load(path, catalogue=bundled().catalogue)


def test_junk_is_refused_quickly_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "junk.toml"
    path.write_bytes(b"\xde\xad" * 5_000_000)
    before = time.perf_counter()
    with pytest.raises(CaseError, match=r"10\.0 MB"):
        load(path, catalogue=bundled().catalogue)
    assert path.stat().st_size == 10_000_000
    assert time.perf_counter() - before < 5.0


def test_units_and_order_leave_the_digest_alone() -> None:
    one = read(SHEET)
    other = read('[[compression]]\ndry_reading = {2 = "1200 kPa", 1 = "1.2 MPa"}\ndate = 2026-05-04\n')
    assert one.digest == other.digest
    assert one.sheets[0].id == other.sheets[0].id
    assert read(SHEET.replace("12 bar", "12.1 bar", 1)).digest != one.digest


def test_repeats_and_instrument_give_the_published_uncertainty() -> None:
    """12.1, 12.3, 11.8 bar on class 1.6 of span 25 bar, resolution 0.1: u 0.2728 (JCGM 100:2008, computed by hand)."""
    case = read(
        '[[instrument]]\nid = "g"\nmeasures = "pressure_gauge"\nspan = "25 bar"\nclass = 1.6\nresolution = "0.1 bar"\n'
        '[[compression]]\ndate = 2026-05-04\ninstrument = "g"\n'
        'dry_reading = {1 = ["12.1 bar", "12.3 bar", "11.8 bar"]}\n'
    )
    reading = case.sheets[0].reading("dry_reading", "1")
    assert reading is not None
    assert reading.u is not None
    assert reading.value == pytest.approx(12.0667e5, rel=1e-4)
    assert reading.u == pytest.approx(0.2728e5, rel=2e-4)


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_a_case_survives_its_own_tables(path: Path) -> None:
    catalogue = bundled().catalogue
    case = load(path, catalogue=catalogue, today=TODAY)
    again = from_dict(to_dict(case, catalogue=catalogue), catalogue=catalogue, today=TODAY)
    assert [s.values for s in again.sheets] == [s.values for s in case.sheets]
    assert again.vehicle == case.vehicle
    assert again.repairs == case.repairs


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_mutated_files_give_a_case_or_a_case_error(data: st.DataObject) -> None:
    raw = bytearray(SOURCE)
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(raw) - 1))
        action = data.draw(st.sampled_from(["change", "delete", "insert", "cut"]))
        if action == "change":
            raw[at] = data.draw(st.integers(0, 255))
        elif action == "delete":
            del raw[at : at + data.draw(st.integers(1, 30))]
        elif action == "insert":
            raw[at:at] = data.draw(st.binary(max_size=12))
        else:
            del raw[at:]
        if not raw:
            break
    try:
        found = read(bytes(raw))
    except CaseError as error:
        problems = [fault.problem for fault in error.faults]
    else:
        problems = [found.digest]
    assert problems
    assert all(problems)
