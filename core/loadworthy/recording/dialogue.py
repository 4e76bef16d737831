"""Asking a person line by line. Reading and printing are given, so that a terminal is only one way to hold it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from loadworthy.recording.answers import AnswerError, read, shown_unit, speed_key, with_unit
from loadworthy.recording.paths import shown
from loadworthy.recording.questions import Question, Questions
from loadworthy.recording.wording import KEYS, about, explained, fault, prompt, value

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from loadworthy.declarations import Field
    from loadworthy.errors import Fault
    from loadworthy.recording.draft import Draft
    from loadworthy.recording.paths import Path

#: The day on which something was done: Enter takes it as today.
_DAY = "date"


class Finished(Exception):  # noqa: N818 - no error: somebody has had enough of questions
    """A person finishes early."""


class Dialogue:
    """One table, asked for line by line; every accepted line is in the file before the next question.

    ``ask`` prints a prompt and returns the line typed (raises EOFError at the end of the input), ``say`` prints a line;
    ``attach`` turns the path of a photo or paper into what is written, or raises AnswerError.
    """

    def __init__(
        self,
        draft: Draft,
        members: Mapping[str, Sequence[str]],
        vehicle: Mapping[str, Any],
        *,
        ask: Callable[[str], str],
        say: Callable[[str], None],
        attach: Callable[[str], Any],
        system: str = "si",
    ) -> None:
        self._draft = draft
        self._questions = Questions(draft.get, members)
        self._vehicle = vehicle
        self._ask, self._say, self._attach = ask, say, attach
        self._system = system
        self._told = ""
        #: What was saved, and how many items of a list each line gave.
        self._history: list[tuple[Question, int]] = []

    def opening(self) -> None:
        """Say what is to be written, mind which cautions, and what may be typed."""
        target = self._draft.target
        self._say(f"{target.name}: {target.text}")
        for caution in target.cautions:
            self._say(f"CAUTION: {caution}")
        self._say(KEYS)

    def about(self, fields: Iterable[Field]) -> None:
        """Ask for these fields, as far as they are not written yet. Raises `Finished`, EOFError and CaseError."""
        asking = self._questions.of(fields)
        try:
            question = next(asking)
            while True:
                question = asking.send(self._answered(question))
        except StopIteration:
            return

    def _answered(self, question: Question) -> str | bool:
        """Ask until a line is accepted or skipped."""
        field = self._field(question)
        question = question._replace(field=field)
        if self._told != field.name:
            self._told = field.name
            self._say("")
            for line in about(field, self._vehicle, self._system):
                self._say(line)
        today = question.path == (_DAY,)
        while True:
            line = self._ask(prompt(question, self._system, "Enter: today" if today else "")).strip()
            if self._command(line, question):
                continue
            if not line and not today:
                return False
            if question.key and line:
                return speed_key(line) if question.key == "speed" else line.removeprefix(question.key).strip() or line
            if question.spread:
                # Corrections meanwhile may have made the list longer or shorter.
                question = question._replace(path=(*question.path[:-1], self._count(question.path[:-1])))
            given = self._accepted(question, line or "today", 0)
            if given:
                self._history.append((question, given))
                return True

    def _field(self, question: Question) -> Field:
        """Return the question's field as the table stands: an instrument's unit depends on what it measures."""
        if len(question.path) > 1:
            return question.field
        return self._draft.target.field(question.field.name, self._draft.values) or question.field

    def _command(self, line: str, question: Question) -> bool:
        if line == "?":
            for text in explained(question, self._vehicle, self._system):
                self._say(text)
        elif line == ".":
            raise Finished
        elif line == "<":
            self._correct()
        elif line == "+":
            self._repeat()
        else:
            return False
        return True

    def _count(self, path: Path) -> int:
        found = self._draft.get(path)
        return len(found) if isinstance(found, list) else 0

    def _accepted(self, question: Question, line: str, replaced: int, *, repeats: Sequence[Any] = ()) -> int:
        """Read a line, have it checked and write it, in a list in place of so many items; or say why not.

        Returns how many values there are now, 0 if it was refused.
        """
        try:
            written = self._read(question, line)
        except AnswerError as error:
            self._say(str(error))
            return 0
        if repeats:
            written = [*repeats, *(written if isinstance(written, list) else [written])]
        spread = replaced if question.spread else None
        given = len(written) if question.spread else 1
        trial = self._draft.try_out(question.path, written, spread=spread)
        if trial.incomplete and not self._draft.target.listed and len(question.path) > 1:
            self._draft.wait(question.path, written, spread=spread)
            needed = "; ".join(dict.fromkeys(one.problem for one in trial.faults))
            self._say(f"noted, to be saved with the rest: {shown(question.path)} = {value(written)} ({needed})")
            return given
        if trial.faults:
            self._refuse(trial.faults, question)
            return 0
        for note in trial.notes:
            self._say(f"{shown(question.path)}: {fault(note)}")
        if trial.notes and not self._yes("keep it? y or n: "):
            return 0
        self._draft.set(question.path, written, spread=spread)
        self._say(f"saved: {shown(question.path)} = {value(written)}")
        return given

    def _read(self, question: Question, line: str) -> Any:
        if question.path[0] == "file":
            return [self._attach(line)]
        unit = shown_unit(question.field, self._system)
        if question.field.type == "curve":
            return with_unit(line, unit)
        return read(line, question.field, unit)

    def _refuse(self, faults: Iterable[Fault], question: Question) -> None:
        here = shown(question.path)
        for one in faults:
            elsewhere = one.place and not one.place.endswith(here) and not here.startswith(one.place)
            self._say(f"{f'{one.place}: ' if elsewhere else ''}{fault(one)}")

    def _yes(self, text: str) -> bool:
        while True:
            answer = self._ask(text).strip().casefold()
            if answer in ("y", "yes"):
                return True
            if answer in ("n", "no", ""):
                return False

    def _correct(self) -> None:
        """Ask the last saved line again: Enter keeps it, a hyphen takes it out."""
        if not self._history:
            self._say("nothing was saved so far")
            return
        question, given = self._history.pop()
        if self._draft.get(question.path) is None:
            self._say(f"{shown(question.path)} is not there any more")
            return
        before = self._stands(question, given)
        self._say(f"{shown(question.path)} is {value(before)}; Enter keeps it, - takes it out")
        while True:
            line = self._ask(prompt(question._replace(ends=False), self._system)).strip()
            if line == "-":
                if self._taken_out(question, given):
                    return
                continue
            if self._command(line, question):
                continue
            now = self._accepted(question, line, given) if line else given
            if now:
                self._history.append((question, now))
                return

    def _stands(self, question: Question, given: int) -> Any:
        """Return what a line gave, as it stands now."""
        last = question.path[-1]
        if not isinstance(last, int):
            return self._draft.get(question.path)
        return self._draft.get(question.path[:-1])[last : last + given]

    def _taken_out(self, question: Question, given: int) -> bool:
        *holder, last = question.path
        row = self._draft.get(tuple(holder))
        if any(isinstance(part, int) for part in holder) and len(row) == 1:
            self._say("nothing else stands in the row: write another value in its place")
            return False
        if isinstance(last, int) and last + given < len(row):
            self._say("others follow in the list: write another value in its place")
            return False
        self._draft.take_out(question.path, given)
        self._say(f"taken out: {shown(question.path)}")
        return True

    def _repeat(self) -> None:
        """Add readings to the one that was saved last, until an empty line."""
        question = self._history[-1][0] if self._history else None
        if question is None or question.field.type != "quantity" or question.field.many or question.key:
            self._say("the last line is no reading that can be repeated")
            return
        again = question._replace(label=f"{question.label}, again", ends=True)
        while True:
            line = self._ask(prompt(again, self._system)).strip()
            if not line:
                return
            if self._command(line, again):
                continue
            before = self._draft.get(question.path)
            self._accepted(question, line, 0, repeats=before if isinstance(before, list) else [before])
