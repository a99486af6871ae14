"""The commands of the chat and of the command line: cars and tracks, set-up, log, what was learned."""

import json
import re
import sys
from pathlib import Path

import pytest

from cli.__main__ import main
from cli.client import Here
from cli.commands import COMMANDS
from cli.page import Page
from cli.session import Session
from cli.turns import turn

ROOT = Path(__file__).parent.parent
PAGE = Page(200)
COMPLAINT = "loose in, tight off at half fuel"
windows = pytest.mark.skipif(
    sys.platform == "win32", reason="the data folder is not taken from the environment"
)


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep the user's data folder out of it."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """A session with a logbook of its own."""
    return Session(Here(str(tmp_path / "log.db")), "test")


def said(session: Session, *lines: str) -> str:
    """What the chat answers to the last of these lines."""
    told: list[str] = []
    for line in lines:
        told = turn(session, line, PAGE).lines
    return "\n".join(told)


def flat(text: str) -> str:
    """A log on one line, without the times."""
    return " ".join(re.sub(r"^\d\d:\d\d  ", "", text, flags=re.MULTILINE).split())


def test_help_lists_every_command(session: Session) -> None:
    text = said(session, "help")

    assert all(f"/{command.name}" in text and command.help in text for command in COMMANDS)
    assert text == said(session, "/help") == said(session, "?")


@pytest.mark.parametrize(
    ("line", "word"), [("/wedge", "no command"), ("/s", "not clear"), ("/", "no command")]
)
def test_a_command_that_is_none_is_said_so(session: Session, line: str, word: str) -> None:
    assert word in said(session, line)


def test_a_command_may_be_cut_short(session: Session) -> None:
    assert said(session, "/he") == said(session, "/help")


def test_the_setup_shows_what_was_set_and_what_was_done(session: Session) -> None:
    said(session, "/set cross_weight=51.5 stagger=1.25")
    before = said(session, "/setup")
    done = session.say(COMPLAINT)
    after = said(session, "did it: better in, same off", "/setup")

    assert "• cross_weight       51.5 %" in before and "• stagger            1.25 in" in before
    assert "  final_drive" in before
    for change in done.changes:
        assert f"• {change.setting:<18} {change.to:g} {change.unit}" in after


def test_a_setup_file_is_loaded(session: Session, tmp_path: Path) -> None:
    path = tmp_path / "mine and yours.toml"
    path.write_text("brake_bias = 68\n", encoding="utf-8")

    assert "• brake_bias         68 %" in said(session, f'/setup "{path}"')


def test_a_value_outside_the_sheet_changes_nothing(session: Session) -> None:
    assert "allowed 46 to 56 %" in said(session, "/set cross_weight=99")
    assert "•" not in said(session, "/setup").partition("\n")[2]


def test_car_and_track_can_be_chosen(session: Session) -> None:
    assert "• tern-premier" in said(session, "/car")
    said(session, "/set cross_weight=51")
    assert "begins" not in said(session, "/car tern-premier")
    assert "begins at its own set-up, without what was said" in said(session, "/car tern-club")
    assert session.state()["setup"] == {}
    assert "• tern-club" in said(session, "/car")
    said(session, "/track fernbrook")

    assert session.say("loose in").track == "fernbrook"
    assert "'nowhere'" in said(session, "/track nowhere")


def test_why_and_others_need_a_list_first(session: Session) -> None:
    assert "there is no change list yet" in said(session, "/why")
    assert "there is no change list yet" in said(session, "/others")


def test_why_in_words_gives_the_reasons_of_the_last_list(session: Session) -> None:
    given = session.say(COMPLAINT)

    text = said(session, "why")

    assert all(reason.text in text for change in given.changes for reason in change.reasons)


def test_why_not_answers_for_the_setting_that_was_named(session: Session) -> None:
    text = said(session, COMPLAINT, "why not wedge")

    assert "Cross-weight" in text
    assert "Left alone" in text and "spring" not in text


def test_asking_for_the_setup_in_words_shows_it(session: Session) -> None:
    assert said(session, "show me the setup") == said(session, "/setup")


def test_undo_takes_the_list_back(session: Session) -> None:
    given = session.say(COMPLAINT)
    said(session, "did it", "/undo")

    for change in given.changes:
        assert session.state()["setup"].get(change.setting, change.from_) == change.from_


def test_what_was_learned_is_shown_and_forgotten(session: Session) -> None:
    assert "Nothing learned yet" in said(session, "/learned")
    assert "From 2 reports" in said(session, COMPLAINT, "did it: better in, same off", "/learned")
    assert "Forgotten" in said(session, "/forget")
    assert "Nothing learned yet" in said(session, "/learned")


@pytest.mark.parametrize("words", ["what have you learned?", "What did you learn"])
def test_what_was_learned_can_be_asked_in_words(session: Session, words: str) -> None:
    assert turn(session, words, Page()) == turn(session, "/learned", Page())


def test_a_question_mark_alone_asks_for_help(session: Session) -> None:
    assert turn(session, "?", Page()) == turn(session, "/help", Page())


def test_a_new_session_keeps_car_and_setup(session: Session) -> None:
    said(session, "/car tern-club", "/set cross_weight=51.5", "/new second")

    assert session.name == "second"
    assert session.state()["car"] == "tern-club"
    assert session.state()["setup"] == {"cross_weight": 51.5}


def test_a_caution_is_shown_once_in_a_session(session: Session) -> None:
    assert "Caution:" in said(session, "loose in")
    assert "Caution:" not in said(session, "tight off")


def test_the_log_tells_and_exports_a_session(
    session: Session, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = said(session, COMPLAINT, "did it: better in, same off", "/log")
    assert f"> {COMPLAINT}" in text and "as advised: " in text
    assert "> why not wedge Cross-weight: " in flat(said(session, "why not wedge", "/log"))
    reasons = flat(said(session, "why", "/log")).rpartition("> why ")[2]
    assert reasons.endswith(" ...") and len(reasons) < 200

    assert main(["log", "export", "test", "--db", str(tmp_path / "log.db")]) == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [line["text"] for line in lines] == [
        COMPLAINT,
        "did it: better in, same off",
        "why not wedge",
        "why",
    ]

    assert main(["log", "show", "nobody", "--db", str(tmp_path / "log.db")]) == 2
    assert "no session called 'nobody'" in capsys.readouterr().err


def test_a_session_goes_on_in_another_process(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    options = ["--session", "race", "--db", str(tmp_path / "log.db"), "--json"]
    assert main([COMPLAINT, *options]) == 0
    first = json.loads(capsys.readouterr().out)
    assert main(["did it: better in, same off", *options]) == 0
    second = json.loads(capsys.readouterr().out)

    moved = {c["setting"]: c["to"] for c in first["changes"]}
    assert all(c["from"] == moved.get(c["setting"], c["from"]) for c in second["changes"])
    assert second["session"] == "race"


def test_a_session_taken_up_again_knows_its_last_list(session: Session, tmp_path: Path) -> None:
    before = said(session, COMPLAINT, "/others")

    later = Session(Here(str(tmp_path / "log.db")), "test")

    assert said(later, "/others") == before


def test_a_style_that_is_none_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["loose in", "--style", "balance=scary"]) == 2
    assert "'scary'" in capsys.readouterr().err


def test_cars_and_tracks_are_listed_and_shown(capsys: pytest.CaptureFixture[str]) -> None:
    for argv, words in (
        (["cars"], ["tern-premier", "tern-challenge", "tern-club"]),
        (["tracks"], ["millpond", "stonecup", "longmeadow", "fernbrook"]),
        (["cars", "show", "tern-club"], ["cross_weight", "on a stop", "in the garage", "real: no"]),
        (["tracks", "show", "stonecup"], ["kind: oval"]),
    ):
        assert main(argv) == 0
        text = capsys.readouterr().out
        assert all(word in text for word in words)


@windows
def test_a_sheet_of_ones_own_is_checked_and_kept(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = (ROOT / "engine" / "cars" / "tern-club.toml").read_text(encoding="utf-8")
    mine = tmp_path / "mine.toml"
    mine.write_text(sheet.replace('"tern-club"', '"my-car"', 1), encoding="utf-8")

    assert main(["cars", "add", str(mine)]) == 0
    assert main(["cars"]) == 0
    assert "my-car" in capsys.readouterr().out
    assert main(["loose in", "--car", "my-car", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["car"] == "my-car"


@windows
@pytest.mark.parametrize(
    ("text", "words"), [("id = 3", ["mine.toml"]), ("not toml", ["mine.toml"]), (None, ["mine.toml"])]
)
def test_a_wrong_sheet_is_named_and_not_kept(
    text: str | None, words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine = tmp_path / "mine.toml"
    if text is not None:
        mine.write_text(text, encoding="utf-8")

    assert main(["cars", "add", str(mine)]) == 2
    told = capsys.readouterr()
    assert told.out == "" and all(word in told.err for word in words)
    assert not list((tmp_path / "data").rglob("mine.toml"))
