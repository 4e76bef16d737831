"""The words of a reading: plain, once, and with what to write."""

from __future__ import annotations

from tests.plugins.fault_memory.memory_cases import SIX, clean, engine, register, view, with_codes

from loadworthy.outputs.text import register_text


def test_what_a_code_does_like_another_is_said_in_full() -> None:
    found = view(with_codes(("P016F", "P0350", "P2097")))
    texts = {rule: found.one(rule).text for rule in ("p016f", "p0350", "p2097")}
    assert "nothing to draw on" in texts["p016f"]
    assert "spark energy is missing where pressure is highest, shared supply likely" in texts["p0350"]
    assert "towards rich: heat load" in texts["p2097"]
    assert not [text for text in texts.values() if "As " in text]


def test_a_place_is_named_once() -> None:
    assert view(with_codes(("P0301",))).one("p0301", "cylinder 1").text.count("cylinder 1") == 1
    assert "at bank 1: " in view(with_codes(("P0420",)), vehicle=SIX).one("p0420", "bank 1").text


def test_unlisted_codes_of_one_kind_share_their_advice() -> None:
    text = view(with_codes(("P1234", "P1235", "B1234"))).one("unlisted").text
    assert text.count("maker's own code") == 1
    assert "P1234 confirmed (engine), P1235 confirmed (engine): maker's own code" in text


def test_one_missing_fact_is_asked_for_once() -> None:
    vehicle = engine(built_for_ethanol=False)
    advice = view(with_codes(("P0300", "P0301", "P0302")), vehicle=vehicle).advice
    assert advice == (
        "write loads_at_misfire in [[fault_memory]]: it tells whether the codes mean misfire at load only, or misfire "
        "at idle only"
    )
    assert view(clean()).advice == ""


def test_what_is_to_be_measured_is_said_as_such() -> None:
    advice = view(with_codes(("P0171",)), vehicle=engine(built_for_ethanol=False)).advice
    assert advice == (
        "measure the alcohol content of the fuel in the tank: it tells whether the codes mean alcohol in ordinary "
        "petrol engine"
    )


def test_gaps_that_one_answer_fills_take_one_place_of_what_to_do_first() -> None:
    found = register(with_codes(("P1234", "P1235", "P1236")), plan={"torque": {"3000 rpm": "335 N m"}})
    first = register_text(found).partition("\nWhat to do first")[2].partition("\nRisks")[0]
    assert first.count("fault_memory.unlisted") == 1
    assert len([gap for gap in found.gaps if gap.id.startswith("code_meaning:")]) == 3


def test_a_code_of_another_fuel_asks_for_the_facts_of_the_vehicle() -> None:
    text = view(with_codes(("P0171", "P0ABC")), vehicle=engine(fuel="diesel_b7")).one("unlisted").text
    assert "P0171 confirmed (engine): of another fuel or induction: check vehicle.fuel" in text
    assert "P0ABC confirmed (engine): standard code that is not in the table" in text
