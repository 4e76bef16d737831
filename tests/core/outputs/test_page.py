"""Lines of text: never too long, nothing lost."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from loadworthy.outputs.page import columns, labelled, printable, sentence, thinned, wrap
from loadworthy.outputs.words import in_prose, percent, shown, spread, whole

WORDS = st.lists(st.text(st.characters(codec="utf-8"), max_size=30), max_size=30).map(" ".join)


@given(WORDS, st.integers(0, 10), st.integers(0, 10), st.integers(12, 80))
def test_wrapping_keeps_the_width_and_every_character(text: str, indent: int, hang: int, width: int) -> None:
    lines = wrap(text, " " * indent, " " * hang, width)
    assert all(len(line) <= width for line in lines)
    assert all(char.isprintable() for line in lines for char in line)
    assert "".join("".join(lines).split()) == "".join(printable(text).split())


@given(st.lists(st.tuples(st.text(max_size=8), st.text(max_size=8), WORDS), max_size=6))
def test_columns_keep_the_width(rows: list[tuple[str, str, str]]) -> None:
    assert all(len(line) <= 80 for line in columns(rows, right=(1,)))


def test_units_stay_with_their_numbers_and_ids_in_one_piece() -> None:
    assert wrap("it may carry 340 N m", width=18) == ["it may carry", "340 N m"]
    assert wrap("harm in 11 % of them", width=10) == ["harm in", "11 % of", "them"]
    assert wrap("of the two [loose-post@post 1]", width=21) == ["of the two", "[loose-post@post 1]"]
    assert wrap("[an id that is far too long for one line]", width=12)[0] == "[an id that"


@given(st.integers(0, 60), st.sets(st.integers(0, 59)), st.integers(2, 20))
def test_thinning_keeps_ends_and_what_matters(count: int, keep: set[int], most: int) -> None:
    keep = {i for i in keep if i < count}
    chosen = thinned(count, keep, most)
    assert chosen == sorted(set(chosen))
    assert all(0 <= i < count for i in chosen)
    if count:
        assert {0, count - 1} <= set(chosen)
        assert keep <= set(chosen) or count <= most
    assert len(chosen) <= max(most, len(keep) + 2)


@given(st.floats(0.0, 1.0))
def test_percent_is_right_to_two_digits_and_never_rounds_to_certainty(p: float) -> None:
    text = percent(p)
    number = float(text.removesuffix(" %").removeprefix("over ").removeprefix("under "))
    if text.startswith("over"):
        assert 0.99 < p < 1.0
    elif text.startswith("under"):
        assert 0.0 < p < 1e-6
    else:
        assert abs(number - 100.0 * p) <= 0.051 * 100.0 * p + 1e-12


def test_sentences_and_labels() -> None:
    assert sentence("") == ""
    assert sentence("a thing. ") == "A thing."
    assert labelled("a", "b", width=4) == ["a   b"]


def test_values_in_both_systems() -> None:
    # Conversions: NIST SP 811 (2008), appendix B.8; 1 bar = 14.5038 psi, 1 N m = 0.737562 lbf ft, 1 kW = 1.34102 hp.
    assert shown(1e5, "pressure_difference", "us") == "14.5 psi"
    assert shown(100.0, "torque", "us") == "73.8 lb ft"
    assert shown(1e3, "power", "us", 6) == "1.34102 mech hp"
    assert shown(1.609344e6, "distance", "us") == "1000 mi"
    assert spread(5.0, "temperature", "us") == "9.00 degF"
    assert whole(345.4, "torque", "us") == "255"
    assert in_prose("hold at 300 N m, 12.3 bar and 60 degC", "us") == "hold at 221 lb ft, 178 psi and 140 degF"
    assert in_prose("at 3000 rpm", "us") == "at 3000 rpm"
    assert in_prose("bar 12.3 bars of 1.2 N mm, sheet bench:2026-05-04.level", "us").endswith("bench:2026-05-04.level")
