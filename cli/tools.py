"""The commands of the builder's tools: word, help, function (see `cli.subcommands`). Each makes one request
and shows one answer."""

import argparse
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import Any

from cli.arguments import add_car, add_output, add_server, add_setup, number, pairs, read_setup, setup_of
from cli.client import client_for
from cli.output import page_of, write_json, write_lines
from cli.problems import ANSWERED, Problem
from cli.sheet import setup, sheet
from cli.tool_page import show

Fill = Callable[[argparse.Namespace], dict[str, Any]]
Options = Callable[[argparse.ArgumentParser], None]


def _tool(path: str, about: str, options: Options, fill: Fill, argv: list[str]) -> int:
    """Read the options, ask the tool at `path`, show its answer."""
    made = argparse.ArgumentParser(prog=f"quarterturn {argv[0]}", allow_abbrev=False, description=about)
    options(made)
    add_car(made)
    add_setup(made)
    made.add_argument("--style", action="append", default=[], metavar="KEY=VALUE", help="as for a complaint")
    add_output(made)
    add_server(made)
    args = made.parse_intermixed_args(argv[1:])
    subject = {
        "car": args.car,
        "track": args.track,
        "setup": setup_of(args),
        "style": pairs(args.style, "--style"),
    }
    data = {key: value for key, value in (subject | fill(args)).items() if value not in (None, {}, [])}
    answer = client_for(args.server, args.db).tool(path, data)
    if args.json:
        write_json(answer.model_dump_json(by_alias=True))
    else:
        write_lines(show(page_of(args), answer))
    return ANSWERED


def _no_options(_: argparse.ArgumentParser) -> None:
    pass


def _nothing(_: argparse.Namespace) -> dict[str, Any]:
    return {}


def _compare_options(made: argparse.ArgumentParser) -> None:
    made.add_argument("a", metavar="A", help="a set-up file, session:NAME, or base")
    made.add_argument("b", metavar="B", help="the same; what changes from A to B is shown")


def _compare(args: argparse.Namespace) -> dict[str, Any]:
    return {"setup": named_setup(args, args.a), "other": named_setup(args, args.b)}


def _package_options(made: argparse.ArgumentParser) -> None:
    made.add_argument("run", nargs="+", metavar="KEY=VALUE", help="run this setting at this value")
    made.add_argument(
        "--not", dest="locked", action="append", default=[], metavar="KEY", help="leave it alone"
    )


def _package(args: argparse.Namespace) -> dict[str, Any]:
    run = {k: number(k, v, "package") for k, v in pairs(args.run, "package").items()}
    return {"run": run, "locked": args.locked}


def _carry_options(made: argparse.ArgumentParser) -> None:
    made.add_argument("to", metavar="CAR", help="the class to carry the set-up over to")
    made.add_argument(
        "--not", dest="locked", action="append", default=[], metavar="KEY", help="leave it alone"
    )


def _carry(args: argparse.Namespace) -> dict[str, Any]:
    return {"to": args.to, "locked": args.locked}


def _tyres_options(made: argparse.ArgumentParser) -> None:
    for option, what in (
        ("--wear", "worn after the run, %%: RF=22"),
        ("--temps", "inside/middle/outside, degF: RF=190/185/180"),
        ("--hot", "hot pressure, psi: RF=38"),
        ("--target", "hot pressure wanted, psi; gives the cold one: RF=38"),
    ):
        made.add_argument(option, action="append", default=[], metavar="TYRE=VALUE", help=what)
    made.add_argument("--air-temperature", type=float, metavar="F", help="where cold pressures are set (70)")
    made.add_argument("--tyre-temperature", type=float, metavar="F", help="air in the tyre when hot (180)")


def _tyres(args: argparse.Namespace) -> dict[str, Any]:
    def numbers(items: list[str], option: str) -> dict[str, float]:
        return {k: number(k, v, option) for k, v in pairs(items, option).items()}

    temperatures = {}
    for tyre, text in pairs(args.temps, "--temps").items():
        three = [number(tyre, part, "--temps") for part in text.replace(",", "/").split("/")]
        if len(three) != 3:
            raise Problem(
                f"--temps {tyre}={text} needs three temperatures", "inside/middle/outside: RF=190/185/180"
            )
        temperatures[tyre] = three
    return {
        "wear": numbers(args.wear, "--wear"),
        "temperatures": temperatures,
        "pressures": numbers(args.hot, "--hot"),
        "targets": numbers(args.target, "--target"),
        "air": args.air_temperature,
        "hot": args.tyre_temperature,
    }


def _number_option(name: str, key: str, what: str) -> tuple[Options, Fill]:
    def options(made: argparse.ArgumentParser) -> None:
        made.add_argument(name, dest=key, type=float, metavar="N", help=what)

    return options, lambda args: {key: getattr(args, key)}


def _runs_options(made: argparse.ArgumentParser) -> None:
    made.add_argument("--runs", type=int, default=3, metavar="N", help="how many runs, 1 to 8 (3)")
    made.add_argument(
        "--session", metavar="NAME", help="the car as it stands in a session, and what it taught"
    )


def _runs(args: argparse.Namespace) -> dict[str, Any]:
    return {"runs": args.runs, "session": args.session}


def named_setup(args: argparse.Namespace, name: str) -> dict[str, float]:
    """A set-up by the name it has on the command line. Raises Problem."""
    if name == "base":
        return {}
    if name.startswith("session:"):
        return dict(client_for(args.server, args.db).state(name.removeprefix("session:"))["setup"])
    return read_setup(Path(name))


def _rows() -> Mapping[str, tuple[str, str, Options, Fill]]:
    return {
        "compare": (
            "comparison",
            "two set-ups: what differs and what pays for what",
            _compare_options,
            _compare,
        ),
        "package": ("package", "run a setting at a value; what pays for it", _package_options, _package),
        "carry-over": ("carry-over", "take a set-up over to another class", _carry_options, _carry),
        "start": ("start", "a base set-up for a car at a track", _no_options, _nothing),
        "tyres": ("tyres", "what wear, temperatures and pressures say", _tyres_options, _tyres),
        "gears": (
            "gears",
            "the final drive for a top rpm",
            *_number_option("--rpm", "rpm", "top rpm wanted"),
        ),
        "tape": (
            "tape",
            "most grille tape for the water",
            *_number_option("--water", "water", "degF wanted"),
        ),
        "stagger": ("stagger", "the stagger for the track's turns", _no_options, _nothing),
        "tests": ("tests", "the next runs that teach most", _runs_options, _runs),
    }


def _run(word: str, argv: list[str]) -> int:
    path, about, options, fill = _rows()[word]
    return _tool(path, about, options, fill, [word, *argv])


ROWS: tuple[tuple[str, str, Callable[[list[str]], int]], ...] = (
    *((word, row[1], partial(_run, word)) for word, row in _rows().items()),
    ("sheet", "an answer as a sheet to hand out (Markdown, HTML)", sheet),
    ("setup", "a whole set-up as a file (TOML, JSON)", setup),
)
