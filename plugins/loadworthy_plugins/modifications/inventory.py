"""The inventory of parts as all sheets together make it: what is not standard, who says so, and what disagrees.

Per kind and position the latest sheet governs among those who looked, and among those who declare; eyes outrank words.
Words against eyes, or against a rule that finds an undeclared part likely enough, are in conflict. Unknown supersedes
nothing and is never standard.
"""

from __future__ import annotations

from itertools import pairwise
from math import hypot
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final, Literal

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.modifications.parts import CATALOGUE, KINDS
from loadworthy_plugins.shared_results import reading_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from loadworthy.sdk import Case, Sheet

_NOTHING: Final = MappingProxyType[str, str]({})
Answer = Literal["standard", "modified", "unknown"]
Status = Literal["declared", "seen", "ruled_out", "inferred", "conflicting", "unanswered"]

#: How far a word and a look are trusted (judgement); an inferred part as far as its probability.
CONFIDENCE: Final = {"declared": 0.7, "seen": 0.95, "ruled_out": 0.95}
#: Probabilities from which an undeclared part is reported, and from which it contradicts a word (judgement): the
#: defaults of the limits of these names, for those who have no limits at hand.
POSTERIOR_REPORT, POSTERIOR_CONFLICT = 0.5, 0.7
#: Figures of one part that differ by no more than this share are the same figure (judgement).
SAME_WITHIN = 0.02
#: Keys of a row that say who answers and where, not what the part is.
_ABOUT: Final = frozenset(
    (
        "part_kind", "position", "answer", "status", "marking", "fitted_by", "fitted_on", "odometer_at_fit",
        "documents", "calibration_aware", "calibration_record", "legal_flag", "data_document", "replaces",
    )
)  # fmt: skip
#: States of a part that is not as made, and kinds that are not there as made.
GONE: Final = ("altered", "absent", "blanked")
_NOT_THERE: Final = ("signal_converter", "water_injection")
#: Figures of which the smaller one is the weaker part.
_LESS_IS_WEAKER: Final = frozenset(
    (
        "static_flow", "static_flow_mass", "rail_pressure", "set_pressure", "plunger_bore", "plunger_stroke",
        "full_scale", "choke_flow", "torque_rating", "torque_peak_rating", "speed_rating",
    )
)  # fmt: skip


class Entry(NamedTuple):
    """What one sheet says of one part."""

    kind: str
    position: str
    answer: Answer
    seen: bool
    status: str
    sheet: Sheet
    row: Mapping[str, Any]


class Part(NamedTuple):
    """One part of the inventory.

    ``row`` holds what is known of it and ``origins`` the sheet of each key; ``why`` says what disagrees, if anything
    does. ``claimed``: who looked, or who declares where nobody looked, says that it is not as made. ``rivals``: the
    sheets that disagree. ``entries``: all that was ever answered of it.
    """

    kind: str
    position: str
    answer: Answer
    status: Status
    confidence: float
    row: Mapping[str, Any]
    sheet: Sheet | None = None
    why: str = ""
    claimed: bool = False
    rivals: tuple[str, ...] = ()
    origins: Mapping[str, str] = _NOTHING
    entries: tuple[Entry, ...] = ()

    @property
    def name(self) -> str:
        """The kind with its position, for subjects and texts."""
        return f"{self.kind} {self.position}" if self.position else self.kind

    @property
    def sheet_id(self) -> str:
        """Id of the sheet that speaks for it."""
        return self.sheet.id if self.sheet is not None else ""

    @property
    def doubtful(self) -> bool:
        """Whether nobody knows what it is: not answered, or in conflict."""
        return not self.answered or self.status == "conflicting"

    @property
    def answered(self) -> bool:
        """Whether a person has said or seen what it is; what readings infer is no answer."""
        return self.answer != "unknown" and self.status != "inferred"

    @property
    def aware(self) -> bool:
        """Whether the calibration is proven to know the part; a word without a record proves nothing.

        Of a part in conflict nobody can tell which one it knows.
        """
        said = self.status != "conflicting" and self.row.get("calibration_aware") == "yes"
        return said and bool(self.row.get("calibration_record"))


class Inventory(NamedTuple):
    """All parts, by kind in the order of the catalogue; a kind that nobody answered is there as unknown."""

    parts: tuple[Part, ...]
    sheets: tuple[Sheet, ...]

    def of(self, *kinds: str) -> tuple[Part, ...]:
        """Return the parts of these kinds."""
        return tuple(part for part in self.parts if part.kind in kinds)

    @property
    def modified(self) -> tuple[Part, ...]:
        """Parts that are not as made, undisputed."""
        return tuple(part for part in self.parts if part.answer == "modified" and part.status != "conflicting")

    @property
    def conflicting(self) -> tuple[Part, ...]:
        """Parts of which two sources disagree."""
        return tuple(part for part in self.parts if part.status == "conflicting")

    @property
    def unknown(self) -> tuple[str, ...]:
        """Kinds that are not answered, wholly or at some place."""
        return tuple(kind for kind in KINDS if not all(p.answered for p in self.of(kind)))

    @property
    def completeness(self) -> float:
        """Share of the kinds that are answered."""
        return 1.0 - len(self.unknown) / len(KINDS)


def inventory(
    case: Case,
    inferred: Mapping[str, float] | None = None,
    *,
    report: float = POSTERIOR_REPORT,
    conflict: float = POSTERIOR_CONFLICT,
) -> Inventory:
    """Return the inventory of a case.

    ``inferred`` maps a kind to the probability that rules give to an undeclared change of it; ``report`` and
    ``conflict`` are the probabilities from which that is an answer, and from which it contradicts a declared standard.
    """
    sheets = tuple(case.of("modification"))
    by_kind: dict[str, list[Entry]] = {kind: [] for kind in KINDS}
    for sheet in sheets:
        for entry in _entries(sheet):
            by_kind[entry.kind].append(entry)
    parts: list[Part] = []
    for kind in CATALOGUE:
        found = _of_kind(kind.id, by_kind[kind.id])
        p = (inferred or {}).get(kind.id, 0.0)
        parts += found if p < report else [_with_rule(part, p, conflict) for part in found]
    return Inventory(tuple(parts), sheets)


def _entries(sheet: Sheet) -> Iterable[Entry]:
    seen = sheet.get("standard_status") == "seen"
    for kind in sheet.get("standard_kinds") or ():
        yield Entry(kind, "", "standard", seen, "seen" if seen else "declared", sheet, {})
    for row in sheet.get("part") or ():
        kind = row.get("part_kind")
        if kind is None:
            continue
        status = row.get("status") or "declared"
        answer = row.get("answer") or _implied(row, status)
        if row.get("state") in GONE and kind not in _NOT_THERE:
            # The state is what was found; "standard" beside it would hide a missing part.
            answer = "modified"
        yield Entry(kind, _position(row), answer, status != "declared", status, sheet, row)


def _implied(row: Mapping[str, Any], status: str) -> Answer:
    """Return the answer of a row that gives none: a state other than complete is a change, ``ruled_out`` is none."""
    if row.get("state") in GONE:
        return "modified"
    return "standard" if status == "ruled_out" else "unknown"


def _position(row: Mapping[str, Any]) -> str:
    return " ".join(str(row.get("position") or "").lower().split())


def _of_kind(kind: str, entries: Sequence[Entry]) -> list[Part]:
    """Return the parts of one kind: one per named position, and one for all of them where that is more than a word."""
    answered = [e for e in entries if e.answer != "unknown"]
    if not answered:
        return [Part(kind, "", "unknown", "unanswered", 0.0, {}, entries[-1].sheet if entries else None)]
    everywhere = [e for e in answered if not e.position]
    places = sorted({e.position for e in entries if e.position})
    parts = []
    for place in places:
        here = [e for e in answered if e.position in ("", place)]
        unknown = next(e for e in entries if e.position == place)
        parts.append(
            _merged(kind, place, here) if here else Part(kind, place, "unknown", "unanswered", 0.0, {}, unknown.sheet)
        )
    if not places or any(e.answer != "standard" for e in everywhere):
        parts.append(_merged(kind, "", everywhere))
    return parts


def _merged(kind: str, place: str, entries: Sequence[Entry]) -> Part:
    return _settled(kind, place, entries)._replace(entries=tuple(entries))


def _settled(kind: str, place: str, entries: Sequence[Entry]) -> Part:
    looks = _latest([e for e in entries if e.seen])
    words = _latest([e for e in entries if not e.seen])
    for group in (looks, words):
        why = _quarrel(group)
        if why:
            claimed = any(e.answer == "modified" for e in looks or words)
            return _conflict(kind, place, (*words, *looks, *group), why, claimed)
    if not looks or not words:
        group = looks or words
        return _part(kind, place, group[-1], _carried(entries, group))
    look, word = looks[-1], words[-1]
    if _refitted(look, word):
        return _part(kind, place, look, _carried(entries, looks))
    if _refitted(word, look):
        return _part(kind, place, word, _carried(entries, words))
    if look.answer != word.answer:
        why = f"declared {word.answer}, seen {look.answer}"
        return _conflict(kind, place, (*words, *looks), why, look.answer == "modified")
    why = _quarrel((word, look))
    if why:
        return _conflict(kind, place, (*words, *looks), why, look.answer == "modified")
    return _part(kind, place, look, (*_carried(entries, words), *_carried(entries, looks)))


def _moment(entry: Entry) -> tuple[Any, ...]:
    time = entry.sheet.time
    return (entry.sheet.date, time.isoformat() if time is not None else "")


def _latest(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """Return the entries of the latest day; times decide within it only where all of them are known."""
    if not entries:
        return ()
    day = max(e.sheet.date for e in entries)
    last = [e for e in entries if e.sheet.date == day]
    if all(e.sheet.time is not None for e in last):
        moment = max(_moment(e) for e in last)
        last = [e for e in last if _moment(e) == moment]
    return tuple(sorted(last, key=lambda e: (_moment(e), e.sheet.id, e.position, repr(sorted(e.row)))))


def _carried(entries: Sequence[Entry], group: Sequence[Entry]) -> tuple[Entry, ...]:
    """Return older entries of the same source and part, oldest first, and then the group that governs.

    What they know and the group does not say is still known, until the part was changed or fitted anew.
    """
    last = group[-1]
    older = [e for e in entries if e.seen == last.seen and e.sheet.date < last.sheet.date]
    older.sort(key=lambda e: (_moment(e), e.sheet.id, e.position, repr(sorted(e.row))))
    kept: list[Entry] = []
    for entry in older:
        if entry.answer != last.answer or (kept and _refitted(entry, kept[-1])):
            kept = []
        if entry.answer == last.answer and not _refitted(last, entry):
            kept.append(entry)
    return (*kept, *group)


def _refitted(later: Entry, earlier: Entry) -> bool:
    """Tell whether the part was fitted after the other entry was written: both may then be true."""
    fitted = later.row.get("fitted_on")
    return fitted is not None and later.sheet.date > earlier.sheet.date and fitted > earlier.sheet.date


def _quarrel(entries: Sequence[Entry]) -> str:
    """Return in what entries about one part differ, empty where they agree."""
    for a, b in pairwise(entries):
        if a.answer != b.answer:
            return f"{a.answer} on {a.sheet.id}, {b.answer} on {b.sheet.id}"
        for key in sorted(a.row.keys() & b.row.keys() - _ABOUT):
            one, other = reading_of(a.row[key]), reading_of(b.row[key])
            if one is None or other is None:
                if one is other and isinstance(a.row[key], (bool, int, str)) and a.row[key] != b.row[key]:
                    return f"{key} {a.row[key]} on {a.sheet.id}, {b.row[key]} on {b.sheet.id}"
                continue
            apart = abs(one.value - other.value)
            if apart > max(SAME_WITHIN * abs(one.value), 2.0 * hypot(one.u or 0.0, other.u or 0.0)):
                return f"{key} {one.text} on {a.sheet.id}, {other.text} on {b.sheet.id}"
    return ""


def _part(kind: str, place: str, governing: Entry, group: Sequence[Entry]) -> Part:
    row: dict[str, Any] = {}
    origins: dict[str, str] = {}
    for entry in (*group, governing):
        row.update(entry.row)
        origins.update(dict.fromkeys(entry.row, entry.sheet.id))
    # Of those that count today one "no" is enough, whoever says it.
    last = [entry for entry in group if entry is governing or entry.sheet.date >= governing.sheet.date]
    if any(entry.row.get("calibration_aware") == "no" for entry in last):
        row["calibration_aware"] = "no"
    changed = governing.answer == "modified"
    if governing.status == "ruled_out" and changed:
        return _conflict(kind, place, (governing,), "ruled out and modified on one sheet", claimed=True)
    status: Any = governing.status
    confidence = CONFIDENCE[governing.status]
    return Part(kind, place, governing.answer, status, confidence, row, governing.sheet, "", changed, (), origins)


def _conflict(kind: str, place: str, entries: Sequence[Entry], why: str, claimed: bool) -> Part:
    """Return a part that nobody knows: it distorts as a modified one and may do no more than a standard one.

    Its figures are the weakest that anybody claims, else those of the last entry; its sheet is the latest.
    """
    last = entries[-1]
    row = dict(last.row)
    origins = dict.fromkeys(last.row, last.sheet.id)
    for entry in entries[:-1]:
        for key in _LESS_IS_WEAKER & entry.row.keys():
            if key not in row or entry.row[key].value < row[key].value:
                row[key] = entry.row[key]
                origins[key] = entry.sheet.id
    latest = max(entries, key=lambda e: (_moment(e), e.sheet.id)).sheet
    rivals = tuple(sorted({entry.sheet.id for entry in entries}))
    return Part(kind, place, "modified", "conflicting", 0.5, row, latest, why, claimed, rivals, origins)


def _with_rule(part: Part, p: float, conflict: float) -> Part:
    """Return a part in view of rules that find an undeclared change of its kind with probability ``p``."""
    if part.answer == "unknown":
        return part._replace(answer="modified", status="inferred", confidence=p, why="readings speak for a change")
    if part.answer == "standard" and part.status == "declared" and p >= conflict:
        return part._replace(
            answer="modified",
            status="conflicting",
            confidence=0.5,
            why="declared standard, changed by record" if p == 1.0 else f"declared standard, readings say {p:.2f}",
            rivals=(part.sheet_id,),
        )
    return part
