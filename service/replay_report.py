"""The replay as text and as JUnit XML, and its command line: `main(argv)` gives the exit code."""

import argparse
import os
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TextIO
from xml.etree import ElementTree

from service.replay import Case, LogError, Report, replay

__all__ = ["junit", "main", "tell"]

SAME, DIFFERENT, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130


def main(argv: Sequence[str]) -> int:
    """Replay the logs named in `argv`. 0 all the same, 1 a difference, 2 a log that cannot be read or
    holds no complaint, 130 interrupted."""
    asked = _arguments().parse_args(argv)
    try:
        report = replay(asked.paths, asked.accept, asked.jobs, None if asked.quiet else Progress(sys.stderr))
        if asked.junit:
            write_junit(report, Path(asked.junit))
    except (LogError, OSError) as error:
        print(f"quarterturn replay: {error}", file=sys.stderr)
        return BAD_INPUT
    except KeyboardInterrupt:
        print("\nquarterturn replay: interrupted, no file was touched", file=sys.stderr)
        return INTERRUPTED
    encoding = sys.stdout.encoding or "ascii"
    for line in tell(report):
        print(_clean(line).encode(encoding, "replace").decode(encoding))
    return SAME if report.same or asked.accept else DIFFERENT


def tell(report: Report) -> Iterator[str]:
    """The report in lines: every difference, then the count."""
    for case in report.cases:
        if case.verdict in ("changed", "error"):
            yield f'{case.file}:{case.line}: {case.verdict}: "{case.text}"'
            yield from (f"    {difference}" for difference in case.differences)
    yield from (f"{file}: rewritten" for file in report.accepted)
    counts = [f"{report.count(v)} {v}" for v in ("same", "changed", "new", "error") if report.count(v)]
    rate = len(report.cases) / report.seconds if report.seconds else 0.0
    told = ", ".join(counts) or "none"
    yield f"{len(report.cases)} complaints: {told} ({report.seconds:.1f} s, {rate:.0f} a second)"


def junit(report: Report) -> ElementTree.Element:
    """One suite per file, one test case per complaint."""
    root = ElementTree.Element("testsuites", name="quarterturn replay")
    for file in dict.fromkeys(case.file for case in report.cases):
        mine = [case for case in report.cases if case.file == file]
        bad = [sum(c.verdict == v for c in mine) for v in ("changed", "error")]
        counts = {"tests": str(len(mine)), "failures": str(bad[0]), "errors": str(bad[1])}
        suite = ElementTree.SubElement(root, "testsuite", {"name": file, **counts})
        for case in mine:
            suite.append(_test_case(case))
    return root


def write_junit(report: Report, path: Path) -> None:
    """Write the XML, whole or not at all."""
    temporary = path.with_name(f".{path.name}.new-{os.getpid()}")
    try:
        ElementTree.ElementTree(junit(report)).write(temporary, encoding="utf-8", xml_declaration=True)
        os.replace(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)


class Progress:
    """Shows how far a replay is: one line that is written over on a terminal, a line each tenth elsewhere."""

    def __init__(self, stream: TextIO) -> None:
        self.stream, self.live, self.tenth = stream, stream.isatty(), 0

    def __call__(self, done: int, total: int) -> None:
        share = done / max(total, 1)
        if self.live:
            bar = "#" * int(share * 30)
            end = "\n" if done >= total else ""
            self.stream.write(f"\r[{bar:<30}] {done} of {total}{end}")
        elif total > 100 and int(share * 10) > self.tenth:
            self.tenth = int(share * 10)
            self.stream.write(f"{done} of {total}\n")
        self.stream.flush()


def _test_case(case: Case) -> ElementTree.Element:
    made = ElementTree.Element("testcase", name=f"line {case.line}: {_clean(case.text)}", classname=case.file)
    if case.verdict in ("changed", "error"):
        kind = "failure" if case.verdict == "changed" else "error"
        text = "\n".join(_clean(str(difference)) for difference in case.differences)
        ElementTree.SubElement(made, kind, message=f"{len(case.differences)} differences").text = text
    return made


def _clean(text: str) -> str:
    """Without control characters: XML does not allow them, a terminal obeys them."""
    return "".join(c if c.isprintable() or c in "\n\t" else "\ufffd" for c in text)


def _arguments() -> argparse.ArgumentParser:
    made = argparse.ArgumentParser(
        prog="quarterturn replay",
        allow_abbrev=False,
        description="Run every complaint of saved logs again and show what differs today.",
        epilog="exit codes: 0 all the same, 1 a difference, 2 a log that cannot be read or holds no "
        "complaint, 130 interrupted",
    )
    made.add_argument("paths", nargs="+", metavar="LOG", help="a .jsonl file, or a folder of them")
    made.add_argument("--accept", action="store_true", help="write today's readings and plans into the logs")
    made.add_argument("--junit", metavar="FILE", help="also write the result as JUnit XML")
    made.add_argument(
        "--jobs", type=int, default=os.cpu_count() or 1, metavar="N", help="processes for large logs"
    )
    made.add_argument("--quiet", action="store_true", help="no progress")
    return made
