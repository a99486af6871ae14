"""The one road: a request in, an `Advice` out. Command line, chat, service and replay all come through
here."""

from engine.adviser import advise
from engine.car import Car, Setup
from engine.history import EMPTY, History
from engine.learning import Knowledge
from engine.style import style_from
from engine.track import Track
from engine.wishes import MOST_MOVES
from grammar.intent import Reading
from grammar.reader import read
from service.contract import Advice, AdviceRequest, ReadingOut
from service.library import Library
from service.plain import plain
from service.telling import told

__all__ = ["answer", "answer_reading", "read_only", "reading_out"]


def answer(request: AdviceRequest, library: Library) -> Advice:
    """The answer to one complaint on its own. Raises what the reader, the sheets and the engine raise."""
    reading = read(request.text)
    car, track = library.pair(request.car, request.track)
    setup = car.complete(request.setup)
    return answer_reading(
        reading,
        car,
        track,
        setup,
        style=request.style,
        alternatives=request.alternatives,
        session=request.session,
    )


def answer_reading(
    reading: Reading,
    car: Car,
    track: Track,
    setup: Setup,
    *,
    history: History = EMPTY,
    knowledge: Knowledge | None = None,
    style: dict[str, str] | None = None,
    alternatives: int = 2,
    max_moves: int = MOST_MOVES,
    session: str | None = None,
) -> Advice:
    """The answer to a reading, in the light of a history and of what was learned."""
    verdict = advise(
        reading,
        car,
        track,
        setup,
        history=history,
        knowledge=knowledge,
        style=style_from(style),
        alternatives=alternatives,
        max_moves=max_moves,
    )
    return told(verdict, reading_out(reading), car, track, session)


def read_only(text: str) -> ReadingOut:
    """What a text was understood to say, and nothing else."""
    return reading_out(read(text))


def reading_out(reading: Reading) -> ReadingOut:
    """A reading in the shape clients see."""
    return ReadingOut.model_validate(plain(reading))
