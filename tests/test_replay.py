"""Replay of saved logs: our own in tests/logs, and what happens to a log that differs, is broken, or is
interrupted.

`tests/logs/*.jsonl` are recordings of this program, so they show CHANGE, not truth; after a change that is
meant, `quarterturn replay tests/logs --accept` writes them anew, to be read as a diff.
"""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from service.conversation import converse, forget
from service.export import complaint_lines, records, state_after
from service.library import Library
from service.logbook import Logbook
from service.replay import LogError, replay
from service.replay_report import junit, main, tell
from service.state import SessionState, current

LEVER = {"setting": "cross_weight", "from": 50.5, "to": 51.0, "clicks": 1, "reasons": []}
LOGS = Path(__file__).parent / "logs"


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Library:
    return Library(tmp_path_factory.mktemp("sheets"))


@pytest.fixture(scope="module")
def book(library: Library) -> Logbook:
    """A session of four turns."""
    logbook = Logbook(":memory:")
    for text in ("loose in, tight off", "better in but still tight off", "it's tight", "in the middle"):
        converse(logbook, library, "red", text, alternatives=0)
    return logbook


@pytest.fixture
def log(tmp_path: Path, book: Logbook) -> Path:
    path = tmp_path / "red.jsonl"
    path.write_text("".join(f"{line}\n" for line in complaint_lines(book, "red")), encoding="utf-8")
    return path


def edit(path: Path, line: int, change: Callable[[dict[str, Any]], object]) -> None:
    """Change one record of a log in place."""
    made = [json.loads(text) for text in path.read_text(encoding="utf-8").splitlines()]
    change(made[line - 1])
    path.write_text("".join(json.dumps(record) + "\n" for record in made), encoding="utf-8")


@pytest.mark.parametrize("path", sorted(LOGS.glob("*.jsonl")), ids=lambda path: path.stem)
def test_our_own_logs_are_answered_as_recorded(path: Path, library: Library) -> None:
    report = replay([path], library=library)
    assert report.count("same") == len(report.cases) > 0, "\n".join(tell(report))


def test_an_exported_line_holds_context_reading_plan_and_outcome(log: Path) -> None:
    first, second, question, _ = (json.loads(line) for line in log.read_text(encoding="utf-8").splitlines())
    assert first["text"] == "loose in, tight off" and first["context"]["setup"] == {}
    assert first["reading"]["symptoms"][0]["direction"] == "loose"
    assert first["plan"]["changes"] and first["plan"]["expected"]
    assert first["outcome"]["fate"] == "done" and first["outcome"]["verdicts"]["entry-braking"] == "better"
    assert second["outcome"]["fate"] == "pending" or second["outcome"] is not None
    assert question["plan"]["status"] == "question" and question["outcome"] is None


def test_the_state_folded_from_records_is_the_session(book: Logbook) -> None:
    state = SessionState()
    for record in records(book.events("red")):
        state = state_after(state, record)
    now = current(book, "red")
    assert (state.setup, state.open, state.turns) == (now.setup, now.open, now.turns)
    assert [(g.before, g.after, g.fate, g.verdicts) for g in state.given] == [
        (g.before, g.after, g.fate, g.verdicts) for g in now.given
    ]
    assert (state.knowledge.mean == now.knowledge.mean).all()


def test_a_fresh_export_replays_as_the_same(log: Path, library: Library) -> None:
    report = replay([log], library=library)
    assert [case.verdict for case in report.cases] == ["same"] * 4 and report.same


def test_a_change_of_car_keeps_what_became_of_the_lists_before_it(tmp_path: Path, library: Library) -> None:
    """Another car begins its lists at one again: the outcome of the first is not that of the second."""
    logbook = Logbook(":memory:")
    for text in ("loose in, tight off", "did it: better in, same off"):
        converse(logbook, library, "two", text, alternatives=0)
    converse(logbook, library, "two", "tight in the middle", car="tern-club", alternatives=0)
    path = tmp_path / "two.jsonl"
    path.write_text("".join(f"{line}\n" for line in complaint_lines(logbook, "two")), encoding="utf-8")

    first, second, other = (json.loads(line) for line in path.read_text(encoding="utf-8").splitlines())
    assert first["outcome"]["fate"] == "done" and first["outcome"]["verdicts"]["entry-braking"] == "better"
    assert second["outcome"] == other["outcome"] == {"fate": "pending", "verdicts": {}}
    assert replay([path], library=library).count("same") == 3


def test_a_log_of_raw_events_replays_too(tmp_path: Path, book: Logbook, library: Library) -> None:
    path = tmp_path / "raw.jsonl"
    path.write_text("".join(f"{line}\n" for line in book.lines("red")), encoding="utf-8")
    assert replay([path], library=library).count("same") == 4


def test_differences_are_told_by_part_and_do_not_drag_later_lines_along(log: Path, library: Library) -> None:
    edit(log, 1, lambda r: r["reading"]["symptoms"][0].update(severity="severe"))
    edit(log, 2, lambda r: r["plan"]["expected"].popitem())

    report = replay([log], library=library)

    assert [case.verdict for case in report.cases] == ["changed", "changed", "same", "same"]
    text = "\n".join(tell(report))
    assert "reading: symptoms[0].severity: was severe, now plain" in text
    assert "numbers: expected." in text and "was nothing" in text
    assert "4 complaints: 2 same, 2 changed" in text


def test_a_different_list_is_told_as_values(log: Path, library: Library) -> None:
    edit(
        log,
        1,
        lambda r: r["plan"].update(changes=[LEVER]),
    )
    report = replay([log], library=library)
    assert "plan: changes: was cross_weight 50.5 to 51, now " in "\n".join(tell(report))


def test_accept_rewrites_and_then_all_is_the_same(log: Path, library: Library) -> None:
    edit(log, 1, lambda r: r["plan"].update(status="stop"))
    assert replay([log], accept=True, library=library).accepted == (str(log),)
    assert replay([log], library=library).same
    assert list(log.parent.glob(".*new*")) == []


def test_hand_written_lines_are_answered_in_order_and_accepted(tmp_path: Path, library: Library) -> None:
    path = tmp_path / "hand.jsonl"
    path.write_text('# a story\n{"session": "s", "text": "tight off"}\n\n{"session": "s", "text": "fixed"}\n')
    assert [c.verdict for c in replay([path], accept=True, library=library).cases] == ["new", "new"]
    report = replay([path], library=library)
    assert report.same and report.count("same") == 2
    assert json.loads(path.read_text().splitlines()[1])["plan"]["status"] == "no_change"


def test_an_interrupted_replay_touches_no_file(log: Path, library: Library) -> None:
    edit(log, 1, lambda r: r["plan"].update(status="stop"))
    before = log.read_bytes()

    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        replay([log], accept=True, progress=stop, library=library)
    assert log.read_bytes() == before and [p.name for p in log.parent.iterdir()] == [log.name]


def test_several_processes_find_what_one_finds(tmp_path: Path, log: Path, library: Library) -> None:
    path = tmp_path / "many.jsonl"
    lines = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    many = [{**line, "session": f"s{n}"} for n in range(16) for line in lines]
    path.write_text("".join(json.dumps(record) + "\n" for record in many), encoding="utf-8")
    edit(path, 7, lambda r: r["plan"].update(status="stop"))
    seen: list[tuple[int, int]] = []
    report = replay([path], jobs=2, progress=lambda done, total: seen.append((done, total)))
    assert [case.line for case in report.cases] == list(range(1, 65))
    assert [case.line for case in report.cases if case.verdict != "same"] == [7]
    assert seen[-1] == (64, 64) and len(seen) > 2


def test_the_junit_report_has_a_case_for_every_complaint(log: Path, library: Library) -> None:
    edit(log, 1, lambda r: (r["plan"].update(status="stop"), r.update(text="loose in, tight off")))
    suite = ElementTree.fromstring(ElementTree.tostring(junit(replay([log], library=library))))[0]
    assert (suite.get("tests"), suite.get("failures"), suite.get("errors")) == ("4", "1", "0")
    failure = suite[0].find("failure")
    assert failure is not None and "plan: status: was stop, now change" in (failure.text or "")


def test_a_line_that_cannot_be_answered_is_a_finding(log: Path, library: Library) -> None:
    edit(log, 1, lambda r: r["context"].update(car="gone"))
    report = replay([log], library=library)
    assert report.cases[0].verdict == "error" and not report.same
    assert "no car called 'gone'" in "\n".join(tell(report))


@pytest.mark.parametrize(
    ("text", "reason"),
    [("{", "not JSON"), ("[1]", "not a JSON object"), ('{"session": "x"}', 'needs "text"')],
)
def test_a_broken_log_is_named_with_its_line(tmp_path: Path, text: str, reason: str) -> None:
    path = tmp_path / "broken.jsonl"
    path.write_text(f'{{"text": "tight off"}}\n{text}\n')
    with pytest.raises(LogError, match=reason) as caught:
        replay([path])
    assert str(caught.value).startswith(f"{path}:2: ")


@pytest.mark.parametrize(
    "text", ["", "\n# nothing yet\n", '{"id":1,"session":"x","kind":"context","at":"","data":{}}\n']
)
def test_a_log_without_a_complaint_is_an_error(
    tmp_path: Path, text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "empty.jsonl"
    path.write_text(text)
    assert main([str(path), "--quiet"]) == main([str(path), "--quiet", "--accept"]) == 2
    assert f"{path}: holds no complaint" in capsys.readouterr().err
    assert path.read_text() == text


def test_a_folder_without_a_log_is_an_error(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([str(tmp_path), "--quiet"]) == 2
    assert "holds no .jsonl file" in capsys.readouterr().err


def test_what_was_forgotten_on_request_is_forgotten_in_a_replay_too(tmp_path: Path, library: Library) -> None:
    """Learned, forgotten, asked again: the last answer leans on nothing, and neither does its replay."""
    book = Logbook(tmp_path / "book.sqlite3")
    for text in ("tight off", "no change", "worse off"):
        converse(book, library, "red", text, alternatives=0)
    forget(book, "red")
    converse(book, library, "red", "still tight off", alternatives=0)
    now = current(book, "red")
    lines = list(complaint_lines(book, "red"))
    book.close()

    made = [json.loads(line) for line in lines]
    assert next(kind for kind, _ in made[3]["events"]) == "forgotten"
    state = SessionState()
    for record in made:
        state = state_after(state, record)
    assert (
        state.knowledge.mean == now.knowledge.mean
    ).all() and state.knowledge.levers == now.knowledge.levers

    log = tmp_path / "red.jsonl"
    log.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")
    assert [case.verdict for case in replay([log], library=library).cases] == ["same"] * 4
    edit(log, 4, lambda r: r["plan"].update(status="stop"))
    replay([log], accept=True, library=library)
    assert replay([log], library=library).same, "accepting keeps what was forgotten"
    edit(log, 4, lambda r: r.update(events=[e for e in r["events"] if e[0] != "forgotten"]))
    assert not replay([log], library=library).same, "without it the answer would lean on what was learned"


def test_exit_codes(log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([str(log), "--quiet", "--jobs", "1"]) == 0
    edit(log, 1, lambda r: r["plan"].update(status="stop"))
    report = log.parent / "report.xml"
    assert main([str(log), "--quiet", "--junit", str(report)]) == 1
    assert ElementTree.parse(report).getroot().tag == "testsuites"
    assert main([str(log), "--quiet", "--accept"]) == 0
    assert main([str(log.parent / "nothing.jsonl"), "--quiet"]) == 2
    captured = capsys.readouterr()
    assert "no such file" in captured.err and "rewritten" in captured.out
