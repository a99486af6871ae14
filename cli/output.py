"""Writing to standard output: lines in the console's encoding, JSON always in UTF-8."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

from cli.page import Page, page_for
from cli.problems import Problem

__all__ = ["page_of", "told", "write_file", "write_json", "write_lines"]


def page_of(args: argparse.Namespace) -> Page:
    """The page that standard output is, as the options want it."""
    return page_for(sys.stdout, colour=not args.no_color)


def write_lines(lines: Sequence[str], stream: TextIO | None = None) -> None:
    """Lines to standard output (or `stream`); what the encoding lacks becomes `?`."""
    stream = sys.stdout if stream is None else stream
    encoding = stream.encoding or "ascii"
    for line in lines:
        stream.write(line.encode(encoding, "replace").decode(encoding) + "\n")
    stream.flush()


def write_json(text: str) -> None:
    """One JSON value and a line end, in UTF-8 whatever the console's encoding is."""
    sys.stdout.flush()
    sys.stdout.buffer.write(text.encode("utf-8") + b"\n")
    sys.stdout.buffer.flush()


def write_file(text: str, out: str) -> None:
    """A text to the file the user named, in UTF-8. Raises Problem."""
    try:
        Path(out).write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise Problem(f"{out} cannot be written: {error.strerror}") from error
    print(f"written: {out}", file=sys.stderr)


def told(page: Page, problem: Problem) -> list[str]:
    """A problem as lines: what, then what to do."""
    lines = [page.ink("warn", line) for line in page.wrap(problem.message, "error: ")]
    hint = problem.hint
    if hint and hint.partition(": ")[2] and hint.partition(": ")[2] in problem.message:
        hint = None  # it says again what the message has said
    return lines + (page.wrap(hint, "hint: ") if hint else [])
