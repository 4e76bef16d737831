"""Messages of control units to what each of them answered: lists of codes, monitor status, counters, frames, results.

Silence, refusal and an empty list are three things, and a list with a part missing is none of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal

from loadworthy.sdk import NamedTuple
from loadworthy_plugins.fault_memory.codes import Code, spelled

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from loadworthy_plugins.fault_memory.replies import Message, Record

State = Literal["codes", "empty", "refused", "silent", "damaged", "not_asked"]
#: Services that list codes: stored, pending, permanent, by status, permanent by status.
STORED, PENDING, PERMANENT = "03", "07", "0A"
BY_STATUS, PERMANENT_BY_STATUS, COUNT = "19 02", "19 15", "19 01"
_LISTS: Final = {0x43: STORED, 0x47: PENDING, 0x4A: PERMANENT}
_STATUS_LISTS: Final = {0x02: BY_STATUS, 0x15: PERMANENT_BY_STATUS}
#: What fills a frame beyond its content.
PADDING: Final = (0x00, 0x55, 0xAA, 0xCC, 0xFF)
_WAIT: Final = 0x78
_LOCAL_FORMATS: Final = {1: "maker's own coding", 2: "SAE J1939"}


class Answer(NamedTuple):
    """What one unit answered to one service. ``mask`` is its status availability mask where it gave one.

    Only ``empty``, or a whole list without it, supports that there is no code.
    """

    unit: str
    service: str
    state: State
    codes: tuple[Code, ...] = ()
    mask: int | None = None
    why: str = ""


class Snapshot(NamedTuple):
    """A freeze frame as sent: (parameter, its bytes) of one frame of one unit, in order."""

    unit: str
    frame: int
    data: tuple[tuple[int, bytes], ...]


class Outcome(NamedTuple):
    """One on-board test result as sent. ``scaling`` None: the older layout, whose one limit is a minimum or not."""

    unit: str
    monitor: int
    test: int
    scaling: int | None
    value: int
    low: int | None
    high: int | None


class Answers(NamedTuple):
    """Everything that a record holds. ``parameters`` maps (unit, parameter) to the bytes of service 01."""

    lists: tuple[Answer, ...]
    parameters: Mapping[tuple[str, int], bytes]
    snapshots: tuple[Snapshot, ...]
    outcomes: tuple[Outcome, ...]
    identification: tuple[tuple[str, bytes], ...]
    cleared: bool
    notes: tuple[str, ...]


#: Bytes of each parameter of services 01 and 02 (open encyclopaedia, two copies).
LENGTHS: Final[Mapping[int, int]] = {
    **dict.fromkeys((0x00, 0x01, 0x20, 0x40, 0x41, 0x4F, 0x50, 0x60, 0x80, 0xA0, 0xC0), 4),
    **dict.fromkeys((*range(0x24, 0x2C), *range(0x34, 0x3C), 0x64), 4),
    **dict.fromkeys(
        (0x02, 0x03, 0x0C, 0x10, *range(0x14, 0x1C), 0x1F, 0x21, 0x22, 0x23, 0x31, 0x32, *range(0x3C, 0x40)), 2
    ),
    **dict.fromkeys((0x42, 0x43, 0x44, 0x4D, 0x4E, 0x53, 0x54, *range(0x55, 0x5A), 0x5D, 0x5E, 0x63), 2),
    **dict.fromkeys(
        (*range(0x04, 0x0C), 0x0D, 0x0E, 0x0F, 0x11, 0x12, 0x13, 0x1C, 0x1D, 0x1E, *range(0x2C, 0x31), 0x33), 1
    ),
    **dict.fromkeys((*range(0x45, 0x4D), 0x51, 0x52, 0x5A, 0x5B, 0x5C, 0x5F, 0x61, 0x62), 1),
}


def code_list(data: bytes, layout: str, known: Callable[[str], bool]) -> tuple[State, tuple[Code, ...], str]:
    """Return state, codes and a note of an answer to 03, 07 or 0A (its first byte is the service's answer).

    ``layout``: ``can`` (a count, then the codes), ``older`` (three codes padded with zeros, repeated), empty: unknown.
    Only for seven bytes that fit both does ``known`` decide, which says whether a code stands in the table.

    >>> code_list(bytes.fromhex("43 01 71 00 00 00 00"), "older", lambda code: True)[1]
    (Code(code='P0171', failure_type=None, status=None),)
    """
    body = data[1:]
    if layout == "can":
        return _counted(body)
    if layout == "older":
        return _threes(body)
    if len(data) % 2 == 0 and len(body) == 1 + 2 * body[0]:
        return _counted(body)
    if len(data) != 7:
        return "damaged", (), f"{len(data)} bytes fit no layout of a list; state the protocol"
    older, counted = _threes(body), _counted(body)
    if body[0] > 2 or len(set(body[1 + 2 * body[0] :])) > 1 or body[-1] not in PADDING:
        return older
    if older[0] == counted[0] == "empty":
        return older
    fits = [one for one in (counted, older) if one[1] and all(known(code.code) for code in one[1])]
    if len(fits) == 1:
        return fits[0]
    return "damaged", (), "the list reads both with and without a count; state the protocol"


def _counted(body: bytes) -> tuple[State, tuple[Code, ...], str]:
    if not body:
        return "damaged", (), "the count of codes is missing"
    due, rest = body[0], body[1:]
    codes = _pairs(rest[: 2 * due])
    if len(rest) < 2 * due:
        return "damaged", codes, f"truncated: {len(rest) // 2} of {due} codes"
    surplus, note = rest[2 * due :], ""
    if surplus and (len(set(surplus)) > 1 or surplus[0] not in PADDING):
        # What repeats one padding byte to the end is padding, whatever code it would spell.
        further = _pairs(surplus.rstrip(surplus[-1:]) if surplus[-1] in PADDING else surplus)
        codes, note = (*codes, *further), f"more codes than the count of {due} says"
    return ("codes" if codes else "empty"), codes, note


def _threes(body: bytes) -> tuple[State, tuple[Code, ...], str]:
    codes = _pairs(body)
    if len(body) % 6 or not body:
        return "damaged", codes, f"truncated: {len(body)} bytes where three codes have six"
    return ("codes" if codes else "empty"), codes, ""


def _pairs(data: bytes) -> tuple[Code, ...]:
    """Return the codes of pairs of bytes; 00 00 is padding, never a code."""
    pairs = zip(data[0::2], data[1::2], strict=False)
    return tuple(Code(spelled(a, b)) for a, b in pairs if a or b)


def status_list(data: bytes, permanent: bool = False) -> tuple[State, tuple[Code, ...], int, str]:
    """Return state, codes, mask and note of an answer 59 02 (code, failure type and status, four bytes) or 59 15."""
    mask, rest = data[2], data[3:]
    whole = len(rest) // 4 * 4
    codes = tuple(
        Code(spelled(a, b), failure, status)
        for a, b, failure, status in (rest[at : at + 4] for at in range(0, whole, 4))
        if a or b
    )
    if len(rest) != whole and (len(set(rest[whole:])) > 1 or rest[whole] not in PADDING):
        return "damaged", codes, mask, "truncated: the last code is not whole"
    return ("codes" if codes else "empty"), codes, mask, "permanent" if permanent else ""


class _Sorter:
    def __init__(self, protocol: str, known: Callable[[str], bool]) -> None:
        self._protocol = protocol
        self._known = known
        self._lists: dict[tuple[str, str], list[Answer]] = {}
        self.parameters: dict[tuple[str, int], bytes] = {}
        self.snapshots: list[Snapshot] = []
        self.outcomes: list[Outcome] = []
        self.identification: list[tuple[str, bytes]] = []
        self.cleared = False
        self.notes: list[str] = []

    def take(self, one: Message) -> None:
        """Sort one message in."""
        if not one.data:
            self._note(one, one.broken or "an answer without content")
            self.broken(one.unit, "", one.broken)
            return
        first = one.data[0]
        if first == 0x7F:
            self._refusal(one)
        elif first in _LISTS:
            layout = one.layout or ("" if self._protocol == "unknown" else self._protocol)
            state, codes, why = code_list(one.data, layout, self._known)
            self._put(one, _LISTS[first], state, codes, None, why)
        elif first == 0x59:
            self._by_status(one)
        elif first in (0x44, 0x54):
            self.cleared = True
        elif one.broken:
            self._note(one, one.broken)
            self.broken(one.unit, f"{first - 0x40:02X}" if first >= 0x40 else "", one.broken)
        elif first == 0x41:
            self._parameters(one)
        elif first == 0x42:
            self._snapshot(one)
        elif first == 0x46:
            self._outcomes(one)
        elif first == 0x49:
            self.identification.append((one.unit, one.data))
        else:
            self._note(one, f"an answer {first:02X} that is not read here")

    def broken(self, unit: str, service: str, why: str) -> None:
        """Note that an answer was lost; without its first frame nobody knows to which request."""
        self._lists.setdefault((unit, service), []).append(Answer(unit, service, "damaged", (), None, why))

    def lists(self) -> tuple[Answer, ...]:
        """Return one answer per unit and service."""
        return tuple(_merged(found) for _, found in sorted(self._lists.items()))

    def _note(self, one: Message, what: str) -> None:
        self.notes.append(f"line {one.line}: {what}")

    def _put(
        self, one: Message, service: str, state: State, codes: tuple[Code, ...], mask: int | None, why: str
    ) -> None:
        if one.broken:
            state, why = "damaged", one.broken
        if why and state != "refused":
            self._note(one, why)
        self._lists.setdefault((one.unit, service), []).append(Answer(one.unit, service, state, codes, mask, why))

    def _refusal(self, one: Message) -> None:
        if len(one.data) < 3 or one.broken:
            self._note(one, one.broken or "a refusal without its reason")
            self.broken(one.unit, "", "a refusal that is not whole")
            return
        service, reason = one.data[1], one.data[2]
        if reason == _WAIT:
            return
        name = f"{service:02X}"
        if service == 0x19:
            name = one.asked if one.asked in (PERMANENT_BY_STATUS, COUNT) else BY_STATUS
        self._put(one, name, "refused", (), None, f"service {name} refused with {reason:02X}")

    def _by_status(self, one: Message) -> None:
        if len(one.data) < 3:
            self._note(one, "a status list without its mask")
            self.broken(one.unit, BY_STATUS, "a status list without its mask")
            return
        kind = one.data[1]
        if kind in _STATUS_LISTS:
            state, codes, mask, why = status_list(one.data, kind == 0x15)
            self._put(one, _STATUS_LISTS[kind], state, codes, mask, "" if why == "permanent" else why)
        elif kind == 0x01 and len(one.data) >= 6:
            coding = one.data[3]
            if coding in _LOCAL_FORMATS:
                self._note(one, f"codes in {_LOCAL_FORMATS[coding]}: the letter is not certain")
            count = one.data[4] << 8 | one.data[5]
            self._put(one, COUNT, "codes" if count else "empty", (), one.data[2], "")
        else:
            self._note(one, f"a report {kind:02X} of service 19 that is not read here")

    def _parameters(self, one: Message) -> None:
        at, data = 1, one.data
        while at < len(data):
            parameter = data[at]
            length = LENGTHS.get(parameter)
            content = data[at + 1 : at + 1 + (length or 0)]
            if length is None or len(content) < length:
                if len(set(data[at:])) > 1 or data[at] not in PADDING:
                    self._note(one, f"parameter {parameter:02X} is not read here, nor what follows it")
                return
            if (one.unit, parameter) in self.parameters and self.parameters[one.unit, parameter] != content:
                self._note(one, f"parameter {parameter:02X} was given before with another value; the last one counts")
            self.parameters[one.unit, parameter] = content
            at += 1 + length

    def _snapshot(self, one: Message) -> None:
        at, data = 1, one.data
        found: dict[int, list[tuple[int, bytes]]] = {}
        while at + 1 < len(data):
            parameter, frame = data[at], data[at + 1]
            length = LENGTHS.get(parameter)
            content = data[at + 2 : at + 2 + (length or 0)]
            if length is None or len(content) < length:
                if len(set(data[at:])) > 1:
                    self._note(
                        one, f"parameter {parameter:02X} of a freeze frame is not read here, nor what follows it"
                    )
                break
            found.setdefault(frame, []).append((parameter, content))
            at += 2 + length
        self.snapshots += (Snapshot(one.unit, frame, tuple(parts)) for frame, parts in found.items())

    def _outcomes(self, one: Message) -> None:
        older = one.layout == "older" or (not one.layout and self._protocol == "older")
        data, size = one.data[1:], 6 if older else 9
        for at in range(0, len(data) - size + 1, size):
            part = data[at : at + size]
            if older:
                test, component, limit = part[0], part[1], part[4] << 8 | part[5]
                low, high = (limit, None) if component & 0x80 else (None, limit)
                self.outcomes.append(Outcome(one.unit, component & 0x7F, test, None, part[2] << 8 | part[3], low, high))
            else:
                value, low, high = (part[i] << 8 | part[i + 1] for i in (3, 5, 7))
                self.outcomes.append(Outcome(one.unit, part[0], part[1], part[2], value, low, high))
        rest = data[len(data) // size * size :]
        if rest and len(data) > 5 and (len(set(rest)) > 1 or rest[0] not in PADDING):
            self._note(one, f"{len(rest)} bytes after the last test result")


_RANK: Final = ("empty", "refused", "codes", "damaged")


def _merged(found: list[Answer]) -> Answer:
    """Return several messages of one unit and service as one answer: damaged if one is, all codes of all."""
    if len(found) == 1:
        return found[0]
    first = found[0]
    state = max((one.state for one in found), key=_RANK.index)
    codes = tuple(dict.fromkeys(code for one in found for code in one.codes))
    masks = [one.mask for one in found if one.mask is not None]
    why = "; ".join(dict.fromkeys(one.why for one in found if one.why))
    return Answer(first.unit, first.service, state, codes, masks[0] if masks else None, why)


def sort(record: Record, protocol: str, known: Callable[[str], bool]) -> Answers:
    """Return what the units of a record answered. ``protocol``: ``can``, ``older`` or ``unknown``."""
    sorter = _Sorter(protocol, known)
    for message in record.messages:
        sorter.take(message)
    notes = tuple(dict.fromkeys((*record.notes, *sorter.notes)))
    lists = sorter.lists()
    answered = {one.service for one in lists}
    lost = [Answer("", service, "damaged", (), None, "a line could not be read") for service in record.damaged]
    quiet = [Answer("", service, "silent", (), None, "no unit answered") for service in record.silent if service]
    lists = (*lists, *dict.fromkeys(lost), *(one for one in dict.fromkeys(quiet) if one.service not in answered))
    return Answers(
        lists,
        sorter.parameters,
        tuple(sorter.snapshots),
        tuple(sorter.outcomes),
        tuple(sorter.identification),
        record.cleared or sorter.cleared,
        notes,
    )
