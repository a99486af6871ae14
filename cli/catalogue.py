"""`quarterturn cars` and `quarterturn tracks`: list, show, add."""

import argparse
from typing import Any

from cli.arguments import add_output, add_server
from cli.client import client_for
from cli.output import page_of, write_json, write_lines
from cli.page import Page
from cli.problems import ANSWERED, Problem
from cli.rendering import exact


def cars(argv: list[str]) -> int:
    """List, show or add car sheets."""
    return _run("cars", "car", argv)


def tracks(argv: list[str]) -> int:
    """List, show or add track sheets."""
    return _run("tracks", "track", argv)


def _run(kind: str, word: str, argv: list[str]) -> int:
    made = argparse.ArgumentParser(
        prog=f"quarterturn {kind}",
        allow_abbrev=False,
        description=f"list: every {word}; show ID: one {word}; add FILE: check your own sheet and keep it.",
    )
    made.add_argument("action", nargs="?", choices=("list", "show", "add"), default="list")
    made.add_argument("name", nargs="?", metavar="ID or FILE")
    add_output(made)
    add_server(made)
    args = made.parse_intermixed_args(argv)
    if args.action != "list" and not args.name:
        needed = "ID" if args.action == "show" else "FILE"
        raise Problem(f"quarterturn {kind} {args.action} needs {needed}")
    return {"list": _list, "show": _show, "add": _add}[args.action](kind, word, args)


def _list(kind: str, word: str, args: argparse.Namespace) -> int:
    import json

    rows = client_for(args.server, args.db).sheets(kind)
    if args.json:
        write_json(json.dumps({kind: rows}, ensure_ascii=False))
    else:
        page = page_of(args)
        write_lines([line for row in rows for line in page.wrap(row["name"], f"{row['id']:<18} ")])
    return ANSWERED


def _show(kind: str, word: str, args: argparse.Namespace) -> int:
    import json

    sheet = client_for(args.server, args.db).sheet(kind, args.name)
    if args.json:
        write_json(json.dumps(sheet, ensure_ascii=False))
        return ANSWERED
    page = page_of(args)
    lines = [page.ink("strong", line) for line in page.wrap(f"{sheet['name']} ({sheet['id']})")]
    for key, value in sheet.items():
        if isinstance(value, str | int | float | bool) and key not in ("id", "name"):
            told = {True: "yes", False: "no"}[value] if isinstance(value, bool) else value
            lines += page.wrap(f"{key.replace('_', ' ')}: {told}", "  ")
    write_lines(lines + settings_of(page, sheet))
    return ANSWERED


def settings_of(page: Page, sheet: dict[str, Any]) -> list[str]:
    """The settings of a car sheet, a line each: key, base value, range, step, where."""
    lines = []
    for row in sheet.get("settings", []):
        low, high, base = exact(row["min"]), exact(row["max"]), exact(row["base"])
        step = f"steps of {exact(row['step'])}" if row.get("step") else "choices"
        where = {"stop": "on a stop", "garage": "in the garage"}[row["where"]]
        told = f"{base} {row['unit']} ({low} to {high}, {step}, {where})"
        lines += page.wrap(told, f"  {row['key']:<18} ", " " * 6)
    return lines


def _add(kind: str, word: str, args: argparse.Namespace) -> int:
    from cli.client import Here

    client = client_for(args.server, args.db)
    if not isinstance(client, Here):
        raise Problem(f"a service takes no {word} sheets", "add it on the machine of the service")
    sheet = client.add("cars" if kind == "cars" else "tracks", args.name)
    write_lines(page_of(args).wrap(f"Added {sheet['name']} ({sheet['id']})."))
    return ANSWERED
