"""Words that point back to a place: "there", "from there on", "to the exit", "loose after"."""

from collections.abc import Sequence
from itertools import pairwise

from grammar.clauses import Head
from grammar.drafts import Draft
from grammar.intent import PHASE_GROUPS, PHASES
from grammar.lexing import Cut
from grammar.parts import Part
from grammar.placing import phases_of

_CENTRE = frozenset({"apex", "middle", "center", "centre", "mid", "bottom", "halfway"})
_ON = PHASE_GROUPS["centre"] + PHASE_GROUPS["exit"]


def point(found: Draft, earlier: Sequence[Head], cut: Cut) -> None:
    """Give the draft the place its words point back to."""
    named = _named(earlier)
    if any(part.pieces[0].means == "onward" for part in found.head.phases):
        return
    if (place := _from_there(found, earlier, cut)) is not None:
        ahead = [part for part in found.head.phases if part.last < place]
        found.phases = _onward(found, named or ahead, cut.plain[max(0, place - 8) : place])
    elif not found.phases and _says_there(found, earlier, cut):
        found.phases = phases_of(named[-1:])
    elif _goes_on_to(found, named, cut):
        found.phases = _ON
    elif (not found.phases and _where(found, named, cut)) or (
        not found.phases and _good_to(found, earlier, cut)
    ):
        found.phases = phases_of(named[-1:])
    elif named and _everything_after(found, named, cut):
        found.phases = PHASE_GROUPS["exit"] if phases_of(named[-1:])[:1] != PHASES[:1] else _ON
    elif not found.phases and named and _says_after(found, named[-1], cut):
        found.phases = PHASE_GROUPS["exit"]


def _named(earlier: Sequence[Head]) -> list[Part]:
    """The places of the nearest earlier head that names one."""
    return next((head.phases for head in reversed(earlier) if head.phases), [])


def _from_there(found: Draft, earlier: Sequence[Head], cut: Cut) -> int | None:
    """Where "from there" stands in front of the trouble or right behind it."""
    if "from" not in cut.plain:
        return None
    before = [head.part.last for head in earlier if head.part]
    start = max(before, default=-1) + 1
    for place in range(start, min(found.last + 4, len(cut.plain) - 1)):
        if cut.plain[place : place + 2] in _POINTS:
            return place
    return None


_POINTS = (("from", "there"), ("from", "then"), ("that", "point"))


def _onward(found: Draft, named: Sequence[Part], words: Sequence[str]) -> tuple[str, ...]:
    """What lies behind the place named; a place to stop at of its own ends it."""
    start = phases_of(named[-1:])
    if not start and _CENTRE.isdisjoint(words):
        return found.phases
    rest = PHASE_GROUPS["exit"] if start and start[0] in PHASE_GROUPS["exit"] else _ON
    ends = found.phases == PHASE_GROUPS["centre"] and start != found.phases
    return PHASE_GROUPS["centre"] if ends else rest


def _says_there(found: Draft, earlier: Sequence[Head], cut: Cut) -> bool:
    """ "Our problem is the middle. The rear slides there": in the sentence before, or in this one."""
    if "there" not in cut.plain[found.last + 1 : found.last + 4]:
        return False
    near = [head for head in earlier if head.phases]
    return bool(near) and near[-1].kind != "GOOD" and found.head.sentence - near[-1].sentence == 1


def _goes_on_to(found: Draft, named: Sequence[Part], cut: Cut) -> bool:
    """ "Fine until the middle, then it pushes to the exit", "chatters in the middle and keeps on
    to the exit": from the one place to the other."""
    own = found.head.phases
    if len(own) != 1 or own[0].means != "exit" or phases_of(named[-1:]) != PHASE_GROUPS["centre"]:
        return False
    told = cut.plain[max(0, own[0].first - 1) : own[0].last + 1]
    onward = "to" in told[:2] or ("all", "the") in pairwise(cut.plain[found.last : own[0].first])
    return onward and bool(found.head.said("NEW", "STILL"))


def _where(found: Draft, named: Sequence[Part], cut: Cut) -> bool:
    """ "Good except the exit, where it is tight"."""
    behind = named[-1].last + 1 if named else 0
    return bool(named) and "where" in cut.plain[behind : min(behind + 2, found.first)]


def _good_to(found: Draft, earlier: Sequence[Head], cut: Cut) -> bool:
    """ "It is okay to about the middle, then the nose gives up"."""
    before = earlier[-1] if earlier else None
    if before is None or before.kind != "GOOD" or not before.phases or not found.head.said("NEW"):
        return False
    first = before.phases[-1].first
    near = before.sentence == found.head.sentence and not before.said("NEG", "NEED")
    return near and not {"to", "until", "till"}.isdisjoint(cut.plain[max(0, first - 2) : first + 1])


def _says_after(found: Draft, place: Part, cut: Cut) -> bool:
    """ "Fine before I get to the gas, loose after"."""
    behind = cut.plain[found.last + 1 : found.last + 3]
    closed = behind[:1] in (("after",), ("afterwards",)) and not "".join(behind[1:]).isalpha()
    closed = closed or ("after", "that") in pairwise(cut.plain[place.last : found.first])
    return closed and cut.plain[place.first] in ("before", "until", "till", "up")


def _everything_after(found: Draft, named: Sequence[Part], cut: Cut) -> bool:
    """ "The center is good and everything after it is loose"."""
    between = cut.plain[named[-1].last + 1 : found.first]
    return not found.head.phases and "everything" in between and not _AFTER_IT.isdisjoint(pairwise(between))


_AFTER_IT = frozenset(
    {("after", "it"), ("after", "that"), ("past", "it"), ("past", "that"), ("after", "there")}
)
