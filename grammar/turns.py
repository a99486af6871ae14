"""Places told by others: "from there on", a turn by its number where another turn is named by its end."""

from collections.abc import Sequence

from grammar.clauses import Head
from grammar.intent import PHASES
from grammar.lexing import Cut
from grammar.parts import Part
from grammar.placing import phases_of

_INTO = frozenset({("in", "one"), ("in", "three"), ("in", "1"), ("in", "3")})
_TO = frozenset({"to", "until", "till"})
_TROUBLES = frozenset({"BAL", "FAULT", "QUALITY"})


def told_places(heads: Sequence[Head], cut: Cut) -> None:
    """Put the places that others tell where their heads keep places."""
    _into_turns(heads, cut)
    for number, head in enumerate(heads):
        onward = [part for part in head.phases if part.means in ("onward", "since")]
        after = heads[number + 1] if number + 1 < len(heads) else None
        if onward and head.part is None and after is not None and len(head.phases) == len(onward):
            after.phases[:0] = [] if after.phases else onward
            head.phases = []
        elif onward:
            before = [p for p in head.phases if p.first < onward[0].first]
            before = before or next((h.phases for h in reversed(heads[:number]) if h.phases), [])
            head.phases = [_behind(p, before, cut) if p in onward else p for p in head.phases]
            head.phases = [p for p in head.phases if p.means]


def _behind(part: Part, before: Sequence[Part], cut: Cut) -> Part:
    """ "Free in the centre, then tight from there out": all that comes behind the place told before; of one
    told as how far it went ("good to the middle"), that place too."""
    told = [phase for phase in phases_of(before) if phase in PHASES]
    if part.means == "since":
        return Part("PHASE", "+".join(told), part.pieces)
    reached = bool(told) and not _TO.isdisjoint(
        cut.plain[max(0, before[-1].first - 1) : before[-1].first + 1]
    )
    behind = PHASES[PHASES.index(told[-1]) + (not reached) :] if told else ()
    return Part("PHASE", "+".join(behind), part.pieces)


def _into_turns(heads: Sequence[Head], cut: Cut) -> None:
    """ "Loose in one and tight off four": where one turn is named by its way out, "in one" is its way in."""
    if not any(p.extra("place") and p.means == "exit" for head in heads for p in head.phases):
        return
    for head in heads:
        named = [p for p in head.places if cut.plain[p.first : p.last + 1] in _INTO]
        if named and not head.phases and head.kind in _TROUBLES:
            head.phases = [Part("PHASE", "entry", p.pieces) for p in named]
