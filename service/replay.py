"""Replay: every complaint of saved logs again with today's code; what differs in reading, plan and numbers.

A line is judged as it was met: the session's state is folded from the recorded turns before it, not from
today's answers, so one difference does not drag the rest along. A line that has no plan yet (written by hand)
is answered in order and shown as new; `--accept` writes today's reading and plan into the file.
"""

import json
import os
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from service.conversation import converse
from service.differing import Difference, differences
from service.export import forgettings, plan_of, records, state_after
from service.library import Library
from service.logbook import Event, Logbook
from service.state import SessionState, fold
from service.texts import read_text

__all__ = ["Case", "LogError", "Report", "replay"]

CHUNK = 100
"""Complaints a worker takes at a time."""
ALONE = 60
"""Up to this many complaints are replayed in this process."""
MOST_JOBS = 61
"""Processes at once: Windows cannot wait for more (Python, `ProcessPoolExecutor`)."""


class LogError(Exception):
    """A log cannot be read. `file`, `line` (from 1, 0 = the whole file) and `reason` in words."""

    def __init__(self, file: str, line: int, reason: str) -> None:
        self.file, self.line, self.reason = file, line, reason
        super().__init__(f"{file}:{line}: {reason}" if line else f"{file}: {reason}")


@dataclass(frozen=True, slots=True)
class Case:
    """One complaint replayed. `verdict`: same, changed, new (nothing recorded to compare with) or error."""

    file: str
    line: int
    text: str
    verdict: str
    differences: tuple[Difference, ...] = ()
    record: Mapping[str, Any] | None = None
    """The line as it would be written today; None when it stays as it is."""


@dataclass(frozen=True, slots=True)
class Report:
    """A whole replay."""

    cases: tuple[Case, ...]
    seconds: float
    accepted: tuple[str, ...] = ()
    """Files that were rewritten."""

    def count(self, verdict: str) -> int:
        """How many cases of a verdict."""
        return sum(case.verdict == verdict for case in self.cases)

    @property
    def same(self) -> bool:
        """True when nothing changed and nothing failed."""
        return not self.count("changed") and not self.count("error")


def replay(
    paths: Iterable[str | Path],
    accept: bool = False,
    jobs: int = 1,
    progress: Callable[[int, int], None] | None = None,
    library: Library | None = None,
) -> Report:
    """Replay files, and the `*.jsonl` of folders. `progress(done, all)` is called as it goes on.

    With `accept`, files with changed or new lines are rewritten once everything has been replayed, each whole
    or not at all. Raises LogError for a file that cannot be read."""
    begun = time.perf_counter()
    files = [(path, read_log(path)) for path in log_files(paths)]
    tasks = [task for path, lines in files for task in _tasks(str(path), lines, accept)]
    total = sum(len(task.lines) for task in tasks)
    cases: list[Case] = []
    for done in _run(tasks, jobs if total > ALONE else 1, library):
        cases += done
        if progress:
            progress(len(cases), total)
    cases.sort(key=lambda case: (case.file, case.line))
    accepted = tuple(str(p) for p, lines in files if accept and _accept(p, lines, cases))
    return Report(tuple(cases), time.perf_counter() - begun, accepted)


def log_files(paths: Iterable[str | Path]) -> list[Path]:
    """The files meant, folders opened up; LogError for one that is not there."""
    found: list[Path] = []
    for path in map(Path, paths):
        if path.is_dir():
            inside = sorted(path.rglob("*.jsonl"))
            if not inside:
                raise LogError(str(path), 0, "the folder holds no .jsonl file")
            found += inside
        elif path.exists():
            found.append(path)
        else:
            raise LogError(str(path), 0, "there is no such file or folder")
    return list(dict.fromkeys(found))


def read_log(path: Path) -> list[tuple[int, dict[str, Any]]]:
    """Line number and record of every complaint of a log; a log of raw events is put into records first.

    LogError for one that cannot be read, or holds no complaint: nothing replayed is not "all the same"."""
    try:
        text = read_text(path)
    except (OSError, UnicodeDecodeError) as error:
        raise LogError(str(path), 0, f"cannot be read: {error}") from error
    lines = []
    for number, line in enumerate(text.split("\n"), 1):  # not at the other line ends a text may hold
        if line.strip() and not line.startswith("#"):
            lines.append((number, _parsed(path, number, line)))
    if lines and "kind" in lines[0][1]:
        lines = _from_events(path, lines)
    if not lines:
        raise LogError(str(path), 0, "holds no complaint")
    for number, record in lines:
        if not isinstance(record.get("text"), str):
            raise LogError(str(path), number, 'a complaint needs "text"')
    return lines


def _parsed(path: Path, number: int, line: str) -> dict[str, Any]:
    try:
        record = json.loads(line)
    except ValueError as error:
        raise LogError(str(path), number, f"not JSON: {error}") from error
    if not isinstance(record, dict):
        raise LogError(str(path), number, "not a JSON object")
    return record


def _from_events(path: Path, lines: list[tuple[int, dict[str, Any]]]) -> list[tuple[int, dict[str, Any]]]:
    by_session: dict[str, list[Event]] = {}
    for number, line in lines:
        try:
            event = Event(line["id"], line["session"], line["kind"], line["at"], line["data"])
        except KeyError as error:
            raise LogError(str(path), number, f"an event needs {error}") from error
        by_session.setdefault(event.session, []).append(event)
    found = [record for events in by_session.values() for record in records(events)]
    return list(enumerate(found, 1))


@dataclass(frozen=True, slots=True)
class _Task:
    """Neighbouring complaints of one session, with the state before the first."""

    file: str
    state: SessionState
    lines: list[tuple[int, dict[str, Any]]]
    accept: bool
    """True: later lines go on from today's answers, because these will be what is recorded."""


def _tasks(file: str, lines: Sequence[tuple[int, dict[str, Any]]], accept: bool) -> Iterator[_Task]:
    sessions: dict[str, list[tuple[int, dict[str, Any]]]] = {}
    for number, record in lines:
        sessions.setdefault(str(record.get("session") or f"line {number}"), []).append((number, record))
    for name, mine in sessions.items():
        state = SessionState()
        whole = not accept and all(record.get("plan") for _, record in mine)
        size = CHUNK if whole else len(mine)
        for start in range(0, len(mine), size):
            part = mine[start : start + size]
            yield _Task(file, state, part, accept)
            if start + size < len(mine):
                for _, record in part:
                    state = state_after(state, {"session": name, **record})


def _run(tasks: list[_Task], jobs: int, library: Library | None) -> Iterator[list[Case]]:
    if jobs <= 1:
        shared = library or Library()
        for task in tasks:
            yield run_task(task, shared)
        return
    with ProcessPoolExecutor(
        min(jobs, MOST_JOBS), mp_context=get_context("spawn"), initializer=_begin_worker
    ) as pool:
        yield from pool.map(_in_worker, tasks)


_worker_library: list[Library] = []


def _begin_worker() -> None:
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    _worker_library.append(Library())


def _in_worker(task: _Task) -> list[Case]:
    return run_task(task, _worker_library[0])


def run_task(task: _Task, library: Library) -> list[Case]:
    """Replay neighbouring complaints of one session."""
    state, cases = task.state, []
    book = Logbook(":memory:")
    for place, (number, record) in enumerate(task.lines, 1):
        case, today = _replayed(task.file, number, record, state, book, library)
        cases.append(case)
        if place < len(task.lines):
            met = record if record.get("plan") else today
            go_on = (task.accept and case.record) or met
            state = state_after(state, go_on) if go_on else state
    book.close()
    return cases


def _replayed(
    file: str, number: int, record: dict[str, Any], state: SessionState, book: Logbook, library: Library
) -> tuple[Case, dict[str, Any] | None]:
    """One line: the case, and the line as it would be written today (None when it cannot be answered). In
    `book` each line is a session of its own."""
    session = f"line {number}"
    forgotten = [Event(state.last_id, session, kind, "", data) for kind, data in forgettings(record)]
    book.cache[session] = fold(state, forgotten)
    context = dict(record.get("context") or {})
    if state.turns and "events" in record and all(kind != "context" for kind, _ in record["events"]):
        context.pop("setup", None)  # the session's own set-up, as the lines before left it
    try:
        converse(
            book,
            library,
            session,
            record["text"],
            car=context.get("car"),
            track=context.get("track"),
            setup=context.get("setup"),
            style=context.get("style"),
            alternatives=0,
        )
    except (
        Exception
    ) as error:  # a line that cannot be answered any more is a finding, not the end of the replay
        failed = (Difference("plan", "error", "an answer", f"{type(error).__name__}: {error}"),)
        return Case(file, number, record["text"], "error", failed), None
    today = records_of(book, session, record)
    if not record.get("plan"):
        return Case(file, number, record["text"], "new", (), today), today
    found = differences(record, today)
    verdict = "changed" if found else "same"
    return Case(file, number, record["text"], verdict, found, today if found else None), today


def records_of(book: Logbook, session: str, record: Mapping[str, Any]) -> dict[str, Any]:
    """The line as it would be written today: what was recorded around it stays."""
    events = book.events(session)
    said = next(event.data for event in events if event.kind == "said")
    advised = next(event.data for event in events if event.kind == "advised")
    return {
        **record,
        "session": str(record.get("session") or "replay"),
        "reading": said["reading"],
        "plan": plan_of(advised["advice"], advised.get("kept", {})),
        "events": [
            *forgettings(record),
            *([event.kind, event.data] for event in events if event.kind not in ("said", "advised")),
        ],
    }


def _accept(path: Path, lines: list[tuple[int, dict[str, Any]]], cases: list[Case]) -> bool:
    """Rewrite a file whose lines changed or are new; comments go. True when it was rewritten."""
    today = {case.line: case.record for case in cases if case.file == str(path) and case.record is not None}
    if not today:
        return False
    kept = [today.get(number, record) for number, record in lines]
    text = "".join(
        json.dumps(r, ensure_ascii=False, allow_nan=False, separators=(",", ":")) + "\n" for r in kept
    )
    temporary = path.with_name(f".{path.name}.new-{os.getpid()}")
    try:
        with open(temporary, "w", encoding="utf-8", newline="\n") as out:
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        os.replace(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)
    return True
