"""`quarterturn log` and `quarterturn replay`: what was said, and whether today's code would say it again."""

import argparse
import json
import sys
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from cli.arguments import add_output, add_server
from cli.client import client_for
from cli.output import page_of, write_file, write_json, write_lines
from cli.page import Page
from cli.problems import ANSWERED, Problem
from cli.rendering import exact

LONG = 160
"""Letters of an answer without a list that an entry of the log holds."""


def log(argv: list[str]) -> int:
    """Show or export a session."""
    made = argparse.ArgumentParser(
        prog="quarterturn log",
        allow_abbrev=False,
        description="show NAME: a session in words; export NAME: as JSON Lines, to keep or to replay.",
    )
    made.add_argument("action", choices=("show", "export"))
    made.add_argument("session", metavar="NAME")
    made.add_argument("--out", metavar="FILE", help="export into this file (else: print it)")
    add_output(made)
    add_server(made)
    args = made.parse_args(argv)
    events = client_for(args.server, args.db).log(args.session)
    if not events:
        raise Problem(f"no session called {args.session!r} in the logbook")
    if args.action == "export":
        from service.export import exported

        lines = exported(args.session, events)
        if args.out:
            write_file("".join(f"{line}\n" for line in lines), args.out)
        else:
            for line in lines:
                write_json(line)
    elif args.json:
        for event in events:
            write_json(json.dumps(event, ensure_ascii=False, separators=(",", ":")))
    else:
        page = page_of(args)
        write_lines([line for event in events for line in entry(page, event)])
    return ANSWERED


def entry(page: Page, event: Mapping[str, Any]) -> list[str]:
    """One event in words; kinds that only keep the books are left out."""
    data, time = event["data"], clock(str(event["at"]))
    words = {"said": _said, "advised": _advised, "done": _done, "context": _context, "forgotten": _forgotten}
    told = words[event["kind"]](page, data) if event["kind"] in words else ""
    return page.wrap(told, f"{time}  ", " " * 7) if told else []


def clock(at: str) -> str:
    """The time of an entry on the clock of this machine; `at` is ISO 8601, or empty in very old logbooks."""
    try:
        return datetime.fromisoformat(at).astimezone().strftime("%H:%M")
    except (ValueError, OverflowError, OSError):  # Windows knows no local time long ago
        return "--:--"


def replay(argv: list[str]) -> int:
    """Hand over to the service's replay."""
    from service.replay_report import main

    sys.stdout.flush()
    return main(argv)


def _said(page: Page, data: Mapping[str, Any]) -> str:
    return f"> {data['text']}"


def _advised(page: Page, data: Mapping[str, Any]) -> str:
    advice = data["advice"]
    asked = [r for r in advice["reading"]["requests"] if r["kind"] == "why-not"]
    if asked and advice["why_not"] and not advice["reading"]["symptoms"]:
        named = {key for request in asked for key in request["settings"]}
        rows = [row for row in advice["why_not"] if row["move"] in named] or advice["why_not"]
        return " ".join(f"{row['label']}: {row['text']}" for row in rows)
    steps = [
        f"{c['label']} {exact(c['from'])} {page.mark('to')} {exact(c['to'])} {c['unit']}"
        for c in advice["changes"]
    ]
    return "; ".join(steps) or shortened(str(advice["summary"]))


def shortened(text: str) -> str:
    """The first sentences of a long text, as many as stand on two lines or so: the whole is in the export."""
    end = text.rfind(". ", 0, LONG)
    return text if len(text) <= LONG or end < 0 else f"{text[: end + 1]} ..."


def _done(page: Page, data: Mapping[str, Any]) -> str:
    return f"{data['how']}: " + ", ".join(f"{key} = {exact(v)}" for key, v in data["changes"].items())


def _context(page: Page, data: Mapping[str, Any]) -> str:
    words = [f"{key} {data[key]}" for key in ("car", "track") if isinstance(data.get(key), str)]
    words += [f"{key} = {exact(v)}" for key, v in (data.get("setup") or {}).items()]
    return "now " + ", ".join(words) if words else ""


def _forgotten(page: Page, data: Mapping[str, Any]) -> str:
    return "what was learned is forgotten"
