"""What was so in another session, or the other way round, and is over."""

from collections.abc import Sequence
from itertools import pairwise

from grammar.clauses import Head
from grammar.drafts import Draft
from grammar.lexing import Cut


def than_it_was(found: Draft, cut: Cut) -> None:
    """ "The loose off is worse than the tight in was"."""
    last = max([found.last, *[p.last for p in found.head.phases]])
    before = cut.plain[max(0, found.first - 2) : found.first]
    if "than" in before and cut.plain[last + 1 : last + 2] == ("was",) and found.state == "live":
        found.state = "gone"


def back_then(found: Draft, earlier: Sequence[Head], cut: Cut) -> None:
    """ "... the way we were in the first run, when it would not turn"."""
    before = earlier[-1] if earlier else None
    if before is None or before.sentence != found.head.sentence or found.state != "live":
        return
    last = max((p.last for p in (*before.before, *before.after) if p.kind == "OLD"), default=-1)
    if last >= 0 and not _RELATIVE.isdisjoint(cut.plain[last + 1 : last + 3]):
        found.state = "gone"


_RELATIVE = frozenset({"when", "which", "where"})


def less_of_it(found: Draft, drafts: Sequence[Draft], cut: Cut) -> None:
    """ "Loose in, a little less loose in the middle": there as well, only not as much."""
    last = drafts[-1] if drafts else None
    if last is None or found.state != "eased" or (last.direction, last.state) != (found.direction, "live"):
        return
    near = found.head.sentence == last.head.sentence and bool(last.phases) and bool(found.phases)
    timed = found.head.said("NEW", "CREW") or "than" in cut.plain[found.last : found.last + 6]
    if near and last.phases != found.phases and found.head.said("LESS") and not timed:
        found.state, found.severity = "live", "slight"


def came_from(drafts: Sequence[Draft], cut: Cut) -> None:
    """ "It went from being too tight to where I can put it anywhere"."""
    for number, one in enumerate(drafts if "from" in cut.plain else ()):
        before = cut.plain[max(0, one.first - 6) : one.first]
        alone = all(two.head.sentence != one.head.sentence for two in drafts[number + 1 :])
        moved = "from" in before and not _WENT.isdisjoint(before)
        if alone and moved and ("to", "where") in pairwise(cut.plain[one.last + 1 :]):
            one.state = "gone"


_WENT = frozenset({"went", "gone", "came", "go", "goes"})


def another_session(one: Draft, two: Draft, cut: Cut) -> bool:
    """ "In hot laps it was free in, for the feature it would not turn", "now I have the opposite there"."""
    said = {word for p in one.head.before if p.kind == "OLD" for word in cut.plain[p.first : p.last + 1]}
    later = any(p.kind == "NEW" for p in (*two.head.before, *two.head.after))
    other = one.phases == two.phases and not _OTHER_WAY.isdisjoint(cut.plain[one.last : two.first])
    return (later and not said.isdisjoint(_SESSIONS)) or other


_SESSIONS = frozenset({"practice", "laps", "heat", "heats", "qualifying", "session", "run", "trials", "ups"})
_OTHER_WAY = frozenset({"opposite", "reverse", "flipped"})
