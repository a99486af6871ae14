"""Hostile and random input: no crash, no invented symptom, every reading sound."""

from contextlib import suppress

from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.errors import ReadingError
from grammar.intent import DIRECTIONS, PHASES, SEVERITIES, STAGES, STATES, Reading
from grammar.reader import answer, read
from grammar.vocabulary import vocabulary
from grammar.wording import say

EXAMPLES = settings(max_examples=150, deadline=None)
PHRASES = sorted(phrase for phrase, _ in vocabulary().phrases)
SPEAKING = {"BAL", "MOVE", "TURN", "GRIP", "END"}
SAYS_NOTHING = sorted(
    phrase
    for phrase, row in vocabulary().phrases
    if row.kind in ("FILL", "TRAP", "SETTING", "QUANTITY", "STAGE", "PLACE") and not row.fussy
)


def sound(reading: Reading) -> None:
    """Everything the types promise."""
    for symptom in reading.symptoms:
        assert symptom.direction in (*DIRECTIONS, None)
        assert symptom.phases and set(symptom.phases) <= {*PHASES, "straight"}
        assert symptom.severity in SEVERITIES and symptom.state in STATES
        assert symptom.stage in (*STAGES, "whole", None)
    spans = (*reading.understood, *reading.ignored, *reading.unknown)
    for span in (*spans, *(s.span for s in reading.symptoms), *(c.span for c in reading.corrections)):
        assert reading.text[span.start : span.end] == span.text
    assert len(reading.questions) <= 1


def read_or_refuse(text: str) -> Reading | None:
    try:
        return read(text)
    except ReadingError:
        return None


@EXAMPLES
@given(st.text(max_size=300))
def test_any_text_is_read_or_refused(text: str) -> None:
    reading = read_or_refuse(text)
    if reading is not None:
        sound(reading)
        say(reading)


@EXAMPLES
@given(st.lists(st.sampled_from(PHRASES), min_size=1, max_size=12).map(" ".join))
def test_any_sequence_of_known_phrases_is_read(text: str) -> None:
    reading = read_or_refuse(text)
    if reading is not None:
        sound(reading)


@EXAMPLES
@given(st.text(alphabet=st.characters(blacklist_categories=["Ll", "Lu"]), max_size=200))
def test_no_symptom_from_text_without_letters_of_ours(text: str) -> None:
    reading = read_or_refuse(text)
    if reading is not None:
        assert [s for s in reading.symptoms if s.kind == "balance"] == []


@EXAMPLES
@given(st.lists(st.sampled_from(SAYS_NOTHING), min_size=1, max_size=6).map(", ".join))
def test_no_balance_from_words_that_do_not_speak_of_it(text: str) -> None:
    reading = read_or_refuse(text)
    if reading is not None:
        assert [s for s in reading.symptoms if s.kind == "balance"] == []


@EXAMPLES
@given(st.sampled_from(["tight", "not good in the middle", "water is 45"]), st.text(max_size=60))
def test_any_answer_to_a_question_is_taken_or_refused(first: str, reply: str) -> None:
    with suppress(ReadingError):
        sound(answer(read(first), reply))


@EXAMPLES
@given(
    st.text(
        alphabet=["t", "i", "g", "h", "l", "o", "s", "e", "n", " ", "'", ",", "0", "-", "/"], max_size=120
    )
)
def test_near_words_do_not_crash(text: str) -> None:
    reading = read_or_refuse(text)
    if reading is not None:
        sound(reading)
