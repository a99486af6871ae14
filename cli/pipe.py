"""A pipe or a dumb terminal: each line of the input is a turn of the chat."""

import argparse
import io
import sys
from collections.abc import Iterable

from cli.arguments import request_of
from cli.client import client_for
from cli.output import page_of, write_json, write_lines
from cli.problems import Problem
from cli.session import Session, new_name
from cli.turns import turn as answer
from service.texts import encoding_of


def session_of(args: argparse.Namespace) -> Session:
    """The session that the options describe; a new name (date and time) when none is given."""
    given = {key: value for key, value in request_of(args).items() if value is not None}
    alternatives = given.pop("alternatives")
    return Session(client_for(args.server, args.db), args.session or new_name(), given, alternatives)


def pipe(args: argparse.Namespace, lines: Iterable[str], echo: bool = True) -> int:
    """Answer every line; the largest exit code of all turns. `echo`: show the line before its answer."""
    session, page, worst, turns = session_of(args), page_of(args), 0, 0
    if isinstance(lines, io.TextIOWrapper):  # whatever the console's encoding is
        start = lines.buffer.peek(4) if isinstance(lines.buffer, io.BufferedReader) else b""
        lines.reconfigure(encoding=encoding_of(start), errors="surrogateescape")
    for line in lines:
        text = line.strip()
        if not text:
            continue
        turns += 1
        turn = answer(session, text, page)
        worst = max(worst, turn.exit)
        for notice in session.client.notices():
            print(notice, file=sys.stderr)
        if not args.json:
            write_lines([*(page.wrap(text, "> ", "  ") if echo else []), *turn.lines, ""])
        elif turn.advice is not None:
            write_json(turn.advice.model_dump_json(by_alias=True))
        else:
            write_lines(turn.lines, sys.stderr)
        if turn.leave:
            break
    if not turns:
        raise Problem(
            "there is nothing to read",
            'say what the car does, for example: quarterturn "loose in, tight off"',
        )
    return worst
