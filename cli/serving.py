"""`quarterturn serve`: the service on this machine."""

import argparse
import os

from cli.problems import UNREACHABLE


def serve(argv: list[str]) -> int:
    """Run the service until it is stopped; the exit code."""
    made = argparse.ArgumentParser(
        prog="quarterturn serve",
        allow_abbrev=False,
        description="Run the service on this machine until Ctrl-C. Further settings: QUARTERTURN_<NAME>.",
    )
    made.add_argument("--host", metavar="H", help="address to listen at (127.0.0.1)")
    made.add_argument("--port", metavar="N", type=int, help="port to listen at, 0 takes a free one (8417)")
    made.add_argument("--db", metavar="PATH", help="the logbook file (else in your data folder)")
    args = made.parse_args(argv)
    if args.db:
        os.environ["QUARTERTURN_DB"] = args.db
    from service.__main__ import serve as start

    code = start(args.host, args.port)
    return UNREACHABLE if code == 1 else code
