"""The page we write on: how wide it is, which characters it can show, whether it may be coloured.

Colour is decoration only: every mark that carries meaning is a character or a word. Text that came from
outside (the driver, a file, a server) has its control characters taken out before it reaches the terminal.
"""

import os
import shutil
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

NARROWEST, WIDEST, WIDTH_UNKNOWN = 40, 200, 80
EDGE = 1 if os.name == "nt" else 0
"""Columns left free at the right: older Windows consoles go on to the next line when a line is full."""
INKS = {"strong": "1", "faint": "2", "good": "32", "warn": "33", "stop": "1;31", "mark": "36"}
"""Ink name → SGR code (ECMA-48)."""
RICH = {
    "to": "→",
    "dot": "·",
    "middle": "│",
    "was": "○",
    "now": "●",
    "same": "◉",
    "go": "─",
    "bullet": "•",
    "caret": "^",
}
PLAIN = {
    "to": "->",
    "dot": ".",
    "middle": "|",
    "was": "o",
    "now": "#",
    "same": "@",
    "go": "-",
    "bullet": "*",
    "caret": "^",
}
EASY = {
    "→": "->",
    "·": "-",
    "−": "-",
    "–": "-",
    "—": "-",
    "’": "'",
    "‘": "'",
    "“": '"',
    "”": '"',
    "…": "...",
    "°": " deg ",
    "±": "+/-",
    "×": "x",
    "≤": "<=",
    "≥": ">=",
}
"""Characters that sentences use, and what stands for them on a page that has only ASCII."""


@dataclass(frozen=True, slots=True)
class Page:
    """Width in columns; `rich`: the encoding has the marks of `RICH`; `colour`: SGR codes may be used."""

    width: int = WIDTH_UNKNOWN
    rich: bool = True
    colour: bool = False

    def mark(self, name: str) -> str:
        """A mark in the page's characters."""
        return (RICH if self.rich else PLAIN)[name]

    def ink(self, name: str, text: str) -> str:
        """The text in an ink, or as it is on a page without colour."""
        return f"\x1b[{INKS[name]}m{text}\x1b[0m" if self.colour and text else text

    def clean(self, text: str) -> str:
        """The text without control characters, in characters the page can show."""
        kept = "".join(" " if c in "\t\n\r" else c for c in text if c in "\t\n\r" or printable(c))
        if self.rich:
            return kept
        easy = "".join(EASY.get(c, c) for c in kept)
        return easy.encode("ascii", "replace").decode("ascii")

    def wrap(self, text: str, first: str = "", rest: str | None = None) -> list[str]:
        """Cleaned text in lines of at most `width` columns; `first` opens the first, `rest` the others."""
        rest = " " * columns(first) if rest is None else rest
        room = max(1, self.width - max(columns(first), columns(rest)))
        lines: list[str] = []
        line, empty = first, True
        for word in _fitting(self.clean(text).split(), room):
            if not empty and columns(line) + 1 + columns(word) > self.width:
                lines.append(line)
                line, empty = rest, True
            line, empty = line + word if empty else f"{line} {word}", False
        return [*lines, line.rstrip()]


def _fitting(words: Iterable[str], room: int) -> Iterator[str]:
    """The words, those wider than the room cut into pieces."""
    for word in words:
        while columns(word) > room:
            cut = next(n for n in range(len(word), 0, -1) if columns(word[:n]) <= room or n == 1)
            yield word[:cut]
            word = word[cut:]
        if word:
            yield word


def printable(character: str) -> bool:
    """False for controls, surrogates and the marks that turn the direction of writing."""
    return unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def columns(text: str) -> int:
    """Columns that a text takes on a terminal: wide characters take two, combining ones none."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text
    )


class Stream(Protocol):
    """What `page_for` asks of a stream."""

    @property
    def encoding(self) -> str | None:
        """Its encoding, if it has one."""

    def isatty(self) -> bool:
        """Whether it is a terminal."""


def page_for(stream: Stream, *, colour: bool = True, environ: Mapping[str, str] | None = None) -> Page:
    """The page that a stream is: asks its encoding, the window's width and the user's wishes about colour."""
    env = os.environ if environ is None else environ
    terminal = stream.isatty()
    wanted = colour and terminal and not env.get("NO_COLOR") and env.get("TERM") != "dumb"
    return Page(width=_width(env, terminal), rich=_rich(stream), colour=wanted and _coloured())


def _width(env: Mapping[str, str], terminal: bool) -> int:
    said = env.get("COLUMNS", "")
    if said.isdigit() and int(said) > 0:
        width = int(said)
    else:
        width = shutil.get_terminal_size((WIDTH_UNKNOWN, 24)).columns - EDGE if terminal else WIDTH_UNKNOWN
    return max(NARROWEST, min(WIDEST, width))


def _rich(stream: Stream) -> bool:
    try:
        "".join(RICH.values()).encode(stream.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def _coloured() -> bool:
    """Windows consoles understand SGR codes only when told to; everything else does."""
    if os.name != "nt":
        return True
    import ctypes

    kernel = getattr(ctypes, "windll").kernel32  # noqa: B009 (exists on Windows only)
    handle, mode = kernel.GetStdHandle(-11), ctypes.c_uint32()
    if not kernel.GetConsoleMode(handle, ctypes.byref(mode)):
        return False
    return bool(kernel.SetConsoleMode(handle, mode.value | 0x0004))  # ENABLE_VIRTUAL_TERMINAL_PROCESSING
