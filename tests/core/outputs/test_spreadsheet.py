"""The table for spreadsheets: everything on a register, numbers as numbers, and nothing that is run as a formula."""

from __future__ import annotations

import csv
import functools
import io
import re
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shown import register

from loadworthy import Case, assess
from loadworthy.outputs.page import printable
from loadworthy.outputs.spreadsheet import harmless, line, registers_csv
from loadworthy.outputs.spreadsheet_rows import COLUMNS, ITEMS
from loadworthy.outputs.view import View
from loadworthy.record import evolve
from support import DEMOS, bundled

if TYPE_CHECKING:
    from pathlib import Path

    from loadworthy import Register

NUMBERS = (
    *("rank", "low", "high", "u", "speed", "today", "planned", "probability", "severity"),
    *("failure_probability", "added_by_plan", "expected_loss"),
)
#: OWASP, CSV injection: what a cell must not begin with; an apostrophe before it makes it text.
FORMULA = re.compile('[\\s"]*[=+\\-@\t\r\uff1d\uff0b\uff0d\uff20]')


@functools.cache
def demo(path: Path) -> Register:
    return assess(Case.load(path, catalogue=bundled().catalogue), host=bundled())


def rows(*registers: Register, system: str = "si") -> list[dict[str, str]]:
    text = registers_csv(registers, system=system)
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def of(table: list[dict[str, str]], item: str) -> list[dict[str, str]]:
    return [row for row in table if row["item"] == item]


def shorter(found: Register, id: str) -> str:
    return View(found, "si").id(id)


@pytest.mark.parametrize("path", [*DEMOS, None], ids=lambda path: path.stem if path else "everything")
def test_everything_on_the_register_is_in_the_table(path: Path | None) -> None:
    found = demo(path) if path else register()
    data, table = found.to_dict(), rows(found)
    assert {row["item"] for row in table} <= set(ITEMS)

    def ids(item: str) -> list[str]:
        return [row["id"] for row in of(table, item)]

    def texts(item: str) -> list[str]:
        return [row["text"] for row in of(table, item)]

    assert {row["outcome"] for row in table} == {data["outcome"]}
    assert {row["as_of"] for row in table} == {data["as_of"]}
    for item, name in (
        ("risk", "risks"),
        ("not looked into", "not_looked_into"),
        ("ceiling", "ceilings"),
        ("gap", "gaps"),
        ("gate", "gates"),
        ("evidence", "required_evidence"),
        ("changed limit", "limits_changed"),
        ("plugin", "plugins"),
    ):
        assert ids(item) == [one["id"] for one in data[name]], item
    assert ids("lift step") == [step["until"] for step in data["lift_steps"]]
    assert ids("not lifted") == data["lift_blocked_by"]
    assert ids("failure") == [one["plugin"] for one in data["plugin_failures"]]
    assert ids("waiver") == [one["what"] for one in data["waivers"]]
    assert ids("struck out") == [one["sheet"] for one in data["struck_out"]]
    assert ids("assumption") == [one["what"] for one in data["assumptions"]]
    assert texts("advice") == [one["text"] for one in data["advice"]]
    assert texts("note") == data["notes"]
    assert [float(row["value"]) for row in of(table, "unlisted")] == [data["unlisted"]]
    for item, name in (("fact", "outcome_reasons"), ("deciding fact", "deciding")):
        assert [(row["level"], row["kind"]) for row in of(table, item)] == [
            (f["outcome"], f["code"]) for f in data[name]
        ]
    # A finding stands once, however many risks it bears on.
    findings = {one["id"]: one for one in data["findings"]}
    bears_on: dict[str, list[str]] = {}
    for risk in (*data["risks"], *data["not_looked_into"]):
        findings |= {one["id"]: one for one in risk["findings"]}
        for one in risk["findings"]:
            bears_on.setdefault(one["id"], []).append(risk["id"])
    assert sorted(ids("finding")) == sorted(shorter(found, id) for id in findings)
    for row in of(table, "finding"):
        full = next(id for id in findings if shorter(found, id) == row["id"])
        assert row["of"] == "; ".join(bears_on.get(full, ()))
        assert row["level"] == findings[full]["grade"].replace("_", " ")
    readings = [used["place"] for one in findings.values() for used in one["readings"]]
    assert sorted(ids("reading")) == sorted(readings)
    limits = [one["limit"]["id"] for one in findings.values() if one["limit"]]
    assert sorted(ids("limit")) == sorted(limits)
    weights = {(w["cause"], w["subject"] or "", w["finding"]) for one in findings.values() for w in one["weights"]}
    told = {(row["id"].partition("@")[0], row["subject"], row["of"]) for row in of(table, "weight")}
    assert {(cause, subject, shorter(found, id)) for cause, subject, id in weights} <= told
    assert ids("symptom") == [shorter(found, one["id"]) for one in data["symptoms"]]
    assert len(ids("suspect")) == sum(len(one["shares"]) for one in data["symptoms"])
    speeds = data["allowed"]["speed"]
    assert [float(row["speed"]) / 60.0 for row in of(table, "allowed")] == pytest.approx(speeds)
    over_speed = [torque for one in data["ceilings"] for torque in one["torque"]["value"]]
    told_over_speed = [float(row["value"]) if row["value"] else None for row in of(table, "ceiling at speed")]
    assert len(told_over_speed) == len(over_speed)
    assert all(
        a == pytest.approx(b) if b is not None else a is None for a, b in zip(told_over_speed, over_speed, strict=True)
    )
    demand = data["demand"] or {"quantities": {}, "speed": []}
    wanted = {(id, round(speed * 60.0, 6)) for id in demand["quantities"] for speed in demand["speed"]}
    assert {(row["id"], round(float(row["speed"]), 6)) for row in of(table, "demand")} == wanted
    digests = {row["id"]: row["text"] for row in of(table, "digest")}
    assert digests == {"case": data["case_digest"], "house": data["house_digest"]}


def test_several_cases_stand_under_one_head() -> None:
    registers = [demo(path) for path in DEMOS]
    text = registers_csv(registers)
    assert text.count('"case","file"') == 1
    assert text.startswith(",".join(f'"{name}"' for name in COLUMNS) + "\r\n")
    assert "\n" not in text.replace("\r\n", "")
    table = rows(*registers)
    assert [row["file"] for row in of(table, "outcome")] == [path.name for path in DEMOS]
    assert [row["outcome"] for row in of(table, "outcome")] == [found.outcome for found in registers]
    assert len(of(table, "risk")) == sum(len(found.risks) for found in registers)


@pytest.mark.parametrize("system", ["si", "us"])
def test_numbers_are_numbers(system: str) -> None:
    for row in rows(register(), *map(demo, DEMOS), system=system):
        for column in NUMBERS:
            if row[column]:
                float(row[column])
        if row["unit"] and row["value"] and row["item"] not in ("ceiling",):
            float(row["value"])


def test_numbers_stand_in_the_readers_units_with_their_unit() -> None:
    si, us = (rows(register(), system=system) for system in ("si", "us"))
    (si_limit,), (us_limit,) = (of(table, "changed limit") for table in (si, us))
    assert (si_limit["value"], si_limit["low"], si_limit["unit"]) == ("1.8", "2", "bar gauge")
    # 1 bar = 14.5038 psi: NIST SP 811 (2008), appendix B.8
    assert float(us_limit["value"]) == pytest.approx(1.8 * 14.5038, abs=1e-3)
    assert us_limit["unit"] == "psi gauge"
    si_reading, us_reading = (next(r for r in of(t, "reading") if "level[1]" in r["id"]) for t in (si, us))
    assert (si_reading["value"], si_reading["u"], si_reading["unit"]) == ("1.72", "0.2", "bar gauge")
    assert float(us_reading["u"]) == pytest.approx(0.2 * 14.5038, abs=1e-3)
    si_allowed, us_allowed = (of(t, "allowed")[0] for t in (si, us))
    assert (si_allowed["value"], si_allowed["unit"], si_allowed["speed"]) == ("200", "N m", "1000")
    assert float(us_allowed["today"]) == pytest.approx(200 * 0.737562, abs=1e-3)
    assert us_allowed["torque_unit"] == "lb ft"


# Formulas -------------------------------------------------------------------------------------------------------------

HOSTILE = st.one_of(
    st.text(),
    st.text("=+-@\t\r\n \"';,|\uff1d\uff0bab1", max_size=12),
    st.builds(
        lambda before, formula: before + formula,
        st.text(" \"'\t\u200b;", max_size=4),
        st.sampled_from(["=1+1", "+1", "-1", "@SUM(A1)", "=cmd|' /C calc'!A0", '=HYPERLINK("http://x")', "\uff1d1"]),
    ),
)


@given(HOSTILE)
def test_no_text_begins_a_formula_and_none_is_lost(text: str) -> None:
    (cells,) = csv.reader(io.StringIO(line(["a", text, 1.5, text]), newline=""), strict=True)
    assert cells[0] == "a"
    assert cells[2] == "1.5"
    assert cells[1] == cells[3]
    assert not FORMULA.match(cells[1])
    assert all(char.isprintable() for char in cells[1])
    assert cells[1].replace("'", "") == " ".join(printable(text).split()).replace("'", "")


@given(HOSTILE)
def test_not_even_where_semicolons_part_the_cells(text: str) -> None:
    for cell in line(["a", text, "b"]).rstrip("\r\n").split(";")[1:]:
        assert not FORMULA.match(cell)


def test_texts_of_a_case_are_harmless_in_every_column() -> None:
    plain = register()
    text = '=HYPERLINK("http://example.org");-1'
    hostile = evolve(
        plain,
        case=evolve(
            plain.case, name=text, path="/tmp/=1+1", voids=tuple(evolve(v, why=text) for v in plain.case.voids)
        ),
        waivers=tuple(seen._replace(waiver=evolve(seen.waiver, who=text, why=text)) for seen in plain.waivers),
        notes=(text,),
    )
    table = rows(hostile)
    assert len(table) == len(rows(plain)) + 1
    free = set(COLUMNS) - set(NUMBERS) - {"value"}
    assert not [row[column] for row in table for column in free if FORMULA.match(row[column])]
    assert table[0]["case"] == "'=HYPERLINK(\"http://example.org\");'-1"
    assert table[0]["file"] == "'=1+1"


def test_negative_numbers_stay_numbers() -> None:
    assert line([-1.5, 0, True, None, ""]) == '-1.5,0,"yes",,\r\n'
    assert line([float("inf")]) == "\r\n"
    assert harmless("-5 degC") == "'-5 degC"


def test_a_value_in_words_is_in_words() -> None:
    table: list[dict[str, Any]] = [*rows(register())]
    received = [row for row in of(table, "ceiling") if row["value"] == "as_received"]
    assert received
    assert {row["unit"] for row in received} == {""}
