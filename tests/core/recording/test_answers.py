"""How a typed line becomes what is written: form only, the reader of cases judges the rest."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
import recording.bench_check as bench_check
from hypothesis import given
from hypothesis import strategies as st

from loadworthy.declarations import Field
from loadworthy.recording.answers import AnswerError, read, shown_unit, speed_key
from loadworthy.units import KINDS, display_unit, parse, to_unit

FIELDS = {field.name: field for field in bench_check.BENCH.fields}


@pytest.mark.parametrize(
    ("name", "text", "unit", "meant"),
    [
        ("grip", "12.9", "bar gauge", "12.9 bar gauge"),
        ("grip", "12,9", "bar gauge", "12,9 bar gauge"),
        ("grip", " 12.9 +- 0.2 ", "bar gauge", "12.9 bar gauge +- 0.2"),
        ("grip", "12.9 ± 2 %", "bar gauge", "12.9 bar gauge ± 2 %"),
        ("grip", "178 psi", "bar gauge", "178 psi"),
        ("grip", "12.9; 13.1 bar", "bar gauge", ["12.9 bar gauge", "13.1 bar"]),
        ("grip", "178", "", 178),
        ("grip", '["12 bar", "13 bar"]', "bar gauge", ["12 bar", "13 bar"]),
        ("share", "0.12", "", 0.12),
        ("lengths", "1 mm; 2", "mm", ["1 mm", "2 mm"]),
        ("factor", "1.5", "", 1.5),
        ("factor", "-2", "", -2),
        ("strokes", "6", "", 6),
        ("order", "1 3, 4;2", "", [1, 3, 4, 2]),
        ("order", "[1, 3]", "", [1, 3]),
        ("layout", "1 3 5", "", [[1, 3, 5]]),
        ("layout", "[1, 3]", "", [[1, 3]]),
        ("layout", "[[1, 3], [2]]", "", [[1, 3], [2]]),
        ("state", "Shut tight", "", "shut_tight"),
        ("state", "ajar", "", "ajar"),
        ("marks", "a, B", "", ["a", "b"]),
        ("clean", "Yes", "", True),
        ("clean", "n", "", False),
        ("since", "2026-05-04", "", datetime.date(2026, 5, 4)),
        ("since", "4.5.2026", "", "4.5.2026"),
        ("at", "9:30", "", datetime.time(9, 30)),
        ("at", "09:30:05", "", datetime.time(9, 30, 5)),
        ("at", "late", "", "late"),
        ("must", 'he said "go"', "", 'he said "go"'),
        ("must", '"quoted"', "", "quoted"),
        ("must", "[1]", "", "[1]"),
        ("pull", "2000: 300; 3000 rpm: 320 lb ft", "N m", {"2000 rpm": "300 N m", "3000 rpm": "320 lb ft"}),
        ("points", '[{load = "1 kN"}]', "", [{"load": "1 kN"}]),
        ("spot", '{load = "1 kN"}', "", {"load": "1 kN"}),
    ],
)
def test_what_a_line_means(name: str, text: str, unit: str, meant: Any) -> None:
    found = read(text, FIELDS[name], unit)
    assert found == meant
    assert type(found) is type(meant)


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("factor", "1,5", r"write 1\.5"),
        ("factor", "nan", "is no number"),
        ("factor", "1_000", "is no number"),
        ("strokes", "six", "is no number"),
        ("clean", "maybe", "write yes or no"),
        ("points", "1 kN", r"\[\{load = "),
        ("trace", "1 2 3", r"every = "),
        ("pull", "300 N m", "no point of a curve"),
        ("pull", "2000 rpm:", "no point of a curve"),
    ],
)
def test_what_cannot_be_meant(name: str, text: str, words: str) -> None:
    with pytest.raises(AnswerError, match=words):
        read(text, FIELDS[name])


def test_a_toml_text_cannot_add_keys() -> None:
    text = '[1]\nother = "x"'
    assert read(text, FIELDS["must"]) == text


def test_today_and_yesterday() -> None:
    today = datetime.date.today()
    assert read("today", FIELDS["since"]) == today
    assert read("Yesterday", FIELDS["since"]) == today - datetime.timedelta(days=1)


def test_a_number_alone_as_the_key_of_a_point_is_in_rpm() -> None:
    assert (speed_key("2000"), speed_key("25 rev/s")) == ("2000 rpm", "25 rev/s")


@given(st.sampled_from(sorted(KINDS)), st.sampled_from(["si", "us"]), st.floats(0.1, 1000.0))
def test_a_bare_number_is_in_the_unit_shown(kind: str, system: str, number: float) -> None:
    field = Field("x", "quantity", kind=kind)
    text = read(f"{number:.3f}", field, shown_unit(field, system))
    amount = parse(text if isinstance(text, str) else repr(text), kind)
    assert to_unit(amount.value, display_unit(kind, system), kind) == pytest.approx(float(f"{number:.3f}"), abs=1e-9)


@given(st.sampled_from(sorted(FIELDS)), st.text(max_size=30))
def test_any_line_gives_a_value_or_says_what_to_write(name: str, text: str) -> None:
    told = None
    try:
        read(text, FIELDS[name], shown_unit(FIELDS[name], "si"))
    except AnswerError as error:
        told = error
    assert told is None or (told.problem and told.write)
