"""What an answer looks like: every width fits, every page can show it, no meaning hangs on colour alone.

The `Advice` values here are made by hand: they stand for any answer, their numbers mean nothing.
"""

import re
from itertools import pairwise

import pytest

from cli.brief import short
from cli.hearing import pieces, pointers, words_for
from cli.page import NARROWEST, WIDEST, Page, columns
from cli.rendering import full, number
from cli.strip import balance_in_words, bar
from grammar.intent import PHASES
from service.answering import read_only
from service.contract import (
    Advice,
    BeforeAfter,
    ChangeOut,
    ChoiceOut,
    ClashOut,
    CorrectionOut,
    PlanOut,
    QuestionOut,
    ReadingOut,
    ReasonOut,
    SourceOut,
    SpanOut,
    SymptomOut,
    WhyNotOut,
)

TEXT = "loose in tight off flibber"
SGR = re.compile(r"\x1b\[[0-9;]*m")


def symptom(direction: str, phases: tuple[str, ...], start: int, end: int) -> SymptomOut:
    """A live balance complaint."""
    return SymptomOut.model_validate(
        {
            "kind": "balance",
            "direction": direction,
            "phases": list(phases),
            "phase_said": True,
            "trigger": None,
            "severity": "plain",
            "stage": "half",
            "state": "live",
            "corner": None,
            "tyre": None,
            "span": {"start": start, "end": end, "text": TEXT[start:end]},
        }
    )


def reading(text: str = TEXT, unknown: tuple[tuple[int, int], ...] = ((19, 26),)) -> ReadingOut:
    """Two symptoms, a word that nobody knows, a spelling slip."""
    return ReadingOut(
        text=text,
        symptoms=[symptom("loose", PHASES[:2], 0, 8), symptom("tight", PHASES[3:], 9, 18)],
        outcomes=[],
        measurements=[],
        limits=[],
        requests=[],
        questions=[],
        stop=None,
        driver=False,
        understood=[],
        ignored=[],
        unknown=[SpanOut(start=a, end=b, text=text[a:b]) for a, b in unknown],
        corrections=[CorrectionOut(span=SpanOut(start=0, end=5, text="loose"), read_as="loose")],
        good=[],
    )


def change(key: str, label: str, before: float, after: float) -> ChangeOut:
    """One change with two reasons."""
    reasons = [
        ReasonOut(
            kind="load",
            text=f"{label}: load moves by 31 lb from the left rear.",
            numbers={"lb": 31.0},
            sources=["a"],
        ),
        ReasonOut(kind="feel", text="Feel for a calmer rear on the brakes.", numbers={}, sources=[]),
    ]
    row = {"setting": key, "label": label, "unit": "in", "from": before, "to": after, "clicks": -1}
    return ChangeOut.model_validate(row | {"where": "garage", "reasons": reasons, "effects": []})


def advice(**other: object) -> Advice:
    """An answer with something in every section."""
    expected = {
        f"balance/{phase}/half": BeforeAfter(before=b, after=a, unit="feel")
        for phase, b, a in zip(
            PHASES, (-1.0, -1.0, 0.0, 1.0, 1.0), (-0.2, -0.31, 0.04, 0.38, 0.29), strict=True
        )
    }
    expected["wear-gap/right"] = BeforeAfter(before=2.1, after=2.43, unit="%")
    first = change("track_bar_left", "Track bar, left end", 9.5, 9.25)
    made = Advice(
        status="change",
        summary="2 changes: Track bar from 9.5 to 9.25 in; and so on. For getting in.",
        reading=reading(),
        changes=[first, change("track_bar_right", "Track bar, right end", 10.0, 10.25)],
        expected=expected,
        alternatives=[PlanOut(changes=[first], expected=expected, summary="Entry only.")],
        questions=[
            QuestionOut(about="phase", text="Where?", choices=[ChoiceOut(answer="in", label="corner entry")])
        ],
        why_not=[
            WhyNotOut(move="cross_weight", label="Cross weight", text="it would spoil the middle", numbers={})
        ],
        clash=ClashOut(members=["springs stay"], text="These cannot all hold.", repair="free the springs"),
        cautions=["Left-rear pressure is near its lowest."],
        notes=["Temperatures were not given."],
        sources=[SourceOut(key="a", title="A book", where="p. 3", mark="published")],
        car="tern-premier",
        track="stonecup",
        session=None,
    )
    return made.model_copy(update=other)


@pytest.mark.parametrize("width", [*range(NARROWEST, 101), 120, 150, 199, WIDEST])
@pytest.mark.parametrize("rich", [True, False])
def test_no_line_is_wider_than_the_window(width: int, rich: bool) -> None:
    for line in full(Page(width, rich), advice()) + short(Page(width, rich), advice()):
        assert columns(line) <= width, line


@pytest.mark.parametrize("width", [40, 41, 57])
def test_wide_characters_and_endless_words_are_wrapped_too(width: int) -> None:
    text = "日本語の長い文がここにある " * 5 + "x" * 300

    lines = Page(width).wrap(text, "Note: ")

    assert all(columns(line) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == f"Note:{text}".replace(" ", "")


def test_colour_adds_nothing_but_colour() -> None:
    page = Page(80, True, True)

    coloured = full(page, advice())

    assert any(SGR.search(line) for line in coloured)
    assert [SGR.sub("", line) for line in coloured] == full(Page(80, True, False), advice())


def test_a_poor_page_gets_only_ascii() -> None:
    told = advice(notes=["± 3 °F → café"], summary="“Quoted” – 日本")

    assert "\n".join(full(Page(80, rich=False), told)).isascii()


def test_everything_the_answer_holds_is_said() -> None:
    text = "\n".join(full(Page(200), advice()))

    for said in (
        "loose in at half fuel; tight off at half fuel",
        "Track bar, left end 9.5 → 9.25 in (1 click down, in the garage)",
        "load moves by 31 lb",
        "Feel for a calmer rear",
        "loose 1.0 → loose 0.2",
        "tight 1.0 → tight 0.3",
        "wear gap, right front minus right rear: 2.1 → 2.43 %",
        "Entry only.",
        "Cross weight: it would spoil the middle",
        "free the springs",
        "Caution: Left-rear pressure",
        "Note: Temperatures",
        "2 changes. For getting in.",
        "[a] A book (published)",
        "tern-premier at stonecup",
        "corner entry (say: in)",
    ):
        assert said in text, said


def test_the_short_form_keeps_the_list_and_offers_the_rest() -> None:
    text = "\n".join(short(Page(200), advice()))

    assert "Track bar, right end" in text and "Caution" in text
    assert "Feel for a calmer rear" not in text
    assert "/others shows 1 other list" in text and "/why" in text


def test_carets_stand_under_what_was_not_understood() -> None:
    assert pointers(Page(80), TEXT, reading().unknown) == ["  " + TEXT, "  " + " " * 19 + "^" * 7]


def test_carets_follow_the_text_over_line_breaks_and_wide_characters() -> None:
    text = "tight 日本 in the middle and then it does wibble\nevery lap wobble"
    spans = [
        SpanOut(start=s, end=s + len(w), text=w)
        for w in ("日本", "wibble", "wobble")
        for s in [text.index(w)]
    ]

    lines = pointers(Page(40), text, spans)

    for above, below in pairwise(lines):
        if below.strip() and set(below.strip()) <= {"^", " "}:
            cells = [c for c in above for _ in range(columns(c))]
            marked = "".join(c for c, b in zip(cells, below.ljust(len(cells)), strict=False) if b == "^")
            assert marked in ("日日本本", "wibble", "wobble")
    assert sum(line.count("^") for line in lines) == 16


@pytest.mark.parametrize("room", [5, 12, 36])
def test_pieces_lose_nothing_but_line_ends(room: int) -> None:
    text = "loose\n\nin, a-very-long-word-that-does-not-fit and tight off \r\n at half"

    found = pieces(text, room)

    kept = "".join(text[a:b] for a, b in found)
    assert kept == text.replace("\n", "").replace("\r", "")
    assert all(b - a <= room for a, b in found)


def test_control_characters_never_reach_the_terminal() -> None:
    evil = "loose \x1b]0;owned\x07\x9b31m in \u202eoff"
    told = advice(summary=evil, notes=[evil], reading=reading(evil, ((0, len(evil)),)))

    text = "".join(full(Page(80), told))

    assert not any(c in text for c in "\x1b\x07\x9b\u202e")


def test_a_stop_stands_out_in_words() -> None:
    told = advice(status="stop", changes=[], summary="Bring it in: the brakes have failed.")

    assert "STOP: Bring it in: the brakes have failed." in full(Page(80), told)


@pytest.mark.parametrize(
    ("before", "after", "drawn"),
    [(-2.0, 2.0, "o---|---#"), (0.0, 0.0, "....@...."), (1.0, 0.5, "....|#o.."), (-9.0, 9.0, "o---|---#")],
)
def test_the_bar_shows_where_from_and_where_to(before: float, after: float, drawn: str) -> None:
    """The middle cell is level, one cell is reach / 4 here; values beyond the reach stay at the end."""
    assert bar(Page(80, rich=False), before, after, 2.0, 4) == drawn


@pytest.mark.parametrize(("feel", "words"), [(0.04, "level"), (-0.05, "loose 0.1"), (1.0, "tight 1.0")])
def test_balance_in_words(feel: float, words: str) -> None:
    assert balance_in_words(feel) == words


@pytest.mark.parametrize(
    ("value", "text"), [(9.25, "9.25"), (-0.0001, "0"), (7450.4, "7450"), (0.125, "0.12"), (212.4, "212")]
)
def test_numbers_have_no_tail(value: float, text: str) -> None:
    assert number(value) == text


def test_nothing_understood_is_said_plainly() -> None:
    empty = reading("flibber", ((0, 7),)).model_copy(update={"symptoms": [], "corrections": []})

    lines = full(Page(80), advice(status="question", changes=[], reading=empty))

    assert words_for(empty) == ""
    assert lines[:3] == ["Not understood, so nothing is guessed:", "  flibber", "  ^^^^^^^"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("the right rear is 25 hotter than the left rear", "RR tyre temperature +25 F on LR"),
        ("rear tires are ten degrees hotter than the fronts", "RR tyre temperature +10 F on LF and RF"),
    ],
)
def test_a_difference_names_the_tyres_it_is_on(text: str, told: str) -> None:
    assert told in words_for(read_only(text)).split("; ")
