"""Makers of raw diagnostic replies for tests: well-formed texts with what they say, and ways to spoil them.

Layers, lowest first: messages (bytes), frames (ISO 15765-2), lines (a tuple of tokens), dress (separators, case,
prefixes, line ends), `reply` (a whole random text with echoes and its meaning), `mutate` (damage).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from random import Random

Line = tuple[str, ...]
Item = tuple[str, int | None, int | None]

RESPONSE = {"03": 0x43, "07": 0x47, "0A": 0x4A}
PADDING = (0x00, 0x55, 0xAA, 0xCC, 0xFF)
REFUSALS = (0x11, 0x12, 0x22, 0x31)
CAN_FORMS = ("header 11", "header 29", "bare messages", "bare frames", "pieces")
OLDER_FORMS = ("header 48", "header 41", "header 8n", "bare older")
FORMS = CAN_FORMS + OLDER_FORMS
#: Forms in which every message has its length and every frame of a long one its number: a lost line shows.
NUMBERED_FORMS = ("header 11", "header 29", "bare frames")
#: Words that say nothing about an answer.
NOTES = ("SEARCHING...", "BUS INIT: OK", "reading taken at the gate", "v1.4")


# -- messages


def to_bytes(code: str) -> bytes:
    """P0171 is 01 71: letter in the two top bits, then the first digit, then three hex digits (ISO 15031-6)."""
    return ((("PCBU".index(code[0]) * 4 + int(code[1])) << 12) + int(code[2:], 16)).to_bytes(2, "big")


def random_code(rng: Random) -> str:
    """Any code but P0000; mostly of the kind that engines store."""
    if rng.random() < 0.7:
        return f"P{rng.choice('0002')}{rng.randrange(1, 0x800):03X}"
    value = rng.randrange(1, 0x10000)
    return f"{'PCBU'[value >> 14]}{value >> 12 & 3}{value & 0xFFF:03X}"


def can_list(service: str, codes: Sequence[str]) -> bytes:
    """One message of service 03, 07 or 0A on CAN: response, count, codes (at most 255)."""
    return bytes([RESPONSE[service], len(codes)]) + b"".join(map(to_bytes, codes))


def older_lists(service: str, codes: Sequence[str]) -> list[bytes]:
    """Messages of seven bytes on the older protocols, three codes each, padded with 0000; one of zeros for no code."""
    groups = [codes[i : i + 3] for i in range(0, len(codes), 3)] or [()]
    return [bytes([RESPONSE[service]]) + b"".join(map(to_bytes, group)).ljust(6, b"\0") for group in groups]


def status_list(sub: int, mask: int, items: Iterable[Item]) -> bytes:
    """59 02 or 59 15: mask, then code, failure type and status of each (ISO 14229-1)."""
    records = (to_bytes(code) + bytes([failure or 0, status or 0]) for code, status, failure in items)
    return bytes([0x59, sub, mask]) + b"".join(records)


# -- frames and lines


def frames(message: bytes, padding: int | None) -> list[bytes]:
    """A message as ISO 15765-2 frames; `padding` fills the last frame to eight bytes, None leaves it short."""

    def fill(frame: bytes) -> bytes:
        return frame if padding is None else frame.ljust(8, bytes([padding]))

    if len(message) <= 7:
        return [fill(bytes([len(message)]) + message)]
    made = [bytes([0x10 | len(message) >> 8, len(message) & 0xFF]) + message[:6]]
    for number, start in enumerate(range(6, len(message), 7), 1):
        made.append(fill(bytes([0x20 | number % 16]) + message[start : start + 7]))
    return made


def pairs(content: bytes) -> Line:
    """Each byte as two digits."""
    return tuple(f"{byte:02X}" for byte in content)


def line_11(identifier: str, frame: bytes, with_length: bool = False) -> Line:
    """A frame behind an 11-bit identifier, with the single digit of its length if asked for."""
    return (identifier, *((f"{len(frame)}",) if with_length else ()), *pairs(frame))


def line_29(source: str, frame: bytes, joined: bool = False, with_length: bool = False) -> Line:
    """A frame behind a 29-bit identifier 18 DA F1 <source>, written as one token or as four."""
    head = (f"18DAF1{source}",) if joined else ("18", "DA", "F1", source)
    return (*head, *((f"{len(frame)}",) if with_length else ()), *pairs(frame))


def line_older(source: str, message: bytes, form: int = 0x48) -> Line:
    """A message between a three-byte header and its byte sum; form 48 gives 48 6B xx, 80 gives 8n F1 xx."""
    head = bytes([0x80 | len(message), 0xF1]) if form == 0x80 else bytes([form, 0x6B])
    line = head + bytes.fromhex(source) + message
    return pairs(line + bytes([sum(line) % 256]))


def lines_pieces(message: bytes, padding: int | None) -> list[Line]:
    """A message as an adapter without headers prints it: a length line, then pieces `k:` of six and seven bytes."""
    lines: list[Line] = [(f"{len(message):03X}",), ("0:", *pairs(message[:6]))]
    for number, start in enumerate(range(6, len(message), 7), 1):
        piece = message[start : start + 7]
        piece = piece if padding is None else piece.ljust(7, bytes([padding]))
        lines.append((f"{number % 16:X}:", *pairs(piece)))
    return lines


def interleave(rng: Random, queues: Sequence[Sequence[Line]]) -> list[Line]:
    """Mix the lines of several units at random; each unit keeps its order."""
    turns = [number for number, queue in enumerate(queues) for _ in queue]
    rng.shuffle(turns)
    waiting = [iter(queue) for queue in queues]
    return [next(waiting[turn]) for turn in turns]


def lines_of(rng: Random, form: str, unit: str, message: bytes) -> list[Line]:
    """The lines of one message in one of `FORMS`; padding and the writing of the identifier are drawn."""
    if form.startswith("header 1") or form == "header 29":
        return _headed(rng, form, unit, message)
    if form.startswith("header"):
        return [line_older(unit, message, int(form[7] + "0", 16) if form == "header 8n" else int(form[7:], 16))]
    if form == "bare frames":
        return [pairs(frame) for frame in frames(message, rng.choice(PADDING))]
    if form == "pieces" and len(message) > 7:
        return lines_pieces(message, rng.choice((None, *PADDING)))
    return [pairs(message)]


def _headed(rng: Random, form: str, unit: str, message: bytes) -> list[Line]:
    made = frames(message, rng.choice((None, *PADDING)))
    with_length = rng.random() < 0.3
    if form == "header 29":
        joined = rng.random() < 0.5
        return [line_29(unit, frame, joined, with_length) for frame in made]
    lines = [line_11(unit.removeprefix("other:"), frame, with_length) for frame in made]
    if len(lines) > 1 and rng.random() < 0.2:
        lines.insert(1, line_11("7E0", b"\x30\x00\x00"))
    return lines


def list_lines(rng: Random, form: str, unit: str, service: str, codes: Sequence[str]) -> list[Line]:
    """The lines of a list 03, 07 or 0A in one of `FORMS`."""
    messages = [can_list(service, codes)] if form in CAN_FORMS else older_lists(service, codes)
    return [line for message in messages for line in lines_of(rng, form, unit, message)]


# -- dress


class Dress(NamedTuple):
    """How a text is written: what stands between bytes and before them, line end, case."""

    separator: str
    prefix: str
    end: str
    case: str

    def write(self, rng: Random, line: Line) -> str:
        """One line, its end not included."""
        if self.separator == "" and len(line) > 1:
            # A single digit of frame length can only be told apart when it stands alone.
            line = tuple(token for token in line if len(token) != 1)
        whole_bytes = len(line[0]) != 3 or len(line) > 1
        written = self.separator.join(
            f"{self.prefix if whole_bytes and len(token) > 1 and ':' not in token else ''}{self.cased(rng, token)}"
            for token in line
        )
        return f"{rng.choice(('', '', ' '))}{written}{rng.choice(('', '', ' ', chr(9)))}"

    def text(self, rng: Random, lines: Iterable[Line]) -> str:
        """Whole lines, joined by the line end."""
        return self.end.join(self.write(rng, line) for line in lines)

    def cased(self, rng: Random, token: str) -> str:
        if self.case == "mixed":
            return "".join(rng.choice((letter.lower(), letter)) for letter in token)
        return token.lower() if self.case == "lower" else token


def random_dress(rng: Random) -> Dress:
    """Any dress; prefixes only where something separates the bytes."""
    separator = rng.choice((" ", " ", "", "\t", ",", ", ", "  ", " \t"))
    prefix = rng.choice(("", "", "0x", "0X", "$")) if separator else ""
    return Dress(
        separator,
        prefix,
        rng.choice(("\r", "\n", "\r\n", "\r\r\n", "\r\n\r\n")),
        rng.choice(("upper", "lower", "mixed")),
    )


PLAIN = Dress(" ", "", "\n", "upper")


# -- whole texts


class Reply(NamedTuple):
    """A text, the protocol to state with it, and what it says: {unit: {service: (state, codes, data)}}."""

    text: str
    protocol: str
    said: dict[str, dict[str, tuple[str, list[Item], list[str]]]]
    form: str


def reply(rng: Random, form: str | None = None, spoken: bool = True) -> Reply:
    """A random well-formed text. `spoken` allows echoes, notes, refusals, waits and silence beside the answers."""
    form = form or rng.choice(FORMS)
    can = form in CAN_FORMS
    dress = random_dress(rng)
    units = _units(rng, form)
    services = ["03", "07", "0A", "01", "02"] + (["06", "19 02", "19 15"] if can else [])
    echo = spoken and rng.random() < 0.7
    said: dict[str, dict[str, tuple[str, list[Item], list[str]]]] = {}
    written: list[str] = []
    for service in rng.sample(services, rng.randint(1, 4)):
        queues: list[list[Line]] = []
        for unit in units:
            kind = _kind(rng, service, echo, spoken)
            if kind == "silent" and len(units) == 1:
                said.setdefault("", {})[service] = ("silent", [], [])
            if kind == "silent":
                continue
            messages, told = _answer(rng, service, kind, can)
            said.setdefault(unit, {})[service] = told
            asked = bytes.fromhex(service[:2])
            wait = [b"\x7f" + asked + b"\x78"] * (spoken and rng.random() < 0.15)
            queues.append([line for message in wait + messages for line in lines_of(rng, form, unit, message)])
        if echo:
            written.append(rng.choice(("", ">", "> ")) + dress.write(rng, pairs(_request(rng, service))))
            if rng.random() < 0.2:
                written.append(rng.choice(NOTES))
        written += [dress.write(rng, line) for line in interleave(rng, queues)]
        if not queues:
            if len(units) > 1:
                said.setdefault("", {})[service] = ("silent", [], [])
            written.append(rng.choice(("NO DATA", "no data", "No answer")))
        if echo and rng.random() < 0.5:
            written.append(">")
    # Without header seven bytes of an older list may fit CAN as well: there the protocol has to be stated.
    stated = "can" if can else "older"
    protocol = stated if form == "bare older" or rng.random() < 0.5 else "unknown"
    return Reply(dress.end.join(written) + rng.choice(("", dress.end)), protocol, said, form)


def _units(rng: Random, form: str) -> list[str]:
    if form == "header 11":
        return rng.sample([f"7E{digit}" for digit in "89ABCDEF"] + ["other:7B1"], rng.randint(1, 4))
    if form.startswith("header"):
        return rng.sample(["10", "11", "18", "28", "4A"], rng.randint(1, 3))
    return [""]


def _kind(rng: Random, service: str, echo: bool, spoken: bool) -> str:
    kinds = ["codes", "codes", "codes", "empty"]
    if spoken and service != "19 15":
        kinds.append("refused")
    if echo:
        kinds.append("silent")
    return rng.choice(kinds)


def _request(rng: Random, service: str) -> bytes:
    tail = {"01": "21", "02": "02 00", "06": "3D", "19 02": rng.choice(("", "FF", "0F")), "19 15": ""}
    return bytes.fromhex(service + tail.get(service, ""))


def _answer(rng: Random, service: str, kind: str, can: bool) -> tuple[list[bytes], tuple[str, list[Item], list[str]]]:
    if kind == "refused":
        return [bytes([0x7F, int(service[:2], 16), rng.choice(REFUSALS)])], ("refused", [], [])
    if service in ("01", "02", "06"):
        message = _data(rng, service)
        return [message], ("data", [], [message.hex().upper()])
    count = 0 if kind == "empty" else rng.choice((1, 2, 3, 4, 6, rng.randint(5, 60)))
    codes = [random_code(rng) for _ in range(count)]
    items: list[Item] = [(code, None, None) for code in codes]
    if service.startswith("19"):
        items = [(code, rng.randrange(256), rng.choice((0, 0, 0x11, 0x1F, 0x64))) for code in codes]
        messages = [status_list(int(service[3:], 16), rng.choice((0xFF, 0x7F, 0x2F)), items)]
    else:
        messages = [can_list(service, codes)] if can else older_lists(service, codes)
    data = [message.hex().upper() for message in messages]
    return messages, ("codes" if codes else "empty", items, data)


def _data(rng: Random, service: str) -> bytes:
    if service == "01":
        return bytes([0x41, rng.choice((0x21, 0x31)), *rng.randbytes(2)])
    if service == "02":
        return b"\x42\x02\x00" + rng.randbytes(2)
    records = (
        bytes([rng.randrange(1, 0x10), rng.randrange(256), 0x0A]) + rng.randbytes(6) for _ in range(rng.randint(1, 4))
    )
    return b"\x46" + b"".join(records)


# -- damage

WORDS = (
    "BUFFER FULL",
    "DATA ERROR",
    "STOPPED",
    "UNABLE TO CONNECT",
    "NO DATA",
    "?",
    "note of the reader",
    "7E8 pulled",
)
FOREIGN = "\u00e9\u0416\u00a0\u2028\ufeff\u0663\uff14\u212a\u017f\U0001f527\x00\x0c"
ENDS = ("\r", "\n", "\r\n")


def mutate(rng: Random, text: str, times: int | None = None) -> str:
    """Spoil a text one to three times: lines dropped, doubled, swapped, glued; digits flipped; cuts; insertions."""
    for _ in range(times or rng.randint(1, 3)):
        text = rng.choice((spoil_lines, spoil_lines, flip, cut, insert))(rng, text)
    return text


def spoil_lines(rng: Random, text: str, ways: Sequence[str] = ("drop", "double", "swap", "glue", "shorten")) -> str:
    """Drop, double, swap, glue or shorten whole lines."""
    lines = text.splitlines(keepends=True)
    if len(lines) < 2:
        return text
    at = rng.randrange(len(lines))
    other = rng.randrange(len(lines))
    match rng.choice(ways):
        case "drop":
            del lines[at]
        case "double":
            lines.insert(other, lines[at] if lines[at].endswith(("\r", "\n")) else lines[at] + "\n")
        case "swap":
            lines[at], lines[other] = (
                line if line.endswith(("\r", "\n")) else line + "\n" for line in (lines[other], lines[at])
            )
        case "glue":
            lines[at] = lines[at].rstrip("\r\n")
        case _:
            kept = rng.randrange(len(lines[at]))
            lines[at] = lines[at][:kept] + "\n"
    return "".join(lines)


def flip(rng: Random, text: str) -> str:
    """Replace one hex digit by another."""
    places = [place for place, letter in enumerate(text) if letter in "0123456789abcdefABCDEF"]
    if not places:
        return text
    place = rng.choice(places)
    digit = rng.choice([digit for digit in "0123456789ABCDEF" if digit != text[place].upper()])
    return text[:place] + digit + text[place + 1 :]


def cut(rng: Random, text: str) -> str:
    """Take a piece away: the end, the start, or a few characters anywhere."""
    place = rng.randrange(len(text) + 1)
    return rng.choice((text[:place], text[place:], text[:place] + text[place + rng.randint(1, 9) :]))


def insert(rng: Random, text: str) -> str:
    """Put in a word line, a line of digits, or a foreign character."""
    place = rng.randrange(len(text) + 1)
    end = rng.choice(ENDS)
    garbage = pairs(rng.randbytes(rng.randint(1, 12)))
    what = rng.choice(
        (
            end + rng.choice(WORDS) + end,
            end + rng.choice((" ", "")).join(garbage) + end,
            rng.choice(FOREIGN),
            rng.choice("0123456789ABCDEF :,>$?"),
        )
    )
    return text[:place] + what + text[place:]
