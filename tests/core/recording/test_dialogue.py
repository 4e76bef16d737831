"""The dialogue without a terminal: prompts and answers as lists."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from recording.benched import CATALOGUE, HOST, VEHICLE, case_of, check, draft, rows, written

from loadworthy.casefile import append
from loadworthy.recording.answers import AnswerError
from loadworthy.recording.dialogue import Dialogue, Finished
from loadworthy.recording.draft import Draft
from loadworthy.recording.targets import members


class Talk:
    """Answers prompts from a list of (part of the prompt, answer); whatever is asked beside it is skipped.

    ``prompts`` and ``said`` are what a person would see.
    """

    def __init__(self, path: Path, *script: tuple[str, str], one: Draft | None = None, system: str = "si") -> None:
        self.draft = one or draft(path)
        self.script = list(script)
        self.prompts: list[str] = []
        self.said: list[str] = []
        case = case_of(path)
        self.dialogue = Dialogue(
            self.draft,
            members(HOST.subjects(case).values),
            case.vehicle,
            ask=self.ask,
            say=self.said.append,
            attach=self.attach,
            system=system,
        )

    def ask(self, prompt: str) -> str:
        self.prompts.append(prompt)
        if self.script and self.script[0][0] in prompt:
            return self.script.pop(0)[1]
        return ""

    @staticmethod
    def attach(path: str) -> dict[str, str]:
        if path == "missing.jpg":
            raise AnswerError("the file cannot be attached: there is no such file", "name a photo or paper")
        return {"path": path, "sha256": "ab" * 32}

    def hold(self, *names: str) -> list[str]:
        """Hold the dialogue over the named fields, or all that are asked; return what was said."""
        fields = [field for field in self.draft.target.asked if not names or field.name in names]
        self.dialogue.opening()
        self.dialogue.about(fields)
        assert self.script == [], "not everything was asked"
        return self.said


WHOLE = (
    ("date", "2026-05-04"),
    ("time", "9:30"),
    ("odometer", "84210"),
    ("by", "A. B."),
    ("must", "said"),
    ("grip", "12.9"),
    ("wheel 1", "11 +- 0.2"),
    ("wheel 2", "178 psi; 179 psi"),
    ("heat", "40"),
    ("share", "0.2"),
    ("lengths, first", "1"),
    ("lengths, next", "2; 3 cm"),
    ("factor", "1.5"),
    ("strokes", "6"),
    ("order, first", "1 2"),
    ("layout, first", "1 3"),
    ("layout, next", "2 4"),
    ("state", "shut tight"),
    ("wheel 1, first", "a"),
    ("wheel 1, next", "b"),
    ("wheel 2, first", "b"),
    ("clean", "no"),
    ("since", "2026-05-01"),
    ("at", "8:00"),
    ("speed of the next point", "2000"),
    ("pull at 2000 rpm", "300"),
    ("speed of the next point", "3000 rpm"),
    ("pull at 3000 rpm", "320 N m"),
    ("trace", '{every = "1 ms", unit = "A", values = [1, 2]}'),
    ("points 1, load", "1000"),
    ("points 1, word", "rough"),
    ("points 2, load", "2 kN"),
    ("points 2, heard", "y"),
    ("spot, load", "3 kN"),
    ("file, first", "a.jpg"),
    ("note", "all of it"),
)
HAND: dict[str, Any] = {
    "date": "2026-05-04",
    "time": "09:30:00",
    "odometer": "84210 km",
    "by": "A. B.",
    "must": "said",
    "grip": "12.9 bar",
    "each": {"1": "11 bar +- 0.2", "2": ["178 psi", "179 psi"]},
    "heat": "40 degC",
    "share": 0.2,
    "lengths": ["1 mm", "2 mm", "3 cm"],
    "factor": 1.5,
    "strokes": 6,
    "order": [1, 2],
    "layout": [[1, 3], [2, 4]],
    "state": "shut_tight",
    "marks": {"1": ["a", "b"], "2": ["b"]},
    "clean": False,
    "since": "2026-05-01",
    "at": "08:00:00",
    "pull": {"2000 rpm": "300 N m", "3000 rpm": "320 N m"},
    "trace": {"every": "1 ms", "unit": "A", "values": [1, 2]},
    "points": [{"load": "1 kN", "word": "rough"}, {"load": "2 kN", "heard": True}],
    "spot": {"load": "3 kN"},
    "file": {"path": "a.jpg", "sha256": "ab" * 32},
    "note": "all of it",
}


def test_every_type_of_field_by_prompts_equals_by_hand(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE)
    talk = Talk(path, *WHOLE)
    talk.hold()
    hand = written(tmp_path, VEHICLE, name="hand.toml")
    append(hand, "bench", HAND, catalogue=CATALOGUE)
    assert talk.draft.finish().digest == case_of(hand).digest


def test_what_is_said_before_a_prompt(tmp_path: Path) -> None:
    talk = Talk(written(tmp_path), ("date", "2026-05-04"))
    said = talk.hold("date", "grip", "state", "must")
    assert said[:3] == [
        "bench: a bench with everything",
        "CAUTION: keep clear of the bench",
        "CAUTION: bench it: wear gloves",
    ]
    assert said[3].startswith("Enter skips, ? explains, <")
    assert "grip: how it grips; usual 8.00 bar gauge to 16.0 bar gauge" in said
    assert said.index("CAUTION: mind the fingers") == said.index("by the gauge at the handle") + 1
    assert "one of: open, shut_tight" in said
    assert talk.prompts[-3:] == ["must: ", "grip [bar gauge]: ", "state: "]


def test_units_of_the_other_system(tmp_path: Path) -> None:
    path = written(tmp_path)
    talk = Talk(path, ("grip [psi gauge]", "178"), system="us")
    assert "grip: how it grips; usual 116 psi gauge to 232 psi gauge" in talk.hold("grip")
    assert rows(path, "bench")[0]["grip"] == "178 psi gauge"


def test_refused_lines_are_asked_again_with_the_readers_words(tmp_path: Path) -> None:
    path = written(tmp_path)
    talk = Talk(
        path,
        ("date", "2199-01-01"),
        ("date", "2026-05-04"),
        ("grip", "12 bar abs"),
        ("grip", "100 bar"),
        ("grip", "12 bars of"),
        ("grip", "12"),
        ("state", "ajar"),
        ("state", "open"),
        ("clean", "maybe"),
        ("clean", "yes"),
    )
    said = " ".join(talk.hold("date", "grip", "state", "clean"))
    for words in (
        "2199-01-01 is in the future",
        "is an absolute pressure, here a gauge pressure is needed",
        '"100 bar" is impossible here, it lies between 0 bar gauge and 50.0 bar gauge',
        '"ajar" is none of the choices',
        '"maybe" is neither yes nor no; write yes or no',
    ):
        assert words in said
    assert rows(path, "bench")[0]["grip"] == "12 bar gauge"
    assert "2199" not in path.read_text(encoding="utf-8")


def test_unusual_values_are_asked_about(tmp_path: Path) -> None:
    path = written(tmp_path)
    talk = Talk(path, ("grip", "5"), ("keep it?", "n"), ("grip", "20"), ("keep it?", "what"), ("keep it?", "y"))
    assert any("is unusual, it lies between 8.00 bar gauge" in line for line in talk.hold("grip"))
    assert rows(path, "bench")[0]["grip"] == "20 bar gauge"


def test_an_unknown_cause_is_asked_about(tmp_path: Path) -> None:
    path = written(tmp_path)
    talk = Talk(
        path,
        ("treats, first", "lose@wheel 1"),
        ("keep it?", "n"),
        ("treats, first", "loose@wheel 1"),
        one=draft(path, "repair"),
    )
    assert any("did you mean loose?" in line for line in talk.hold("treats"))
    assert rows(path, "repair")[0]["treats"] == ["loose@wheel 1"]


def test_enter_takes_today_for_the_day_and_skips_elsewhere(tmp_path: Path) -> None:
    import datetime

    path = written(tmp_path)
    Talk(path).hold()
    (row,) = rows(path, "bench")
    assert row.keys() == {"id", "unfinished", "date"}
    assert row["date"] == datetime.date.today()


def test_going_back(tmp_path: Path) -> None:
    path = written(tmp_path)
    talk = Talk(
        path,
        ("must", "<"),  # nothing so far
        ("must", "said"),
        ("grip", "12"),
        ("wheel 1", "11"),
        ("wheel 2", "<"),
        ("wheel 1", "<"),
        ("grip", "13"),
        ("wheel 1", ""),
        ("wheel 2", "<"),
        ("wheel 1", "10"),
        ("wheel 2", "9"),
        ("heat", "<"),
        ("wheel 2", "-"),
        ("heat", "20"),
    )
    said = talk.hold("must", "grip", "each", "heat")
    assert "nothing was saved so far" in said
    assert 'each.1 is "11 bar gauge"; Enter keeps it, - takes it out' in said
    (row,) = rows(path, "bench")
    assert (row["grip"], row["each"], row["heat"]) == ("13 bar gauge", {"1": "10 bar gauge"}, "20 degC")


def test_repeats(tmp_path: Path) -> None:
    path = written(tmp_path)
    talk = Talk(
        path,
        ("grip", "12"),
        ("wheel 1", "+"),
        ("grip, again", "12.2"),
        ("grip, again", "nonsense"),
        ("grip, again", "178 psi"),
        ("grip, again", ""),
        ("wheel 1", "11"),
        ("wheel 2", "+"),
        ("wheel 1, again", "11.5"),
        ("wheel 1, again", ""),
        ("state", "open"),
        ("clean", "+"),
    )
    assert "the last line is no reading that can be repeated" in talk.hold("grip", "each", "state", "clean")
    (row,) = rows(path, "bench")
    assert row["grip"] == ["12 bar gauge", "12.2 bar gauge", "178 psi"]
    assert row["each"] == {"1": ["11 bar gauge", "11.5 bar gauge"]}


def test_lists_and_rows_are_corrected_in_place(tmp_path: Path) -> None:
    path = written(tmp_path)
    talk = Talk(
        path,
        ("order, first", "1 2"),
        ("order, next", "<"),
        ("order", "3 4"),
        ("order, next", "5"),
        ("order, next", "<"),
        ("order, next", "6 7"),
        ("order, next", "<"),
        ("order, next", "-"),
        ("order, next", ""),
        ("points 1, load", "1"),
        ("points 1, word", "<"),
        ("points 1, load", "-"),
        ("points 1, load", "2 kN"),
        ("points 1, word", "w"),
    )
    talk.hold("order", "points")
    (row,) = rows(path, "bench")
    assert row["order"] == [3, 4]
    assert row["points"] == [{"load": "2 kN", "word": "w"}]


def test_members_that_no_plugin_lists_are_asked_for(tmp_path: Path) -> None:
    path = written(tmp_path, "")
    talk = Talk(path, ("next wheel", "wheel 3"), ("wheel 3 [", "12"), ("next wheel", "left"), ("wheel left [", "11"))
    talk.hold("each")
    assert rows(path, "bench")[0]["each"] == {"3": "12 bar gauge", "left": "11 bar gauge"}


def test_help_and_finish(tmp_path: Path) -> None:
    path = written(tmp_path)
    talk = Talk(path, ("must", "said"), ("grip", "?"), ("grip", "."))
    with pytest.raises(Finished):
        talk.hold("must", "grip", "heat")
    assert "possible: 0 bar gauge to 50.0 bar gauge" in talk.said
    assert any("a number alone is in bar gauge" in line for line in talk.said)
    assert not any("heat" in prompt for prompt in talk.prompts)


def test_going_on_asks_only_for_what_is_missing(tmp_path: Path) -> None:
    path = written(tmp_path)
    first = Talk(path, ("must", "said"), ("wheel 1", "11"), ("points 1, load", "1"))
    first.hold("must", "each", "points")
    (row,) = rows(path, "bench")
    second = Talk(
        path, ("wheel 2", "12"), ("points 1, word", "w"), ("points 2, load", "2"), one=draft(path, values=row)
    )
    second.hold("must", "each", "points")
    assert not any(prompt.startswith(("must", "wheel 1", "points 1, load")) for prompt in second.prompts)
    (row,) = rows(path, "bench")
    assert row["each"] == {"1": "11 bar gauge", "2": "12 bar gauge"}
    assert row["points"] == [{"load": "1 N", "word": "w"}, {"load": "2 N"}]


def test_papers(tmp_path: Path) -> None:
    path = written(tmp_path)
    talk = Talk(path, ("file, first", "missing.jpg"), ("file, first", "a.jpg"), ("file, next", "b.jpg"))
    assert any("there is no such file" in line for line in talk.hold("file"))
    assert [one["path"] for one in rows(path, "bench")[0]["file"]] == ["a.jpg", "b.jpg"]


def test_the_unit_of_an_instruments_span_follows_what_it_measures(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE)
    script = (("id", "g"), ("measures", "torque"), ("class", "1"), ("span [N m]", "200"), ("resolution [N m]", "1"))
    talk = Talk(path, *script, one=Draft(str(path), draft(path, "instrument").target, check))
    talk.hold()
    assert talk.draft.finish().instruments[0].span == 200.0


def test_rows_of_facts_wait_until_they_are_complete(tmp_path: Path) -> None:
    path = written(tmp_path, VEHICLE)
    talk = Talk(path, ("spots 1, load", "1"), ("spots 1, word", "rough"), one=draft(path, "vehicle"))
    talk.hold("spots")
    assert case_of(path).vehicle["spots"][0]["word"] == "rough"


def test_what_only_an_editor_can_change_is_told_and_the_rest_goes_on(tmp_path: Path) -> None:
    path = written(tmp_path, f'{VEHICLE}\n[[vehicle.spots]]\nload = "1 kN"\n')
    talk = Talk(path, ("spots 1, word", "rough"), ("spots 1, heard", ""), one=draft(path, "vehicle"))
    said = " ".join(talk.hold("spots"))
    assert "edit line 8 by hand" in said
    assert path.read_text(encoding="utf-8") == f'{VEHICLE}\n[[vehicle.spots]]\nload = "1 kN"\n'
