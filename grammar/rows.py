"""Places in a row: those in front of a trouble, and those that go with the trouble before them."""

from collections.abc import Sequence

from grammar.clauses import Head
from grammar.lexing import Cut


def in_a_row(number: int, heads: Sequence[Head], cut: Cut) -> bool:
    """ "In, middle, off, I am tight": places one after the other in front of the trouble."""
    head, after = heads[number : number + 2]
    group = [h for h in heads if h.sentence == head.sentence]
    if not (_bare_place(head) and _bare_place(after)) or after not in group:
        return False
    if any(head.phases[-1].last < n < after.phases[0].first for n in cut.unknown):
        return False
    behind = [h for h in group if h.number > after.number and not _bare_place(h)]
    before = [h for h in group if h.number < number and h.part]
    return not before and bool(behind) and behind[0].part is not None and not behind[0].phases


def _bare_place(head: Head) -> bool:
    said = head.before or head.stages or head.after
    return head.part is None and bool(head.phases) and not said


def told_behind(number: int, heads: Sequence[Head], cut: Cut) -> bool:
    """ "It tightened up, mostly on exit, so ...", "on ice going in and in the center, fine off": a place that
    goes with the trouble before it."""
    head, before = heads[number], heads[number - 1] if number else None
    if before is None or before.part is None or head.part is not None or not head.phases:
        return False
    if before.sentence != head.sentence or head.before or head.stages:
        return False
    if head.phases[0].first and cut.plain[head.phases[0].first - 1] in _MOSTLY:
        return True
    added = head.joint == "and" and bool(before.phases) and "," not in cut.plain[before.phases[-1].last :][:2]
    after = heads[number + 1]
    return added and after.kind == "GOOD" and not after.said("CAR", "CREW")


_MOSTLY = frozenset({"mostly", "mainly", "especially", "particularly", "primarily", "really"})
