"""The register as people read it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from attrs import evolve
from shown import CASE, register

from loadworthy.outputs.text import register_text
from loadworthy.outputs.why import ids, why_text
from support import DEMOS, bundled

if TYPE_CHECKING:
    from loadworthy import Register

HERE = Path(__file__).parent
REPAIR = """
[[repair]]
id = "r1"
date = 2026-05-05
what = "post 1 tightened"
treats = ["loose-post@post 1"]
"""
NO_BASE = CASE.replace("base_torque_measured", "#")
NO_PLAN = CASE.partition("[vehicle]")[0]
#: Every synthetic case that is shown here, by name.
CASES = {"everything": CASE, "repaired": CASE + REPAIR, "no base": NO_BASE, "no plan": NO_PLAN}


def demo(path: Path) -> Register:
    from loadworthy import Case, assess

    return assess(Case.load(path, catalogue=bundled().catalogue), host=bundled())


def part(text: str, title: str) -> str:
    """The lines below a heading, up to the next blank line."""
    found = re.search(rf"^{re.escape(title)}[^\n]*\n(.*?)(?:\n\n|\Z)", text, re.MULTILINE | re.DOTALL)
    assert found is not None, title
    return found[1]


@pytest.mark.parametrize("system", ["si", "us"])
def test_golden_register(system: str) -> None:
    """To renew after a change that is meant: python tests/core/outputs/renew.py, and read the difference."""
    assert register_text(register(), system=system) == (HERE / f"everything_{system}.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("system", ["si", "us"])
@pytest.mark.parametrize("name", CASES)
def test_80_columns_and_no_control_codes(name: str, system: str) -> None:
    found = register(CASES[name])
    texts = [register_text(found, system=system)]
    texts += [why_text(found, id, system=system) or "" for names in ids(found).values() for id in names]
    for text in texts:
        assert text.endswith("\n")
        assert max(map(len, text.splitlines())) <= 80
        assert all(char.isprintable() or char == "\n" for char in text)
        assert not any(line != line.rstrip() for line in text.splitlines())


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demo_cases_fit_80_columns(path: Path) -> None:
    found = demo(path)
    for system in ("si", "us"):
        assert max(map(len, register_text(found, system=system).splitlines())) <= 80


def test_free_text_of_a_case_cannot_steer_a_terminal() -> None:
    # The reader of files refuses such text; a program that builds cases itself need not.
    nasty = "a\x1b[31mred\x1b]0;title\x07 \u202e back\u200b\nOutcome: CLEAR\r\x9b2J"
    found = register()
    case = evolve(
        found.case,
        name=nasty,
        sheets=tuple(evolve(sheet, by=nasty, note=nasty) for sheet in found.case.sheets),
        voids=tuple(evolve(void, why=nasty) for void in found.case.voids),
    )
    waivers = tuple(view._replace(waiver=evolve(view.waiver, who=nasty, why=nasty)) for view in found.waivers)
    found = evolve(found, case=case, waivers=waivers, notes=(nasty,))
    text = register_text(found)
    assert text.count("\nOutcome: ") == 1
    text += "".join(why_text(found, id) or "" for id in ("bench-1", "look", "posts.level@post 1"))
    assert text.count("title") > 3
    assert all(char.isprintable() or char == "\n" for char in text)


def test_answers_stand_in_the_promised_order() -> None:
    text = register_text(register())
    titles = [
        "Outcome: HOLD, repair first.",
        "What decides",
        "What to do first",
        "Risks, the worst first",
        "Order of suspicion",
        "Other findings",
        "Ceilings over speed",
        "What lifts the ceilings",
        "Gates",
        "Gaps in the evidence",
        "Did not run",
        "Not looked into",
        "Assumptions",
        "Limits that the house changed",
        "Waivers",
        "Sheets struck out",
        "Further advice",
        "Plan ",
    ]
    places = [text.index(f"\n{title}") for title in titles]
    assert places == sorted(places)


def test_first_things_carry_their_caution_once() -> None:
    first = part(register_text(register()), "What to do first")
    assert first.startswith("  1  Post loose, post 1 is the likeliest cause, but only possible. Find out\n")
    assert first.count("Caution: Stand clear of the posts.") == 1
    assert "Mend or remove the failed check: careless." in first


def test_what_is_likely_enough_is_mended_and_once_at_a_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """Then the remedy is named; what else is wrong at that place waits for the measurement after it."""
    monkeypatch.setattr("loadworthy.outputs.first.LIKELY", 0.3)
    first = part(register_text(register()), "What to do first")
    assert first.startswith("  1  Post loose, post 1 (possible). Tighten it in sequence.\n")
    assert "Post worn, post 1" not in first


def test_a_finding_is_told_once_and_then_named() -> None:
    risks = part(register_text(register()), "Risks, the worst first")
    assert risks.count("fix first: level 1.72 bar gauge") == 1
    assert "for it     posts.level@post 1 (above)" in risks
    assert risks.count("DANGER TO PERSONS") == 2


def test_what_the_plan_adds_is_told_apart_from_what_is_risked_anyway() -> None:
    found = register()
    risk = next(r for r in found.risks if r.id == "loose-post@post 1")
    words = " ".join(register_text(found).split())
    assert (
        f"{100 * risk.left_alone:.1f} % even if left alone, {100 * risk.added_by_plan:.1f} % added by the plan" in words
    )


def test_a_looser_house_limit_is_marked_where_it_was_used() -> None:
    text = register_text(register())
    assert "(looser house limit) [posts.level@post 2]" in " ".join(text.split())
    assert "1.80 bar gauge in place of 2.00 bar gauge, looser: our posts are short" in text
    assert "looser" not in register_text(register(house=""))


def test_a_repair_without_proof_is_told() -> None:
    text = " ".join(register_text(register(CASE + REPAIR)).split())
    assert "Proof of repair r1 (loose-post@post 1) by its retest is missing" in text
    assert "set aside by a repair" in (why_text(register(CASE + REPAIR), "loose-post@post 1") or "")


def test_without_base_torque_a_ceiling_stands_in_words() -> None:
    table = " ".join(part(register_text(register(NO_BASE)), "Ceilings over speed").split())
    assert "1000 ? 220 as received posts.level.as_received@post 1" in table
    # 170 kW / 1.1 / 0.5 kW per N m
    assert "3000 ? 390 as received, most 309 posts.level.as_received@post 1" in table
    assert "How much of the planned gain can be used is not known." in table


def test_without_plan_there_is_no_table() -> None:
    text = register_text(register(NO_PLAN))
    assert "Ceilings over speed: no table, plan or demand is unknown" in text
    assert "State the plan and today's torque over speed." in text


def test_us_units_reach_tables_and_prose() -> None:
    text = register_text(register(), system="us")
    assert "torque in lb ft" in text
    assert "level 24.9 psi gauge" in text  # 1.72 bar x 14.5038 psi/bar
    assert "bench at 108 degF" in text  # 42.5 degC
    assert "26.1 psi gauge in place of 29.0 psi gauge" in text  # 1.8 and 2.0 bar
    assert not re.search(r"\d (?:bar|N m|degC|kW|km)\b", text)


def test_a_clear_case_says_that_nothing_is_to_be_done() -> None:
    found = demo(next(path for path in DEMOS if path.stem == "petrol-six-clear"))
    text = register_text(found)
    assert "What to do first: nothing" in text
    assert "Risks, the worst first: none that any evidence speaks for" in text
    assert "Nothing cuts the plan at any speed." in text
    assert "what binds" not in text


# Every number can be asked for ---------------------------------------------------------------------------------------

_NUMBER = re.compile(r"(?<![\w.@+~:\"-])\d+(?:\.\d+)?(?:e[-+]?\d+)?(?![\w:~])")
_COUNT = re.compile(
    r"\d+(?= (?:more|others?|findings?|ceilings?|speeds)\b)|of \d+\s+speeds|\d{4}-\d\d-\d\d|\(\d+ of \d+\s+speeds\)"
)


def _ids(text: str) -> list[str]:
    """The ids that a register names: in brackets, behind ``id``, at the end of the short lines."""
    joined = " ".join(text.split())
    found = [id for group in re.findall(r"\[([^][]+)\]", joined) for id in group.split(", ")]
    found += re.findall(r"^ +id +(\S.*)$", text, re.MULTILINE)
    found += re.findall(r"^  (?:high|serious|medium|low) .+ %  (\S.*)$", text, re.MULTILINE)
    short = text.partition("  Further, accused by the same findings\n")[2].partition("\n\n")[0]
    found += [
        line.split(maxsplit=2)[2].removeprefix("certain ").lstrip() for line in map(_after_number, short.splitlines())
    ]
    return found


def _after_number(line: str) -> str:
    return line.strip().partition("  ")[2].replace("nearly certain", "certain")


def _told(text: str) -> set[float]:
    return {float(token) for token in re.findall(r"\d+(?:\.\d+)?(?:e[-+]?\d+)?", text)}


def _reached(token: str, scale: float, known: set[float]) -> bool:
    value = float(token)
    digits = len(token.partition(".")[2])
    room = 0.5000001 * 10.0**-digits
    return any(abs(one * scale - value) <= room for one in known)


@pytest.mark.parametrize("system", ["si", "us"])
@pytest.mark.parametrize("path", [*DEMOS, None], ids=lambda path: path.stem if path else "everything")
def test_every_number_is_reachable(path: Path | None, system: str) -> None:
    """Method, section 12, invariant 11: each number of the text comes back in a derivation that the text names."""
    found = demo(path) if path else register()
    text = register_text(found, system=system)
    figures = ["outcome", "plan_class", "demand", "allowed"]
    named = dict.fromkeys([*_ids(text), *figures, *(sheet.id for sheet in found.case.sheets if sheet.id in text)])
    derived = []
    for id in named:
        # A bracket of a message may hold no id at all: the place of a fault, a table to write.
        answer = why_text(found, id, system=system)
        if answer is not None:
            derived.append(answer)
        elif id not in str(found.failures) and not any(id.strip("[]") in gap.write for gap in found.gaps):
            pytest.fail(f"{id} is named but cannot be asked for")
    known = _told("\n".join(derived))
    body = text.partition("\nPlan  ")[0].partition("\n")[2]
    body = re.sub(r"^ +\d+  ", "", body, flags=re.MULTILINE)
    body = re.sub(r"\[[^]]*\]", "", _COUNT.sub("", body))
    body = re.sub(r"\w+:[-\w:]+~\w+\S*", "", body)  # ids of sheets
    body = re.sub(r"careless\.py, line \d+", "", body)
    body = body.replace("under 0.0001 %", "")  # words for next to nothing
    missing = []
    for match in _NUMBER.finditer(body):
        scale = 100.0 if body[match.end() : match.end() + 2] == " %" else 1.0
        if not (_reached(match[0], scale, known) or (scale != 1.0 and _reached(match[0], 1.0, known))):
            missing.append(body[max(0, match.start() - 40) : match.end() + 10])
    assert missing == []


def test_a_step_that_lifts_nothing_says_so() -> None:
    text = register_text(demo(next(path for path in DEMOS if path.stem == "petrol-eight-gasket-hold")))
    ladder = " ".join(part(text, "What lifts the ceilings, in this order").split())
    assert "gains 0 N m" not in ladder
    assert "gains nothing by itself; then compression.consistency.as_received@cylinder 6 binds" in ladder


def test_a_rule_that_cleared_nothing_anywhere_is_told_once() -> None:
    """Twelve cylinders measured at an unknown cranking speed: one line for each reason, not one for each cylinder."""
    from loadworthy import Case, assess

    readings = {str(number): "13.0 bar +- 0.3" for number in range(1, 13)} | {"9": "10.1 bar +- 0.3"}
    tables = {
        "as_of": "2026-05-10",
        "vehicle": {"cylinder_count": 12, "fuel": "petrol_e5", "compression_spec_min": "10 bar"},
        "plan": {"torque": {"3000 rpm": "570 N m"}},
        "compression": [{"date": "2026-05-02", "dry_reading": readings, "throttle_state": "wide_open"}],
    }
    found = assess(Case.from_dict(tables, catalogue=bundled().catalogue), host=bundled())
    silent = part(register_text(found), "Did not run")
    words = " ".join(silent.split())
    assert "may clear nothing as it was measured: [compression.absolute: 11 times," in words
    assert "compression.single_high: 12 times]" in words
    assert len(silent.splitlines()) < 10
    assert "compression.absolute@cylinder 12" in " ".join(why_text(found, "compression.absolute").split())
    # The plan is stated: nobody is asked for it again.
    text = register_text(found)
    assert "Demand cannot be computed from what the case states" in " ".join(text.split())
    assert "State the plan" not in text


def test_a_ceiling_that_is_a_curve_shows_its_range() -> None:
    from loadworthy import Case, assess

    tables = {
        "as_of": "2026-05-10",
        "vehicle": {
            "fuel": "petrol_e5",
            "induction": "turbo",
            "displacement": "1998 cm3",
            "cylinder_count": 4,
            "compression_spec_nominal": "13 bar",
            "base_torque_measured": {"2000 rpm": "280 N m", "5000 rpm": "280 N m"},
        },
        "plan": {"torque": {"2000 rpm": "330 N m", "5000 rpm": "330 N m"}},
        "compression": [
            {"date": "2026-05-02", "dry_reading": {str(n): f"15.{n} bar +- 0.2" for n in range(1, 5)}},
        ],
    }
    found = assess(Case.from_dict(tables, catalogue=bundled().catalogue), host=bundled())
    ceilings = " ".join(part(register_text(found), "Ceilings over speed").split())
    assert re.search(r"manifold pressure at most [\d.]+ bar abs to [\d.]+ bar abs over speed;", ceilings)
    assert "never stored" not in ceilings


def test_a_test_that_nobody_declares_is_named_once_in_what_would_change() -> None:
    change = "no-such-test (no-such-test)"
    found = register()
    text = register_text(evolve(found, decision=found.decision._replace(would_change=(change,))))
    assert " ".join(text.split()).count("no-such-test") == 1
