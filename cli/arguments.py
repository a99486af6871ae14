"""The options of the command line, and the set-up they describe."""

import argparse
import json
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from cli.problems import EXITS, Problem
from service.texts import read_text

DESCRIPTION = """Say what the car does; get the fewest changes that cure it, and why.

  quarterturn "loose in, tight off at half fuel"   one answer
  quarterturn                                      the chat
  quarterturn < complaints.txt                     each line is a turn of the chat
"""


def parser(commands: Iterable[tuple[str, str]] = ()) -> argparse.ArgumentParser:
    """The parser of `quarterturn [TEXT] [options]`; `commands` (word, help) are named in its help."""
    made = argparse.ArgumentParser(
        prog="quarterturn",
        description=DESCRIPTION,
        epilog=_epilog(commands),
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    made.add_argument("text", nargs="*", metavar="TEXT", help="what the car does; none: chat")
    add_car(made)
    add_setup(made)
    made.add_argument("--session", metavar="NAME", help="remember this under NAME, and go on from there")
    made.add_argument(
        "--style",
        action="append",
        default=[],
        metavar="KEY=VALUE",
        help="session=race|qualifying|test, balance=neutral|safer|freer, wear=gentle|normal|harsh",
    )
    made.add_argument(
        "--alternatives", type=int, default=2, metavar="N", help="other change lists to show, 0 to 5 (2)"
    )
    made.add_argument(
        "--why", action="store_true", help="every reason, number and source; other lists; what was left alone"
    )
    add_output(made)
    add_server(made)
    return made


def add_car(made: argparse.ArgumentParser) -> None:
    """--car, --track."""
    made.add_argument("--car", metavar="ID", help="the car (quarterturn cars lists them)")
    made.add_argument("--track", metavar="ID", help="the track (quarterturn tracks lists them)")


def add_setup(made: argparse.ArgumentParser) -> None:
    """--setup, --set."""
    made.add_argument("--setup", metavar="FILE", help="the set-up as it is: a TOML or JSON file, KEY = VALUE")
    made.add_argument(
        "--set", action="append", default=[], metavar="KEY=VALUE", help="one value of the set-up; may repeat"
    )


def add_output(made: argparse.ArgumentParser) -> None:
    """--json, --no-color."""
    made.add_argument(
        "--json", action="store_true", help="the answer as JSON, exactly as the service gives it"
    )
    made.add_argument("--no-color", action="store_true", help="no colour (so does NO_COLOR)")


def add_server(made: argparse.ArgumentParser) -> None:
    """--db, --server."""
    made.add_argument("--db", metavar="PATH", help="the logbook file (else in your data folder)")
    made.add_argument(
        "--server", metavar="URL", help="ask a running service, for example http://127.0.0.1:8417"
    )


def setup_of(args: argparse.Namespace) -> dict[str, float] | None:
    """The values of --setup and --set, later ones win; None when neither was given. Raises Problem."""
    values: dict[str, float] = read_setup(Path(args.setup)) if args.setup else {}
    for key, value in pairs(args.set, "--set").items():
        values[key] = number(key, value, "--set")
    return values or None


def pairs(items: Iterable[str], option: str) -> dict[str, str]:
    """KEY=VALUE items as a dictionary. Raises Problem."""
    found = {}
    for item in items:
        key, sign, value = item.partition("=")
        if not sign or not key.strip() or not value.strip():
            raise Problem(f"{option} {item!r} is not KEY=VALUE", f"for example {option} cross_weight=52.5")
        found[key.strip()] = value.strip()
    return found


def read_setup(path: Path) -> dict[str, float]:
    """A set-up file: KEY = VALUE at the top or in a table named setup. Raises Problem."""
    try:
        text = read_text(path)
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "not UTF-8 text"
        raise Problem(f"set-up file {path} cannot be read: {reason}") from error
    try:
        data = json.loads(text) if path.suffix.lower() == ".json" else tomllib.loads(text)
    except ValueError as error:
        raise Problem(f"set-up file {path}: {error}", "write KEY = VALUE, one a line") from error
    table = data.get("setup", data) if isinstance(data, dict) else None
    if not isinstance(table, Mapping):
        raise Problem(f"set-up file {path} holds no table of KEY = VALUE")
    return {key: number(key, value, str(path)) for key, value in table.items()}


def number(key: str, value: Any, where: str) -> float:
    """A value as a finite number. Raises Problem naming the key, the value and where it stood."""
    try:
        if isinstance(value, bool | list | dict):
            raise ValueError
        found = float(value)
        if found != found or abs(found) == float("inf"):
            raise ValueError
    except (TypeError, ValueError):
        raise Problem(f"{where}: {key} = {value!r} is not a number") from None
    return found


def request_of(args: argparse.Namespace) -> dict[str, Any]:
    """What the options say about car, track, set-up and style: keys of `AdviceRequest`. Raises Problem."""
    return {
        "car": args.car,
        "track": args.track,
        "setup": setup_of(args),
        "style": pairs(args.style, "--style") or None,
        "alternatives": args.alternatives,
    }


def _epilog(commands: Iterable[tuple[str, str]]) -> str:
    words = "\n".join(f"  {word:<12} {help}" for word, help in commands)
    codes = "\n".join(f"  {code:<4} {text}" for code, text in EXITS.items())
    return (
        f"commands (first on the line; each has --help):\n{words}\n\n"
        'A complaint that is also a command word: quarterturn -- "tyres"\n\n'
        f"exit codes:\n{codes}\n  A pipe of many lines gives the largest code of its turns.\n"
    )
