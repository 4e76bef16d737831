"""Draw pictures of a terminal with a register on it: run ``python docs/pictures.py`` after a change of the output.

The command runs on a pseudo-terminal, as a person would see it, and each part of what it prints becomes one SVG file.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

DOCS = Path(__file__).parent
CASE = "docs/cases/petrol-thick-oil-hold.toml"
#: File -> title for those who cannot see it, first line of the part, first line after it (None: to the end).
PARTS = {
    "register-1-outcome.svg": ("Outcome, what decides, what to do first", None, "Risks, the worst first"),
    "register-2-risk.svg": ("The worst risk with its evidence", "Risks, the worst first", "   2  "),
    "register-3-ceilings.svg": (
        "Torque allowed over engine speed and what lifts the ceilings",
        "Ceilings over speed",
        "Gates, apart",
    ),
}
#: Sizes in units of the picture: one character, one line, the edge around the text.
WIDTH, HEIGHT, EDGE = 8.4, 19.0, 18.0
PAPER, INK, FRAME = "#fbfaf7", "#1d2329", "#8a8f94"
FONT = "ui-monospace, 'DejaVu Sans Mono', Menlo, Consolas, 'Liberation Mono', monospace"
COLUMNS = 80
_STYLE = re.compile(r"\x1b\[(\d*)m")


def terminal(arguments: list[str]) -> str:
    """Return what a command prints on a terminal of 80 columns, control codes and all."""
    import pty

    parent, child = pty.openpty()
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": str(COLUMNS), "LANG": "C.UTF-8"}
    environment.pop("NO_COLOR", None)
    process = subprocess.Popen(
        [sys.executable, "-m", "loadworthy", *arguments],
        cwd=DOCS.parent,
        stdin=subprocess.DEVNULL,
        stdout=child,
        stderr=subprocess.PIPE,
        env=environment,
    )
    os.close(child)
    read = bytearray()
    while True:
        try:
            chunk = os.read(parent, 65536)
        except OSError:  # the other end is closed: that is how a pseudo-terminal says so
            break
        if not chunk:
            break
        read += chunk
    os.close(parent)
    _, complaints = process.communicate()
    if process.returncode or complaints:
        raise RuntimeError(f"loadworthy {' '.join(arguments)} ended with {process.returncode}: {complaints.decode()}")
    return read.decode("utf-8").replace("\r\n", "\n")


def cut(text: str, first: str | None, after: str | None) -> list[str]:
    """Return the lines from one that begins with ``first`` up to one that begins with ``after``."""
    lines = text.rstrip("\n").split("\n")
    plain = [_STYLE.sub("", line) for line in lines]
    start = 0 if first is None else next(i for i, line in enumerate(plain) if line.startswith(first))
    end = next(i for i in range(start + 1, len(plain)) if plain[i].startswith(after)) if after else len(plain)
    while end > start and not plain[end - 1]:
        end -= 1
    return lines[start:end]


def svg(title: str, lines: list[str]) -> str:
    """Return a picture of some lines. Every line is as wide as its characters, whatever font there is."""
    width, height = COLUMNS * WIDTH + 2 * EDGE, len(lines) * HEIGHT + 2 * EDGE
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}" '
        f'height="{height:g}" role="img" aria-label={quoteattr(title)}>',
        f"<title>{escape(title)}</title>",
        f'<rect x="0.5" y="0.5" width="{width - 1:g}" height="{height - 1:g}" rx="6" fill="{PAPER}" stroke="{FRAME}"/>',
        f'<g font-family="{FONT}" font-size="14" fill="{INK}">',
    ]
    bold = False
    for number, line in enumerate(lines):
        x, y = EDGE, EDGE + (number + 0.75) * HEIGHT
        for i, part in enumerate(_STYLE.split(line)):
            if i % 2:
                bold = part == "1"
                continue
            shown = part.rstrip()
            if shown:
                indent = len(shown) - len(shown.lstrip())
                weight = ' font-weight="bold"' if bold else ""
                out.append(
                    f'<text x="{x + indent * WIDTH:g}" y="{y:g}" textLength="{(len(shown) - indent) * WIDTH:g}" '
                    f'lengthAdjust="spacingAndGlyphs" xml:space="preserve"{weight}>{escape(shown.lstrip())}</text>'
                )
            x += len(part) * WIDTH
    return "\n".join((*out, "</g>", "</svg>", ""))


def pictures() -> dict[str, str]:
    """Return every picture by the name of its file."""
    text = terminal(["register", CASE])
    out = {}
    for name, (title, first, after) in PARTS.items():
        lines = cut(text, first, after)
        if first is None:
            lines = [f"$ loadworthy register {CASE}", "", *lines]
        out[name] = svg(title, lines)
    return out


if __name__ == "__main__":
    for name, text in pictures().items():
        (DOCS / "pictures" / name).write_text(text, encoding="utf-8")
