"""Raw replies of control units: recorded text to complete messages per unit.

Any line end, separators or none, either case, with or without headers, several units mixed. Nothing is ever re-sorted
or guessed: a message with a frame missing is kept as broken, with the line and the reason.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from loadworthy.sdk import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable

#: First bytes of positive answers, and of a refusal.
RESPONSES: Final = frozenset((*range(0x41, 0x4B), 0x54, 0x59, 0x7F))
_REQUESTS: Final = frozenset((*range(0x01, 0x0B), 0x14, 0x19))
_CLEARS: Final = (0x04, 0x14)
_HEX: Final = frozenset("0123456789ABCDEF")
_SEPARATORS: Final = str.maketrans(dict.fromkeys("\t,;\x00\ufeff", " ") | dict.fromkeys(">$", ""))
_SILENT: Final = ("NO DATA", "NODATA", "NO ANSWER", "NO RESPONSE")
_DAMAGED: Final = ("UNABLE", "ERROR", "FULL", "STOPPED")


class Message(NamedTuple):
    """One answer of one unit. ``unit`` is its identifier, empty where none was recorded; ``lines`` the first line.

    ``layout`` is ``can``, ``older`` or empty where the record does not show it. ``broken`` says why it is incomplete:
    ``data`` then holds what was received. ``asked`` is the request before it, empty where none is recorded.
    """

    unit: str
    data: bytes
    line: int
    layout: str = ""
    broken: str = ""
    asked: str = ""


class Record(NamedTuple):
    """All messages of a recorded text, in order of their first line.

    ``silent`` and ``damaged`` name the services (empty: the request is not recorded) to which no answer came, or none
    that can be read; ``cleared`` is whether a request to erase the memory stands in the record; ``notes`` say what was
    not understood, with its line.
    """

    messages: tuple[Message, ...]
    silent: tuple[str, ...] = ()
    damaged: tuple[str, ...] = ()
    cleared: bool = False
    notes: tuple[str, ...] = ()


class _Frame(NamedTuple):
    line: int
    unit: str
    data: bytes
    asked: str


def read(text: str) -> Record:
    """Return the messages of a recorded text. Raises nothing: what cannot be understood becomes a note."""
    reader = _Reader()
    for number, line in enumerate(text.splitlines(), 1):
        reader.take(number, line)
    return reader.record()


class _Reader:
    def __init__(self) -> None:
        self._frames: list[_Frame] = []
        self._messages: list[Message] = []
        self._pieces: list[tuple[int, int, bytes]] = []
        self._length: tuple[int, int] | None = None
        self._silent: list[str] = []
        self._damaged: list[str] = []
        self._open = ""
        self._notes: list[str] = []
        self._cleared = False

    def take(self, number: int, line: str) -> None:
        """Take one line of the record."""
        plain = line.translate(_SEPARATORS).upper().replace("0X", " ").strip()
        if not plain:
            return
        head, colon, rest = plain.partition(":")
        if colon and len(head.strip()) == 1 and head.strip() in _HEX:
            data = _octets(rest.split())
            if data is None:
                self._unread(number, line)
            else:
                self._pieces.append((number, int(head.strip(), 16), data))
            return
        if not _HEX.issuperset(plain.replace(" ", "")):
            self._words(number, plain, line)
            return
        self._end_pieces()
        tokens = plain.split()
        if len(tokens) == 1 and len(plain) == 3:
            self._length = int(plain, 16), number
            return
        identifier, data = _parted(tokens)
        if data is None:
            self._unread(number, line)
        elif identifier:
            self._with_identifier(number, identifier, data)
        else:
            self._without(number, data, line)

    def record(self) -> Record:
        """Put the frames together and return everything."""
        self._end_pieces()
        messages = [*self._messages, *_assembled(self._frames)]
        messages.sort(key=lambda one: one.line)
        return Record(tuple(messages), tuple(self._silent), tuple(self._damaged), self._cleared, tuple(self._notes))

    def _unread(self, number: int, line: str) -> None:
        self._damaged.append(self._open)
        self._notes.append(f"line {number} is not understood: {line.strip()[:60]}")

    def _words(self, number: int, plain: str, line: str) -> None:
        if any(words in plain for words in _SILENT):
            self._silent.append(self._open)
        elif any(words in plain for words in _DAMAGED):
            self._damaged.append(self._open)
            self._notes.append(f"line {number} reports a fault of the connection: {line.strip()[:60]}")
        elif sum(_is_data(token) for token in plain.split()) > 1 or any(
            len(t) > 7 and _is_data(t) for t in plain.split()
        ):
            self._unread(number, line)
        else:
            self._notes.append(f"line {number} is no data: {line.strip()[:60]}")

    def _request(self, data: bytes) -> None:
        if data:
            self._open = data[:2].hex(" ").upper() if data[0] == 0x19 else f"{data[0]:02X}"
            self._cleared = self._cleared or data[0] in _CLEARS

    def _with_identifier(self, number: int, identifier: str, data: bytes) -> None:
        if len(identifier) == 3:
            value = int(identifier, 16)
            if value == 0x7DF or 0x7E0 <= value <= 0x7E7:
                self._request(data[1:])
                return
            unit = identifier if 0x7E8 <= value <= 0x7EF else f"other:{identifier}"
        elif identifier.startswith("18DAF1"):
            unit = identifier[6:]
        elif identifier.startswith("18DB") or (identifier.startswith("18DA") and identifier.endswith("F1")):
            self._request(data[1:])
            return
        else:
            unit = f"other:{identifier}"
        self._frames.append(_Frame(number, unit, data, self._open))

    def _without(self, number: int, data: bytes, line: str) -> None:
        first = data[0]
        second = data[1] if len(data) > 1 else -1
        if (first in (0x41, 0x48) and second == 0x6B) or (len(data) >= 5 and first >> 6 == 2 and second == 0xF1):
            if len(data) >= 5 and data[3] in RESPONSES:
                self._older(number, data)
            else:
                self._unread(number, line)
        elif first in _REQUESTS and len(data) <= 4 and (second not in RESPONSES or len(data) == 2):
            # A frame of one byte would hold no answer: 01 41 asks for parameter 41.
            self._request(data)
        elif len(data) == 3 and first == 2 and second in (0x43, 0x47, 0x4A) and self._open != f"{second - 0x40:02X}":
            self._notes.append(
                f"line {number} is a request for a freeze frame or an answer without codes: record with headers"
            )
            self._damaged.append(f"{second - 0x40:02X}")
        elif (first <= 7 and second in RESPONSES) or (len(data) == 8 and first >> 4 in (1, 2)):
            self._frames.append(_Frame(number, "", data, self._open))
        elif first in RESPONSES:
            self._messages.append(Message("", data, number, asked=self._open))
        else:
            self._unread(number, line)

    def _older(self, number: int, data: bytes) -> None:
        *body, check = data
        broken = ""
        if sum(body) & 0xFF != check:
            if data[0] >= 0x80:
                broken = "the last byte is not the byte sum"
            else:
                # SAE J1850 has a cyclic check there, which is not tested.
                self._notes.append(f"line {number}: the last byte is not the byte sum, perhaps a cyclic check")
        content = bytes(body[3:])
        declared = data[0] & 0x3F
        if data[0] >= 0x80 and declared and declared != len(content):
            broken = f"truncated {len(content)} of {declared}" if len(content) < declared else broken
            content = content[:declared]
        self._messages.append(Message(f"{data[2]:02X}", content, number, "older", broken, self._open))

    def _end_pieces(self) -> None:
        """Put the pieces of a message without headers together: six bytes, then seven each."""
        pieces, announced = self._pieces, self._length
        self._pieces, self._length = [], None
        length = announced[0] if announced is not None else None
        if not pieces:
            if announced is not None:
                self._unread(announced[1], f"{announced[0]:03X}, a length or an identifier without data")
            return
        data, broken = b"", ""
        for at, (_, number, part) in enumerate(pieces):
            if number != at & 0xF:
                same = at and number == pieces[at - 1][1]
                broken = (
                    "two units answered in turn: record with headers"
                    if same
                    else f"expected {at & 0xF:X} got {number:X}"
                )
                break
            data += part
        if not broken and length is not None and len(data) < length:
            broken = f"truncated {len(data)} of {length}"
        if length is not None:
            data = data[:length]
        self._messages.append(Message("", data, pieces[0][0], "can", broken, self._open))


def _is_data(token: str) -> bool:
    """Whether a word in a line that is no data could be bytes that something spoilt."""
    digits = sum(character in _HEX for character in token)
    return digits > 1 and digits >= len(token) - 1 and any(character.isdigit() for character in token)


def _octets(tokens: Iterable[str]) -> bytes | None:
    """Return the bytes of hexadecimal digits, None where there are none or an odd number of them."""
    digits = "".join(tokens)
    return bytes.fromhex(digits) if digits and len(digits) % 2 == 0 and _HEX.issuperset(digits) else None


def _parted(tokens: list[str]) -> tuple[str, bytes | None]:
    """Return the identifier of a frame, empty where it has none, and its bytes, None where they are none."""
    if len(tokens) > 1 and len(tokens[0]) == 3:
        identifier, rest = tokens[0], tokens[1:]
    elif len(tokens) == 2 and len(tokens[0]) == 2 and len(tokens[1]) == 1 and int(tokens[0], 16) in _REQUESTS:
        # A request with the number of answers to wait for.
        return "", _octets(tokens[:1])
    elif len(tokens) == 1 and len(tokens[0]) % 2:
        identifier, rest = tokens[0][:3], [tokens[0][3:]]
    else:
        digits = "".join(tokens)
        if not digits.startswith(("18DAF1", "18DB", "18DA")) or len(digits) < 10:
            return "", _octets(tokens)
        identifier, rest = digits[:8], [digits[8:]]
        if len(tokens[0]) == 8:
            rest = tokens[1:]
        elif all(len(token) == 2 for token in tokens[:4]):
            rest = tokens[4:]
    length = None
    if len(rest) > 1 and len(rest[0]) == 1:
        length, rest = int(rest[0], 16), rest[1:]
    data = _octets(rest)
    if data is None or len(identifier) < 3:
        return identifier, None
    return identifier, data if length is None or length == len(data) else None


class _Open(NamedTuple):
    line: int
    length: int
    data: bytes
    next: int
    asked: str


def _assembled(frames: Iterable[_Frame]) -> Iterable[Message]:
    """Put frames of ISO 15765-2 together, each unit for itself, in the order in which they were recorded."""
    opened: dict[str, _Open | None] = {}
    for line, unit, data, asked in frames:
        kind, low = data[0] >> 4, data[0] & 0xF
        current = opened.get(unit)
        if kind in (0, 1):
            if current is not None:
                yield _truncated(unit, current)
            opened.pop(unit, None)
        if kind == 0:
            length, body = (low, data[1:]) if low else (data[1] if len(data) > 1 else 0, data[2:])
            if not length or (low and length > 7):
                yield Message(unit, b"", line, "can", "a frame of no length", asked)
            else:
                short = f"truncated {len(body)} of {length}" if len(body) < length else ""
                yield Message(unit, body[:length], line, "can", short, asked)
        elif kind == 1:
            length = low << 8 | (data[1] if len(data) > 1 else 0)
            if length < 8:
                yield Message(unit, data[2:], line, "can", f"a first frame of impossible length {length}", asked)
            else:
                opened[unit] = _Open(line, length, data[2:], 1, asked)
        elif kind == 2:
            if current is None:
                if unit not in opened:
                    yield Message(unit, b"", line, "can", "orphan: a further frame without its first", asked)
                continue
            if low != current.next:
                yield Message(
                    unit, current.data, current.line, "can", f"expected {current.next:X} got {low:X}", current.asked
                )
                opened[unit] = None
                continue
            received = current.data + data[1:]
            if len(received) >= current.length:
                yield Message(unit, received[: current.length], current.line, "can", "", current.asked)
                del opened[unit]
            else:
                opened[unit] = _Open(current.line, current.length, received, (low + 1) & 0xF, current.asked)
    for unit, left in opened.items():
        if left is not None:
            yield _truncated(unit, left)


def _truncated(unit: str, left: _Open) -> Message:
    return Message(unit, left.data, left.line, "can", f"truncated {len(left.data)} of {left.length}", left.asked)
