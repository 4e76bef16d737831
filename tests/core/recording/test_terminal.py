"""The dialogue as a person meets it: a real process on a pseudo-terminal."""

from __future__ import annotations

import datetime
import os
import sys
from pathlib import Path

import pytest

from loadworthy import Case
from loadworthy.cli import run
from support import DEMOS, bundled

if sys.platform == "win32":
    pytest.skip("no pseudo-terminals there", allow_module_level=True)

from recording.terminal import Terminal

DEMO = next(path for path in DEMOS if path.stem == "petrol-turbo-limited")
TEXT = DEMO.read_text(encoding="utf-8")
BARE = TEXT[: TEXT.index("[[modification]]")]
MORE = "(Enter: no more): "


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = tmp_path / "car.toml"
    path.write_text(BARE, encoding="utf-8")
    return path


def load(path: Path) -> Case:
    return Case.load(path, catalogue=bundled().catalogue)


def checked(path: Path) -> Case:
    assert run(["check", str(path)]) == 0
    return load(path)


HEAD = (("date (Enter: today): ", "2026-05-06"), ("time: ", ""), ("odometer [km]: ", "84500"), ("by: ", "M. K."))


def test_a_whole_dialogue_equals_the_case_by_hand(case: Path) -> None:
    with Terminal("record", str(case), "compression") as person:
        person.expect("CAUTION: disable injection and ignition")
        person.play(
            ("date (Enter: today): ", "2199-05-06"),
            ("date (Enter: today): ", "6.5.2026"),
            *HEAD,
            ("instrument: ", "gauge"),
            ("instrument: ", "compression-gauge"),
            ("conditions: ", "?"),
            ("conditions: ", ""),
            ("cylinder 1 [bar gauge]: ", "12.9"),
            ("cylinder 2 [bar gauge]: ", "175"),
        )
        assert 'did you mean "175 psi"' in person.expect("cylinder 2 [bar gauge]: ")
        person.send("175 psi")
        person.play(
            ("cylinder 3 [bar gauge]: ", "20"),
            ("keep it? y or n: ", "n"),
            ("cylinder 3 [bar gauge]: ", "12.8 bar abs"),
            ("cylinder 3 [bar gauge]: ", "<"),
            ("cylinder 2 [bar gauge]: ", "174 psi"),
            ("cylinder 3 [bar gauge]: ", "12.8"),
            ("cylinder 4 [bar gauge]: ", "+"),
            (f"again [bar gauge] {MORE}", "12.7"),
            (f"again [bar gauge] {MORE}", ""),
            ("cylinder 4 [bar gauge]: ", "20"),
            ("keep it? y or n: ", "y"),
            ("cylinder 1 [bar gauge]: ", "12.8 +- 0.2"),
            ("cylinder 2 [bar gauge]: ", "."),
        )
        assert person.end() == 0
        assert "finds no errors" in " ".join(person.seen.split())
        assert '"20 bar" is unusual' in " ".join(person.seen.split("written to")[1].split())
    hand = case.with_name("hand.toml")
    hand.write_text(
        f'{BARE}\n[[compression]]\ndate = 2026-05-06\nodometer = "84500 km"\nby = "M. K."\n'
        'instrument = "compression-gauge"\n'
        'dry_reading = {1 = "12.9 bar", 2 = "174 psi", 3 = ["12.8 bar", "12.7 bar"], 4 = "20 bar"}\n'
        'repeat_reading = {1 = "12.8 bar +- 0.2"}\n',
        encoding="utf-8",
    )
    assert checked(case).digest == load(hand).digest
    assert case.read_text(encoding="utf-8").startswith(BARE)


@pytest.mark.parametrize(("key", "code"), [(b"\x03", 130), (b"\x04", 0)])
def test_an_interruption_loses_no_line_and_is_gone_on_with(case: Path, key: bytes, code: int) -> None:
    with Terminal("record", str(case), "compression") as person:
        person.play(*HEAD, ("instrument: ", ""), ("conditions: ", "cold"), ("cylinder 1 [bar gauge]: ", "12.9"))
        person.expect("cylinder 2 [bar gauge]: ")
        person.press(key)
        assert person.end() == code
        assert "is not finished; what was saved is in the file" in " ".join(person.seen.split())
        assert "Traceback" not in person.seen
    (sheet,) = checked(case).sheets
    assert sheet.unfinished
    assert (sheet.conditions, sheet.by) == ("cold", "M. K.")
    assert sheet.get("dry_reading")["1"].value == 12.9e5
    with Terminal("record", str(case), "compression") as person:
        person.play(("is not finished; go on with it? y or n: ", "y"), ("time: ", ""), ("instrument: ", ""))
        person.play(("cylinder 2 [bar gauge]: ", "12.8"), ("cylinder 3 [bar gauge]: ", "."))
        assert person.end() == 0
    (sheet,) = checked(case).sheets
    assert not sheet.unfinished
    assert sheet.id.startswith("compression:2026-05-06~")
    assert sheet.get("dry_reading")["2"].value == 12.8e5


def test_an_unfinished_sheet_can_be_left_alone(case: Path) -> None:
    assert run(["record", str(case), "compression", "--date", "2026-05-04", "--unfinished"]) == 0
    with Terminal("record", str(case), "compression") as person:
        person.play(("go on with it? y or n: ", "n"), ("date (Enter: today): ", "2026-05-05"), ("time: ", "."))
        assert person.end() == 0
    assert [(sheet.date.day, sheet.unfinished) for sheet in checked(case).sheets] == [(4, True), (5, False)]


def test_an_interruption_before_the_first_line_writes_nothing(case: Path) -> None:
    for key in (b"\x03", b"\x04"):
        with Terminal("record", str(case), "compression") as person:
            person.expect("date (Enter: today): ")
            person.press(key)
            person.end()
    assert case.read_text(encoding="utf-8") == BARE


def test_a_repair_that_lacks_something_stays_unfinished(case: Path) -> None:
    with Terminal("record", str(case), "repair") as person:
        person.play(("date (Enter: today): ", ""), ("what: ", "valve reseated"), (f"treats, first {MORE}", "."))
        assert person.end() == 2
        assert "treats is missing" in person.seen
    (repair,) = checked(case).repairs
    assert repair.unfinished
    assert repair.date == datetime.date.today()
    with Terminal("record", str(case), "repair", "--resume") as person:
        person.play((f"treats, first {MORE}", "ring-seal@cylinder 2"), (f"treats, next {MORE}", ""), ("time: ", "."))
        assert person.end() == 0
    assert not checked(case).repairs[0].unfinished


def test_a_new_case_by_prompts(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    with Terminal("new", str(path), "--units", "us") as person:
        person.play(
            ("name of the case (Enter: none): ", "Röd bil"),
            ("fuel: ", "coal"),
            ("fuel: ", "petrol_e10"),
            ("cylinder_count: ", "4"),
        )
        person.expect("saved: cylinder_count = 4")
        person.play(
            (": ", ""),
            ("\n", "."),
            ("speed of the next point [rpm] (Enter: no more): ", "2000"),
            ("torque at 2000 rpm [lb ft]: ", "240"),
            ("speed of the next point [rpm] (Enter: no more): ", ""),
            ("goal: ", "."),
        )
        assert person.end() == 0
        assert f"next: loadworthy record {path} SECTION" in " ".join(person.seen.split())
    case = checked(path)
    assert (case.name, case.vehicle["cylinder_count"]) == ("Röd bil", 4)
    assert case.plan["torque"].values[0] == pytest.approx(240 * 1.3558179483)
    assert '"240 lb ft"' in path.read_text(encoding="utf-8")


def test_a_new_case_that_is_interrupted_is_valid(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    with Terminal("new", str(path)) as person:
        person.play(("name of the case (Enter: none): ", "x"), ("fuel: ", "diesel_b7"))
        person.expect("\ncylinder_count: ")
        person.press(b"\x03")
        assert person.end() == 130
    assert checked(path).vehicle["fuel"] == "diesel_b7"


def test_an_ascii_terminal_and_text_that_is_none(case: Path) -> None:
    with Terminal("record", str(case), "compression", PYTHONUTF8="0", PYTHONIOENCODING="ascii", LC_ALL="C") as person:
        person.play(("date (Enter: today): ", "2026-05-06"), ("time: ", ""), ("odometer [km]: ", ""))
        person.expect("by: ")
        person.press("Müller\n".encode())
        person.expect("by: ")
        person.send("Muller")
        person.play(("instrument: ", "."))
        assert person.end() == 0
        assert "Traceback" not in person.seen
    assert checked(case).sheets[0].by == "Muller"


def test_options_at_a_terminal_ask_nothing(case: Path) -> None:
    with Terminal("record", str(case), "event", "--set", "kind=shock", "--date", "2026-05-06") as person:
        assert person.end() == 0
    assert checked(case).events[0].kind == "shock"


def test_two_people_at_once(case: Path) -> None:
    with Terminal("record", str(case), "compression") as one, Terminal("record", str(case), "compression") as other:
        for person in (one, other):
            person.expect("date (Enter: today): ")
        for person in (one, other):
            person.send("2026-05-06")
        for step in HEAD[1:]:
            one.play(step)
            other.play(step)
        for person, value in ((one, "12.9"), (other, "12.5")):
            person.play(("instrument: ", ""), ("conditions: ", ""), ("cylinder 1 [bar gauge]: ", value))
            person.play(("cylinder 2 [bar gauge]: ", "."))
        assert (one.end(), other.end()) == (0, 0)
    values = {sheet.get("dry_reading")["1"].value for sheet in checked(case).sheets}
    assert values == {12.9e5, 12.5e5}


def test_a_file_that_cannot_be_written_is_told(case: Path) -> None:
    if os.geteuid() == 0:
        case.with_name("car.toml.lock").mkdir()
    else:
        case.chmod(0o400)
    with Terminal("record", str(case), "compression") as person:
        person.play(("date (Enter: today): ", "2026-05-06"))
        assert person.end() == 2
        assert "cannot be written" in " ".join(person.seen.split())
    assert case.read_text(encoding="utf-8") == BARE
