"""The reader: a complaint in, a reading out.

text → words (`tidying`) → pieces (`lexing`, tables) → parts (`parsing`, phrases.lark) → heads (`clauses`)
→ drafts (`sense`) → what follows from order and time (`story`) → reading.
"""

from grammar.clauses import heads
from grammar.intent import PHASES, Correction, Question, Reading, Span, Symptom
from grammar.lexing import cut
from grammar.parsing import parse
from grammar.questions import ask
from grammar.sense import Draft
from grammar.story import tell
from grammar.tidying import Word, tidy


def read(text: str, about: Reading | None = None) -> Reading:
    """Read a complaint. With `about`, a reading whose question is open, the text may be its short answer.

    Raises EmptyText, TextTooLong."""
    if about is not None:
        return answer(about, text)
    words = tidy(text)
    parts_cut = cut(words)
    meaningful = [piece for piece in parts_cut.pieces if piece.kind != "FILL"]
    parts = parse(meaningful)
    story = tell(heads(parts), parts_cut)
    symptoms = tuple(_symptom(draft, words, text) for draft in story.drafts)
    filler = [
        n for piece in parts_cut.pieces if piece.kind == "FILL" for n in range(piece.first, piece.last + 1)
    ]
    known = [n for piece in meaningful if piece.kind != "MARK" for n in range(piece.first, piece.last + 1)]
    slips = tuple(Correction(_span(words, n, n, text), word) for n, word in sorted(parts_cut.slips.items()))
    reading = Reading(
        text=text,
        symptoms=symptoms,
        understood=_runs(known, words, text),
        ignored=_runs(filler, words, text),
        unknown=_runs(parts_cut.unknown, words, text),
        corrections=slips,
        good=story.good,
    )
    return ask(reading)


def answer(open_reading: Reading, text: str) -> Reading:
    """The open reading completed by the answer to its question; a text that does not answer it is read afresh."""
    return read(text)


def _symptom(draft: Draft, words: list[Word], text: str) -> Symptom:
    said = bool(draft.phases)
    return Symptom(
        kind=draft.kind,
        direction=draft.direction,
        phases=draft.phases or PHASES,
        phase_said=said,
        trigger=draft.trigger,
        severity=draft.severity or "plain",
        stage=draft.stage,
        state=draft.state,
        corner=draft.corner,
        tyre=draft.tyre,
        span=_span(words, draft.first, draft.last, text),
    )


def _span(words: list[Word], first: int, last: int, text: str) -> Span:
    start, end = words[first].start, words[last].end
    return Span(start, end, text[start:end])


def _runs(places: "list[int] | tuple[int, ...]", words: list[Word], text: str) -> tuple[Span, ...]:
    """Neighbouring words as one span."""
    runs: list[list[int]] = []
    for place in sorted(places):
        if runs and place == runs[-1][1] + 1:
            runs[-1][1] = place
        else:
            runs.append([place, place])
    return tuple(_span(words, first, last, text) for first, last in runs)


__all__ = ["Question", "answer", "read"]
