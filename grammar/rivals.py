"""Two cars in one breath: what is told of another one, and what is set against it."""

from collections.abc import Sequence
from itertools import pairwise

from grammar.clauses import Head
from grammar.drafts import OPPOSITE, Draft, Story
from grammar.lexing import Cut
from grammar.placing import phases_of

_MINE = frozenset({"mine", "ours"})
_NO_TROUBLE = frozenset({"end", "of", "direction", "side", "lane", "line", "corner"})


def without_rivals(drafts: Sequence[Draft], heads: Sequence[Head], cut: Cut) -> list[Draft]:
    """ "I ran his car and it was tight off, mine is loose off": what stands against ours is the other's."""
    ours = [d for d in drafts if any(_MINE & {cut.plain[p.first]} for p in d.head.said("CAR"))]
    if not ours:
        return list(drafts)
    return [d for d in drafts if not any(_of_the_other(d, one, heads, cut) for one in ours)]


def _of_the_other(found: Draft, ours: Draft, heads: Sequence[Head], cut: Cut) -> bool:
    if found.head.number >= ours.head.number or found.head.sentence != ours.head.sentence:
        return False
    before = [h for h in heads[: found.head.number + 1] if h.sentence == found.head.sentence]
    that = {("that", "car"), ("that", "cars")} & set(pairwise(cut.plain[: found.first]))
    return bool(that) or any(h.said("OTHER") for h in before)


def the_opposite(head: Head, earlier: Sequence[Head], story: Story, cut: Cut) -> bool:
    """ "My buddy fights a push, I fight the opposite off": a trouble named by its other way."""
    before = next((h for h in reversed(earlier) if h.part), None)
    if before is None or before.part is None or before.kind != "BAL" or before.sentence != head.sentence:
        return False
    parts = [*head.before, *head.phases]
    first, last = before.part.last + 1, max((p.last for p in parts), default=before.part.last) + 4
    places = [n for n in range(first, min(last, len(cut.plain))) if cut.plain[n] == "opposite"]
    if not places or not head.said("CAR", "NEW") or head.said("OTHER", "NEG"):
        return False
    if cut.plain[places[0] + 1 : places[0] + 2] and cut.plain[places[0] + 1] in _NO_TROUBLE:
        return False
    way = OPPOSITE[before.part.means]
    named = phases_of(head.phases)
    story.drafts.append(Draft("balance", way, "live", head, places[0], places[0], named))
    return True
