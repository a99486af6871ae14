"""The reader: a complaint in, a reading out.

text → words (`tidying`) → pieces (`lexing`, tables) → breaths (`breath`) → parts (`parsing`, phrases.lark) →
heads (`clauses`) → drafts (`sense`) → what follows from order and time (`story`) → reading.
"""

from collections.abc import Iterable, Sequence, Set
from dataclasses import replace

from grammar.amounts import Spans
from grammar.answers import with_phases, with_symptom, with_tyres, with_unit
from grammar.asking import asked_changes
from grammar.breath import breathe
from grammar.clauses import heads
from grammar.clefts import straight
from grammar.deeds import deeds, without
from grammar.drafts import Draft, Story
from grammar.figures import figures
from grammar.intent import PHASES, STAGES, Correction, Outcome, Reading, Request, Span, Symptom
from grammar.lexing import Cut, apart, cut, meaningful
from grammar.limiting import said_limits
from grammar.listed import listed
from grammar.parsing import parse
from grammar.parts import Part
from grammar.placing import implied
from grammar.questions import ask
from grammar.story import tell
from grammar.tidying import MAX_CHARACTERS, tidy
from grammar.verdicts import place_cured
from grammar.wishes import barred, done, limits, requests

__all__ = ["answer", "read"]


def read(text: str) -> Reading:
    """Read a complaint. Raises EmptyText, TextTooLong."""
    words = apart(tidy(text))
    spans = Spans([word.start for word in words], [word.end for word in words], text)
    pieces = cut(words)
    told = deeds(pieces, spans)
    fenced = said_limits(pieces, spans, told.places)
    asked = asked_changes(pieces, spans, (*told.places, *fenced.places))
    first_heard = (*told.places, *fenced.places, *asked.places)
    done_places = [n for first, last in first_heard for n in range(first, last + 1)]
    read_off = figures(pieces, spans, frozenset(done_places))
    places = [*first_heard, *read_off.places]
    breaths = breathe(without([*places, *read_off.asked], meaningful(pieces)), pieces.plain)
    parts = barred(parse(breaths, pieces.plain), pieces)
    story = tell(heads(straight(listed(parts), pieces.plain)), pieces)
    place_cured(story)
    symptoms = tuple([_symptom(draft, spans) for draft in story.drafts])
    changed = done(parts, pieces, spans)
    trouble = any(symptom.state in ("live", "worse") for symptom in symptoms)
    heard = {place for first, last in places for place in range(first, last + 1)}
    said, filler = _places(pieces)
    asked_for = (*asked.requests, *requests(parts, pieces, spans, trouble))
    limited = tuple(sorted((*fenced.limits, *limits(parts, pieces, spans)), key=lambda one: one.span.start))
    spoken = [o.span for o in (*changed, *told.outcomes)]
    spoken += [r.span for r in asked_for] + [x.span for x in limited]
    loose = {
        n
        for first, last in read_off.left
        if not _inside(spans(first, last), spoken)
        for n in range(first, last + 1)
    }
    said = [n for n in said if n not in loose]
    reading = Reading(
        text=text,
        symptoms=symptoms,
        outcomes=(*_outcomes(story, spans), *changed, *told.outcomes),
        measurements=tuple(read_off.measurements),
        limits=limited,
        requests=(*_goals(story, spans), *asked_for),
        stop=_stop(parts, pieces),
        driver=_driver(parts),
        understood=spans.runs(sorted(heard.union(said)) if heard else said),
        ignored=spans.runs([n for n in filler if n not in heard and n not in loose]),
        unknown=spans.runs(
            sorted({n for n in pieces.unknown if words[n].kind != "sign" and n not in heard} | loose)
        ),
        corrections=tuple(Correction(spans(n, n), word) for n, word in sorted(pieces.slips.items())),
        good=story.good,
        good_stages=_good_stages(story.good_stages, symptoms),
    )
    return ask(
        reading,
        [spans(*head.reach()) for head in story.doubtful],
        [span for place in read_off.asked if not _inside(span := spans(*place), spoken)],
        [
            span
            for place in (*read_off.units, *read_off.left)
            if not _inside(span := spans(*place), spoken) and len(span.text) > 1
        ],
    )


def _good_stages(praised: Set[str], symptoms: Iterable[Symptom]) -> tuple[str, ...]:
    """The stages praised beside a live complaint about others."""
    live = {s.stage for s in symptoms if s.state in ("live", "worse")}
    asked = bool(live) and "whole" not in live
    return tuple(stage for stage in STAGES if asked and stage in praised and stage not in live)


def _inside(span: Span, others: Sequence[Span]) -> bool:
    """Whether a span shares text with one of some others."""
    return any(span.start < other.end and other.start < span.end for other in others)


def answer(open_reading: Reading, text: str) -> Reading:
    """The open reading completed by `text`, the answer to its question; a text that does not answer it is
    read afresh.

    Raises EmptyText, TextTooLong."""
    fresh = read(text)
    if not open_reading.questions or fresh.stop:
        return fresh
    question = open_reading.questions[0]
    if question.about == "phase":
        asked = next(s for s in open_reading.live() if not s.phase_said)
        probe = next(
            (s for s in (fresh.live() or read(f"{asked.direction} {text}").live()) if s.phase_said),
            None,
        )
        if probe is not None and probe.direction == asked.direction:
            return ask(with_phases(open_reading, probe.phases))
    if question.about == "direction" and question.span and (said := next(iter(fresh.live()), None)):
        probe = said if said.phase_said else _put_there(said, open_reading.text, question.span.end)
        return ask(with_symptom(open_reading, probe))
    if question.about == "meaning" and text.strip().lower() in _MEANINGS & {
        c.answer for c in question.choices
    }:
        return read(f"{text} {open_reading.text}"[:MAX_CHARACTERS])
    if question.about == "tyre" and (named := with_tyres(open_reading, text)):
        return ask(named)
    if question.about == "unit" and (completed := with_unit(open_reading, text)):
        return ask(completed)
    return fresh


_MEANINGS = frozenset({"pressure", "temperature", "wear", "water", "oil"})
"""What a bare number may be, as the question about it offers."""


def _put_there(said: Symptom, text: str, end: int) -> Symptom:
    """The answer to "tight or loose", with the place the text names behind the words asked about, else the
    one they imply ("cannot pick up the throttle")."""
    probe = next(iter(read(f"{said.direction} {text[end:]}").live()), said)
    if probe.phase_said:
        return probe
    pieces = cut(apart(tidy(text)))
    doubts = tell(heads(parse(meaningful(pieces), pieces.plain)), pieces).doubtful
    places = next((named for head in doubts if (named := implied(head))), ())
    return replace(probe, phases=places, phase_said=True) if places else probe


def _places(pieces: Cut) -> tuple[list[int], list[int]]:
    """Places of the words that say something and of the filler."""
    said: list[int] = []
    filler: list[int] = []
    for piece in pieces.pieces:
        if piece.kind != "MARK":
            (filler if piece.kind == "FILL" else said).extend(range(piece.first, piece.last + 1))
    return said, filler


def _symptom(draft: Draft, spans: Spans) -> Symptom:
    return Symptom(
        kind=draft.kind,
        direction=draft.direction,
        phases=draft.phases or PHASES,
        phase_said=bool(draft.phases),
        trigger=draft.trigger,
        severity=draft.severity or "plain",
        stage=draft.stage,
        state=draft.state,
        corner=draft.corner,
        tyre=draft.tyre,
        span=spans(draft.first, draft.last),
    )


def _outcomes(story: Story, spans: Spans) -> list[Outcome]:
    """Verdicts on the last change."""
    found: list[Outcome] = []
    for verdict in story.verdicts:
        part = verdict.head.part
        assert part is not None
        span = spans(part.first, part.last)
        found.append(
            Outcome(
                verdict.means,
                verdict.direction,
                verdict.phases,
                verdict.setting,
                None,
                span,
            )
        )
    return found


def _goals(story: Story, spans: Spans) -> list[Request]:
    """Each symptom that came from a request, as the request it came from."""
    return [
        Request("goal", (), None, None, True, draft.asked, spans(draft.first, draft.last))
        for draft in story.drafts
        if draft.asked
    ]


def _only_near(part: Part, pieces: Cut) -> bool:
    """ "It about shoves me in the wall every lap", "before we wreck it": it has not come to that."""
    before = pieces.plain[max(0, part.first - 5) : part.first]
    behind = pieces.plain[part.last + 1 : part.last + 3]
    if not _NEARLY.isdisjoint(before[-1:]):
        return True
    return part.means == "crash" and (not _FEARED.isdisjoint(before) or behind == ("every", "lap"))


_NEARLY = frozenset({"about", "almost", "nearly", "near", "to", "gonna", "ill"})
_FEARED = frozenset({"about", "almost", "nearly", "gonna", "before", "wants", "want", "watch"})


def _stop(parts: Sequence[Part], pieces: Cut) -> str | None:
    """Why the car must stop: a stop word that is not denied, feared, nearly so, or about another car."""
    for number, part in enumerate(parts):
        if part.kind == "STOP" and not _only_near(part, pieces):
            before = []
            for other in reversed(parts[:number]):
                if other.kind in ("MARK", "SEP"):
                    break
                before.append(other)
            if not any(
                p.kind in ("NEG", "FEAR", "OTHER") or (p.kind == "SEV" and p.means == "slight")
                for p in before
            ):
                return part.means
    return None


def _driver(parts: Sequence[Part]) -> bool:
    """Whether the driver blames himself."""
    for number, part in enumerate(parts):
        if part.kind == "OVERDRIVE":
            return not (number and parts[number - 1].kind == "NEG")
    return False
