"""What a reading means, apart from the words it was said in: the same for every text that says the same."""

from dataclasses import replace

from engine.learning import Knowledge
from engine.wishes import in_force
from grammar.intent import Limit, Reading, Span

__all__ = ["known_by", "meaning_of"]

NOWHERE = Span(0, 0, "")
SPLIT = Span(0, 0, "split")
"""The one word of a limit that counts: to keep a pair is to keep its difference when a split is spoken of."""


def meaning_of(reading: Reading) -> Reading:
    """The reading without its text: spans point nowhere, and of what was not understood only that there is
    some. What is answered from it cannot depend on the wording."""
    return replace(
        reading,
        text="",
        symptoms=tuple(replace(s, span=NOWHERE) for s in reading.symptoms),
        outcomes=tuple(replace(o, span=NOWHERE) for o in reading.outcomes),
        measurements=tuple(replace(m, span=NOWHERE) for m in reading.measurements),
        limits=tuple(map(_plain_limit, in_force(reading.limits))),
        requests=tuple(replace(r, span=NOWHERE) for r in reading.requests),
        questions=tuple(replace(q, span=None) for q in reading.questions),
        understood=(),
        ignored=(),
        unknown=(NOWHERE,) if reading.unknown else (),
        corrections=(),
    )


def _plain_limit(limit: Limit) -> Limit:
    return replace(limit, span=SPLIT if SPLIT.text in limit.span.text.lower() else NOWHERE)


def known_by(knowledge: Knowledge | None) -> tuple[object, ...]:
    """A belief by value: equal for beliefs that are equal in every bit."""
    if knowledge is None:
        return ()
    k = knowledge
    return (k.mean.tobytes(), k.cov.tobytes(), k.levers, k.last, k.reports, k.stages)
