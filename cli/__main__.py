"""The command line: one answer, the chat, a pipe of complaints, or a command such as `serve`.

See `quarterturn --help`.
"""

import argparse
import errno
import os
import sys
from collections.abc import Sequence

from cli.output import page_of, told, write_json, write_lines
from cli.page import page_for
from cli.problems import ANSWERED, BAD_INPUT, BY_STATUS, INTERRUPTED, Problem, defect

__all__ = ["main"]


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line; the exit code (`cli.problems.EXITS`)."""
    given = list(sys.argv[1:] if argv is None else argv)
    try:
        code = run(given)
        sys.stdout.flush()
        return code
    except Problem as problem:
        return _fail(problem, given)
    except KeyboardInterrupt:
        return INTERRUPTED
    except Exception as error:
        if not _reader_gone(error):
            return _fail(defect(error), given)
        # Nothing left to say, and Python must not say it again while closing.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return ANSWERED


def run(argv: list[str]) -> int:
    """Find out what is wanted and do it. Raises Problem."""
    if argv and argv[0][:1].isalpha() and " " not in argv[0]:
        from cli.subcommands import row_of

        row = row_of(argv[0])
        if row is not None:
            return row.run(argv[1:])
    from cli.arguments import parser
    from cli.subcommands import ROWS

    made = parser([(row.word, row.help) for row in ROWS])
    args, beyond = made.parse_known_intermixed_args(argv)
    _refuse_late_command(argv, args.text)
    if beyond:
        made.error(f"unrecognized arguments: {' '.join(beyond)}")
    if args.text:
        return once(args)
    if sys.stdin.isatty():
        from cli.chat import chat

        return chat(args)
    from cli.pipe import pipe

    return pipe(args, sys.stdin)


def once(args: argparse.Namespace) -> int:
    """Answer one complaint."""
    from cli import brief, rendering
    from cli.arguments import request_of
    from cli.client import client_for

    client = client_for(args.server, args.db)
    advice = client.advise(request_of(args) | {"text": " ".join(args.text), "session": args.session})
    for notice in client.notices():
        print(notice, file=sys.stderr)
    if args.json:
        write_json(advice.model_dump_json(by_alias=True))
    else:
        page = page_of(args)
        write_lines(rendering.full(page, advice) if args.why else brief.short(page, advice, "--"))
    return BY_STATUS[advice.status]


def _reader_gone(error: Exception) -> bool:
    """Whether whoever read our output has closed it (`| head`); Windows says so with EINVAL."""
    windows = os.name == "nt" and isinstance(error, OSError) and error.errno == errno.EINVAL
    return windows or isinstance(error, BrokenPipeError)


def _fail(problem: Problem, argv: list[str]) -> int:
    write_lines(told(page_for(sys.stderr, colour="--no-color" not in argv), problem), sys.stderr)
    return problem.exit


def _refuse_late_command(argv: list[str], text: list[str]) -> None:
    """`--db x serve` would be read as a complaint "serve": say how it is meant to be written."""
    from cli.subcommands import row_of

    if len(text) >= 1 and "--" not in argv and row_of(text[0]) is not None:
        word = text[0]
        raise Problem(
            f"{word} is a command and must come first: quarterturn {word} ...",
            f'to ask about the word: quarterturn ... -- "{word}"',
            exit=BAD_INPUT,
        )


if __name__ == "__main__":
    sys.exit(main())
