"""The answer between two runs: short, true, and the rest one word away. Real answers, no hand-made ones."""

import re

import pytest

from cli.__main__ import main
from cli.brief import short
from cli.page import NARROWEST, Page, columns
from cli.rendering import full
from engine.adviser import advise
from engine.sheets import shipped_cars, shipped_tracks
from engine.sources import sources
from grammar.reader import read
from service.answering import reading_out
from service.contract import Advice
from service.telling import told
from service.words import MARK

MOST_LINES = {80: 33, 40: 51}
"""A phone shows about thirty lines at a time (judgement): one screen wide, under two narrow, and the caution,
which always stands."""


def advice(text: str, car: str = "tern-premier", track: str = "stonecup") -> Advice:
    """The real answer to a phrase."""
    sheet, place = shipped_cars()[car], shipped_tracks()[track]
    reading = read(text)
    return told(advise(reading, sheet, place, sheet.base_setup()), reading_out(reading), sheet, place, None)


@pytest.mark.parametrize("text", ["loose in, tight off", "snaps loose when I pick up the gas", "tight off"])
@pytest.mark.parametrize("width", [80, 40])
def test_it_fits_a_telephone(text: str, width: int) -> None:
    lines = short(Page(width), advice(text), "--")
    assert len(lines) <= MOST_LINES[width]
    assert all(columns(line) <= width for line in lines)


def test_each_change_says_why_and_what_to_feel_for() -> None:
    answer = advice("loose in, tight off")
    lines = short(Page(120), answer, "--")
    for change in answer.changes:
        head = next(i for i, line in enumerate(lines) if change.label in line)
        own = lines[head + 1 : head + 4]
        assert re.search(r"tightens|frees|take back|others bring", own[0])
        assert any("Feel for" in line for line in own)


def test_no_number_is_told_that_the_answer_does_not_hold() -> None:
    """Every figure of a line under a change stands in the sentence of one of its reasons."""
    answer = advice("loose in, tight off")
    texts = " ".join(r.text for c in answer.changes for r in c.reasons)
    for line in short(Page(200), answer, "--"):
        if line.startswith("   - "):
            assert set(re.findall(r"\d+\.\d", line)) <= set(re.findall(r"\d+\.\d", texts))


def test_the_usual_stage_is_left_out_unless_the_driver_named_another() -> None:
    for text in ("tight off", "tight off at half fuel"):
        lines = short(Page(200), advice(text), "--")
        assert [line for line in lines if line.startswith("Balance") and "half fuel" in line]
        assert not [line for line in lines if line.startswith(("   - ", "Note")) and "half fuel" in line]
    late = short(Page(200), advice("tight off late in the run"), "--")
    assert any("late in the run" in line for line in late if line.startswith("   - "))
    both = short(Page(200), advice("loose in at half fuel, tight off late in the run"), "--")
    assert any("half fuel" in line for line in both if line.startswith(("   - ", "Note")))


def test_the_caution_stands_in_the_short_form_too() -> None:
    """A list of changes for a car is never shown without its cautions, whatever else waits for --why."""
    answer = advice("tight off")
    assert answer.cautions
    for caution in answer.cautions:
        assert f"Caution: {caution}" in short(Page(200), answer, "--")
    assert [line for line in full(Page(200), answer) if line.startswith("Caution")]


def test_a_lever_asked_about_is_answered_in_the_short_form_too() -> None:
    text = "\n".join(short(Page(200), advice("tight off, why not the front bar"), "--"))
    assert "Left alone" in text and "Front anti-roll bar" in text


def test_why_on_the_command_line_gives_everything(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["loose in"]) == 0
    few = capsys.readouterr().out
    assert main(["--why", "loose in"]) == 0
    every = capsys.readouterr().out
    assert "Sources" in every and "Left alone" in every and "of its grip" in every
    assert "Sources" not in few and "of its grip" not in few and "--why" in few
    assert len(few.splitlines()) < len(every.splitlines()) / 2


def test_a_pair_moved_together_is_one_change_wherever_it_is_listed() -> None:
    """The count of a list and its numbers agree."""
    for phrase in ("tight in the middle", "loose everywhere", "free in the middle", "loose in, loose off"):
        answer = advice(phrase, "tern-club", "millpond")
        text = full(Page(NARROWEST * 3), answer)
        counts = [int(m[1]) for line in text if (m := re.match(r"(?:  [a-f]  )?(\d+) changes?\.", line))]
        numbers = [int(m[1]) for line in text if (m := re.match(r"(?:     )?(\d)  \S", line))]
        last = [n for n, after in zip(numbers, [*numbers[1:], 1], strict=True) if after == 1]
        assert counts == last, phrase


def test_how_far_a_source_is_trusted_is_said_in_words() -> None:
    """No mark of our tables, such as (P*), is left for the reader to guess at."""
    answer = advice("loose in, tight off")
    marks = {source.mark for source in sources().values()}
    assert marks <= set(MARK)
    text = " ".join(line.strip() for line in full(Page(120), answer))
    for source in answer.sources:
        assert f"({source.mark})" not in text
    assert f"({MARK['P']})" in text and f"({MARK['book']})" in text


def test_what_else_a_what_if_moves_is_told_in_the_short_form() -> None:
    """It is all there is to tell of it: of tape, the water (S76)."""
    lines = short(Page(100), advice("what if we take the tape down to 20"), "--")
    assert any("water temperature" in line for line in lines)
