"""A request in, its answer out: on its own, or as the next turn of the session it names. Every door asks
here."""

from service.answering import answer
from service.contract import Advice, AdviceRequest
from service.conversation import converse
from service.library import Library
from service.logbook import Logbook

__all__ = ["reply"]


def reply(request: AdviceRequest, library: Library, logbook: Logbook) -> Advice:
    """The answer to a request. Raises what `answer` and `converse` raise."""
    if request.session is None:
        return answer(request, library)
    return converse(
        logbook,
        library,
        request.session,
        request.text,
        car=request.car,
        track=request.track,
        setup=request.setup,
        style=request.style,
        alternatives=request.alternatives,
    )
