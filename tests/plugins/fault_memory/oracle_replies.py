"""A second, independent reader of raw diagnostic replies, for differential tests: plain and slow on purpose.

Written from the published rules alone, without a look at the check's own decoder: frames after ISO 15765-2, services
01-0A after SAE J1979 / ISO 15031-5, service 19 after ISO 14229-1, code spelling after ISO 15031-6.

`decode` gives `{unit: {service: answer}}`. A unit is "7E8" (11-bit), "10" (source of a 29-bit or three-byte header),
"other:<id>" or "" (no header). A service is one of `SERVICES`, or "" for damage that nobody can assign to a service.

Where the rules are silent or can be read twice, a comment `Reading:` says what is done here and why.
"""

from __future__ import annotations

import re
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from typing import TypedDict

from oracle_values import code_text, read_can_list, read_older_list, read_unknown_list

SERVICES = ("03", "07", "0A", "01", "02", "06", "19 02", "19 01", "19 15", "")
#: Second byte of a line that is no echo, first byte of a message: positive responses of 01-0A and 19, and the refusal.
RESPONSES = frozenset({*range(0x41, 0x4B), 0x59, 0x7F})
REQUESTS = frozenset({*range(0x01, 0x0B), 0x14, 0x19})
LISTS = {0x43: "03", 0x47: "07", 0x4A: "0A"}
DATA = {0x41: "01", 0x42: "02", 0x46: "06"}
#: What the single digit after an identifier says about the number of bytes, ISO 11898-1 (9-F: CAN FD).
FRAME_LENGTH = {**{f"{n:X}": n for n in range(9)}, **dict(zip("9ABCDEF", (12, 16, 20, 24, 32, 48, 64), strict=True))}

Code = tuple[str, int | None, int | None]


class Answer(TypedDict):
    """What a unit said to a service. `codes` holds (code, status, failure type), `data` whole messages in hex."""

    state: str
    codes: list[Code]
    data: list[str]


@dataclass
class Heard:
    """Everything heard from one unit for one service; `state` at the end is made of these."""

    codes: list[Code] = field(default_factory=list)
    data: list[str] = field(default_factory=list)
    damaged: bool = False
    empty: bool = False
    values: bool = False
    refused: bool = False
    silent: bool = False

    def state(self) -> str:
        # Reading: several answers to one service. Damage stays; a list with codes outranks an empty one;
        # an answer outranks a refusal; a refusal outranks silence.
        for state, holds in (
            ("damaged", self.damaged),
            ("codes", bool(self.codes)),
            ("empty", self.empty),
            ("data", self.values),
            ("refused", self.refused),
        ):
            if holds:
                return state
        return "silent"


@dataclass
class Transfer:
    """A message that comes in pieces. `lost` = its sequence broke; what still belongs to it is swallowed."""

    total: int
    number: int
    service: str
    got: bytes = b""
    lost: bool = False


def decode(text: str, protocol: str, known: AbstractSet[str] = frozenset()) -> dict[str, dict[str, Answer]]:
    """Read replies; `protocol` is can, older or unknown; `known` are the codes of the code table (7-byte ambiguity)."""
    return _read(text, protocol, known).result()


def clear_sent(text: str) -> bool:
    """A request 04 or 14 stands in the text: what follows it describes an erased memory."""
    return _read(text, "unknown", frozenset()).cleared


def _read(text: str, protocol: str, known: AbstractSet[str]) -> _Reader:
    if protocol not in ("can", "older", "unknown"):
        raise ValueError(protocol)
    reader = _Reader(protocol, known)
    # Reading: "any line end" is every one that Python splits at, form feed and U+2028 among them.
    for line in text.splitlines():
        reader.line(line)
    reader.end()
    return reader


class _Reader:
    def __init__(self, protocol: str, known: AbstractSet[str]) -> None:
        self.protocol = protocol
        self.known = known
        self.heard: dict[tuple[str, str], Heard] = {}
        self.transfers: dict[str, Transfer] = {}
        self.pieces: Transfer | None = None
        self.cleared = False
        self.older_header = False
        # The service spoken of: that of the last echo or message. Who answered it; whether an echo opened it.
        self.service = ""
        self.answered: list[str] = []
        self.open = False

    def at(self, unit: str, service: str) -> Heard:
        return self.heard.setdefault((unit, service), Heard())

    def speak_of(self, service: str, unit: str) -> None:
        if service != self.service:
            self.service, self.answered, self.open = service, [], False
        self.answered.append(unit)

    def unreadable(self, unit: str) -> None:
        # Reading: bytes that fit no form may have been part of the answer: the service spoken of is damaged.
        self.at(unit, self.service).damaged = True

    # -- lines

    def line(self, line: str) -> None:
        plain = re.sub("0[xX](?=[0-9A-Fa-f])", " ", line)
        plain = re.sub("[$>]", " ", plain)
        if re.search("[G-Zg-z?]", plain):
            self.word_line(plain)
        elif not re.search("[0-9A-Fa-f]", plain):
            return  # Reading: dots, dashes and the like carry no data: a note.
        elif re.search("[^0-9A-Fa-f \t,:]", plain):
            self.unreadable("")  # Reading: a foreign character beside digits: nobody knows what stood there.
        elif ":" in plain:
            self.piece_line(plain.upper())
        else:
            self.hex_line(re.findall("[0-9A-F]+", plain.upper()))

    def word_line(self, words: str) -> None:
        if re.search("unable|error|full|stopped", words, re.IGNORECASE | re.ASCII):
            # Reading: it harms every answer to the service spoken of; without any, nobody's: unit "".
            for unit in self.answered or [""]:
                self.at(unit, self.service).damaged = True
            return
        nothing = re.search("no[ \t]*data|no[ \t]*answer", words, re.IGNORECASE | re.ASCII)
        # Reading: silence belongs to the open request; after an answer, or with no request seen, it is a note.
        if nothing and self.open and not self.answered:
            self.at("", self.service).silent = True

    def piece_line(self, plain: str) -> None:
        found = re.fullmatch("[ \t,]*([0-9A-F]):([0-9A-F \t,]*)", plain)
        content = self.to_bytes(re.findall("[0-9A-F]+", found[2])) if found else None
        transfer = self.pieces
        if not found or not content or transfer is None:
            self.unreadable("")
            return
        if transfer.lost:
            return
        size = min(7 if transfer.got else 6, transfer.total - len(transfer.got))
        wanted = 7 if transfer.got else 6
        # The same digit twice = two units answered; another wrong digit = a lost line. Both end the message.
        # Reading: after F comes 0 again. A piece that is too short or too long would shift all that follows.
        if not transfer.total or int(found[1], 16) != transfer.number or not size <= len(content) <= wanted:
            self.give_up("", transfer)
            return
        transfer.got = (transfer.got + content)[: transfer.total]
        transfer.number = (transfer.number + 1) % 16
        if name := self.name_of(transfer.got):
            self.speak_of(name, "")
        if len(transfer.got) == transfer.total:
            self.pieces = None
            self.message("", transfer.got, "can", True)

    def hex_line(self, tokens: list[str]) -> None:
        first = tokens[0]
        if len(tokens) == 1 and len(first) == 3:
            self.end_pieces()
            self.pieces = Transfer(int(first, 16), 0, self.service)
        elif len(first) % 2 and len(first) >= 3:
            # Reading: "odd digit count" is meant of digits without a gap. 43 01 7 is a cut line, not identifier 430.
            identifier = first[:3]
            unit = identifier if re.fullmatch("7E[89A-F]", identifier) else f"other:{identifier}"
            self.can_line(unit, [token for token in (first[3:], *tokens[1:]) if token])
        elif found := re.match("18(DAF1..|DB....|DA..F1)", "".join(tokens)):
            self.long_identifier(found[0], tokens)
        elif (content := self.to_bytes(tokens)) is None:
            self.unreadable("")
        elif self.is_older(content):
            self.older_line(content)
        else:
            self.bare_line(content)

    def long_identifier(self, identifier: str, tokens: list[str]) -> None:
        # 18DAF1xx answers the tester F1; 18DBttss goes to all. Reading: 18DAxxF1, the tester itself, is `other`.
        unit = identifier[6:] if identifier.startswith(("18DAF1", "18DB")) else f"other:{identifier}"
        rest, skip = [], 8
        for token in tokens:
            taken = min(skip, len(token))
            skip -= taken
            if token[taken:]:
                rest.append(token[taken:])
        self.can_line(unit, rest)

    def can_line(self, unit: str, tokens: list[str]) -> None:
        length = None
        if tokens and len(tokens[0]) == 1:
            length, tokens = FRAME_LENGTH[tokens[0]], tokens[1:]
        content = self.to_bytes(tokens)
        # Reading: a frame length that the bytes do not have shows lost bytes.
        if not content or (length is not None and length != len(content)):
            self.unreadable(unit)
        else:
            self.frame(unit, content)

    @staticmethod
    def to_bytes(tokens: list[str]) -> bytes | None:
        if any(len(token) % 2 for token in tokens):
            return None
        return bytes.fromhex("".join(tokens))

    @staticmethod
    def is_older(line: bytes) -> bool:
        header = line[:2] in (b"\x41\x6b", b"\x48\x6b") or (line[0] >> 4 == 8 and line[1:2] == b"\xf1")
        # 59 is no response here.
        return header and len(line) >= 5 and (0x41 <= line[3] <= 0x4A or line[3] == 0x7F)

    def older_line(self, line: bytes) -> None:
        self.older_header = True
        good = sum(line[:-1]) % 256 == line[-1]
        # A header .. 6B may be SAE J1850, whose CRC is not checked: a wrong sum is only a note there.
        self.message(f"{line[2]:02X}", line[3:-1], "older", good or line[1] == 0x6B)

    def bare_line(self, line: bytes) -> None:
        answers = len(line) > 1 and line[1] in RESPONSES
        if line[0] in REQUESTS and not answers and len(line) <= 4:
            self.echo(line)
        elif (1 <= line[0] <= 7 and answers) or (line[0] >> 4 in (1, 2) and len(line) == 8):
            # Reading: 01 41 and 02 43 00 may be requests of PID 41 and 43; to the letter: a length and a response.
            self.frame("", line)
        elif line[0] in RESPONSES and line[:2] != b"\x48\x6b":
            # Reading: 48 6B is a three-byte header even if what follows is spoilt, never an answer of service 08.
            self.message("", line, "bare", True)
        else:
            self.unreadable("")

    def echo(self, line: bytes) -> None:
        # Reading: an echo does not end a transfer in pieces; only a new first frame does.
        if line[0] in (0x04, 0x14):
            self.cleared = True
        self.service = f"{line[0]:02X}"
        if line[0] == 0x19:
            self.service = f"19 {line[1]:02X}" if len(line) > 1 else ""
        self.answered, self.open = [], True
        self.transfers = {unit: transfer for unit, transfer in self.transfers.items() if not transfer.lost}

    # -- frames, ISO 15765-2

    def frame(self, unit: str, frame: bytes) -> None:
        kind, low = frame[0] >> 4, frame[0] & 15
        if kind == 0:
            self.single(unit, frame)
        elif kind == 1:
            self.first(unit, frame)
        elif kind == 2:
            self.consecutive(unit, low, frame[1:])
        elif kind != 3:
            self.unreadable(unit)

    def single(self, unit: str, frame: bytes) -> None:
        # Reading: a single frame does not end a transfer of the same identifier; only a new first frame does.
        start, length = (1, frame[0]) if frame[0] else (2, frame[1] if len(frame) > 1 else 0)
        content = frame[start : start + length]
        if not content or (start == 1 and length > 7):
            self.unreadable(unit)
        else:
            self.message(unit, content, "can", len(content) == length)

    def first(self, unit: str, frame: bytes) -> None:
        self.close(unit)
        total = (frame[0] & 15) << 8 | (frame[1] if len(frame) > 1 else 0)
        transfer = Transfer(total, 1, self.service, frame[2:])
        self.transfers[unit] = transfer
        if total < 8 or len(frame) != 8:
            transfer.got = transfer.got[: min(6, total)]
            self.give_up(unit, transfer)
        elif name := self.name_of(transfer.got):
            transfer.service = name
            self.speak_of(name, unit)

    def consecutive(self, unit: str, number: int, content: bytes) -> None:
        transfer = self.transfers.get(unit)
        if transfer is None:
            self.unreadable(unit)  # orphan
            return
        if transfer.lost:
            return
        missing = transfer.total - len(transfer.got)
        # Expected n got m, a line cut short, or more bytes than a frame has: dropped, never re-sorted.
        if number != transfer.number or not min(7, missing) <= len(content) <= 7:
            self.give_up(unit, transfer)
            return
        transfer.got += content[:missing]
        transfer.number = (number + 1) % 16
        if len(transfer.got) == transfer.total:
            del self.transfers[unit]
            self.message(unit, transfer.got, "can", True)

    def give_up(self, unit: str, transfer: Transfer) -> None:
        """Count the received part as a damaged answer."""
        transfer.lost = True
        name = self.name_of(transfer.got)
        if name is None:
            self.at(unit, transfer.service).damaged = True
        else:
            self.message(unit, transfer.got, "can", False)

    def close(self, unit: str) -> None:
        transfer = self.transfers.pop(unit, None)
        if transfer is not None and not transfer.lost:
            self.give_up(unit, transfer)

    def end_pieces(self) -> None:
        if self.pieces is not None and not self.pieces.lost:
            self.give_up("", self.pieces)
        self.pieces = None

    def end(self) -> None:
        for unit in list(self.transfers):
            self.close(unit)
        self.end_pieces()

    # -- messages

    @staticmethod
    def name_of(message: bytes) -> str | None:
        """The service that a response answers, if its first bytes say so."""
        if not message or message[0] not in RESPONSES:
            return None
        if message[0] == 0x7F:
            return f"{message[1]:02X}" if len(message) > 1 else None
        if message[0] == 0x59:
            return f"19 {message[1]:02X}" if len(message) > 1 else None
        return f"{message[0] - 0x40:02X}"

    def message(self, unit: str, message: bytes, framing: str, whole: bool) -> None:
        if message[0] in REQUESTS and (unit == "F1" or unit.startswith("other:")):
            return  # A request of a tester, seen on the bus: no data.
        name = self.name_of(message)
        if name is None:
            self.unreadable(unit)
            return
        if message[0] == 0x7F:
            self.negative(unit, message, name, whole)
            return
        self.speak_of(name, unit)
        heard = self.at(unit, name)
        codes: list[Code] = []
        if message[0] in LISTS:
            spelled, fits = self.read_list(message[1:], framing)
            codes = [(code, None, None) for code in spelled]
        elif name in ("19 02", "19 15"):
            # Reading: 59 02 without the mask is a cut line, not an empty list. Bytes beyond whole records: cut too.
            records = [message[i : i + 4] for i in range(3, len(message) - 3, 4)]
            codes = [(code_text(r[0], r[1]), r[3], r[2]) for r in records if any(r[:2])]
            fits = len(message) >= 3 and (len(message) - 3) % 4 == 0
        else:
            heard.values = True
            fits = len(message) >= (6 if name == "19 01" else 2)
        heard.codes += codes
        if whole and fits:
            heard.data.append(message.hex().upper())
            heard.empty = heard.empty or not (codes or heard.values)
        else:
            heard.damaged = True

    def read_list(self, body: bytes, framing: str) -> tuple[list[str], bool]:
        # Reading: frames or a three-byte header prove the protocol against what was stated; a bare line does not.
        layout = self.protocol if framing == "bare" else framing
        if layout == "can":
            return read_can_list(body)
        if layout == "older":
            return read_older_list(body)
        return read_unknown_list(body, self.known)

    def negative(self, unit: str, message: bytes, name: str, whole: bool) -> None:
        if name == "19":
            # A refusal of 19 does not say which list; the open request does. Reading: else the list of codes, 02.
            name = self.service if self.open and self.service.startswith("19 ") else "19 02"
        elif message[1] not in REQUESTS:
            self.unreadable(unit)
            return
        if len(message) < 3 or not whole:
            self.at(unit, name).damaged = True
        elif message[2] != 0x78:
            # Reading: every other code than 78 (wait) refuses, not only 11, 12, 22, 31.
            self.speak_of(name, unit)
            self.at(unit, name).refused = True

    # -- result

    def result(self) -> dict[str, dict[str, Answer]]:
        self.older_silence()
        units: dict[str, dict[str, Answer]] = {}
        for (unit, service), heard in self.heard.items():
            if service in SERVICES:
                units.setdefault(unit, {})[service] = Answer(state=heard.state(), codes=heard.codes, data=heard.data)
        return units

    def older_silence(self) -> None:
        """On older protocols silence to 03 is an empty list if PID 01 of that unit counts no code."""
        # Reading: of 03 only, because that is the list that PID 01 counts.
        silent = self.heard.get(("", "03"))
        if silent is None or silent.state() != "silent" or not (self.protocol == "older" or self.older_header):
            return
        asked = [(unit, heard) for (unit, service), heard in self.heard.items() if service == "01"]
        without = [unit for unit, heard in asked if not heard.damaged and self.counts_none(heard.data)]
        if asked and len(without) == len(asked):
            del self.heard["", "03"]
        for unit in without:
            self.at(unit, "03").empty = True

    @staticmethod
    def counts_none(data: list[str]) -> bool:
        counts = [int(message[4:6], 16) & 0x7F for message in data if re.fullmatch("4101[0-9A-F]{8,}", message)]
        return bool(counts) and not any(counts)
