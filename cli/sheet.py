"""`quarterturn sheet` and `quarterturn setup`: hand out an answer, or a set-up as a file."""

import argparse
import json

from cli.arguments import add_car, add_output, add_server, add_setup, pairs, setup_of
from cli.client import client_for
from cli.output import write_file, write_lines
from cli.problems import ANSWERED, Problem
from cli.rendering import exact


def sheet(argv: list[str]) -> int:
    """The answer to a complaint, or the last list of a session, as a sheet."""
    made = argparse.ArgumentParser(
        prog="quarterturn sheet",
        allow_abbrev=False,
        description="A sheet to hand out: the answer to TEXT, or the last list of --session NAME.",
    )
    made.add_argument("text", nargs="*", metavar="TEXT")
    made.add_argument("--session", metavar="NAME")
    made.add_argument(
        "--out", metavar="FILE", help=".html: one HTML file; anything else: Markdown; none: print it"
    )
    made.add_argument("--style", action="append", default=[], metavar="KEY=VALUE", help="as for a complaint")
    add_car(made)
    add_setup(made)
    add_output(made)
    add_server(made)
    args = made.parse_intermixed_args(argv)
    kind = "html" if (args.out or "").lower().endswith((".html", ".htm")) else "markdown"
    asked = {
        "text": " ".join(args.text),
        "session": args.session,
        "format": kind,
        "car": args.car,
        "track": args.track,
        "setup": setup_of(args),
        "style": pairs(args.style, "--style") or None,
    }
    text = client_for(args.server, args.db).handout({k: v for k, v in asked.items() if v is not None})
    return _write(text, args.out)


def setup(argv: list[str]) -> int:
    """A whole set-up as TOML or JSON: what `--setup FILE` reads."""
    made = argparse.ArgumentParser(
        prog="quarterturn setup",
        allow_abbrev=False,
        description="Write a whole set-up as a file that --setup reads: the car's own, or that of "
        "--session NAME, with --setup and --set laid over it.",
    )
    made.add_argument("--session", metavar="NAME")
    made.add_argument("--out", metavar="FILE", help=".json: JSON; anything else: TOML; none: print it")
    add_car(made)
    add_setup(made)
    add_output(made)
    add_server(made)
    args = made.parse_args(argv)
    client = client_for(args.server, args.db)
    state = client.state(args.session) if args.session else {"car": None, "setup": {}}
    rows = client.sheets("cars")
    car = args.car or state["car"] or next(row["id"] for row in rows if row.get("default"))
    settings = client.sheet("cars", car)["settings"]
    values = {row["key"]: row["base"] for row in settings}
    for key, value in {**dict(state["setup"]), **(setup_of(args) or {})}.items():
        if key not in values:
            raise Problem(f"{car} has no setting {key!r}", f"there are: {', '.join(values)}")
        values[key] = value
    if args.json or (args.out or "").lower().endswith(".json"):
        text = json.dumps({"car": car, "setup": values}, indent=1, ensure_ascii=False) + "\n"
    else:
        units = {row["key"]: row["unit"] for row in settings}
        lines = [
            f'car = "{car}"',
            "",
            "[setup]",
            *(f"{k} = {exact(v)}  # {units[k]}" for k, v in values.items()),
        ]
        text = "\n".join(lines) + "\n"
    return _write(text, args.out)


def _write(text: str, out: str | None) -> int:
    if out is None:
        write_lines(text.rstrip("\n").split("\n"))
        return ANSWERED
    write_file(text, out)
    return ANSWERED
