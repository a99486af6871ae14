"""Places nobody has claimed, and what was only supposed: the last look over all that was said."""

from collections.abc import Sequence

from grammar.clauses import Head
from grammar.drafts import LIVE, OPPOSITE, Draft
from grammar.lexing import Cut
from grammar.placing import phases_of


def settle(drafts: Sequence[Draft], heads: Sequence[Head]) -> None:
    """A live complaint without a place takes the nearest one its sentence names and nothing else has claimed
    ("I had to lift on exit because it pushes")."""
    told = [d.head for d in drafts if d.kind == "balance"]
    free = [h for h in heads if h.phases and not _claimed(h, told)]
    for found in drafts:
        if found.phases or found.state not in LIVE or found.kind != "balance":
            continue
        place = _index(heads, found.head)
        near = [h for h in free if h.sentence == found.head.sentence and _open(heads, h, place, told)]
        if near:
            best = min(near, key=lambda h: (abs(_index(heads, h) - place), _index(heads, h)))
            found.phases = phases_of(best.phases)


def _index(heads: Sequence[Head], head: Head) -> int:
    return next((n for n, h in enumerate(heads) if h is head), 0)


def _claimed(head: Head, told: Sequence[Head]) -> bool:
    """Whether a head's place is spoken for: a complaint of its own, praise, a verdict, another car."""
    praise = head.kind in ("GOOD", "VERDICT", "QUALITY") or head.other
    praise = praise and not any(p.kind == "NEG" for p in head.before)
    return praise or any(head is h for h in told)


def _open(heads: Sequence[Head], head: Head, place: int, told: Sequence[Head]) -> bool:
    """Whether no other complaint stands between a free place and the one that seeks it."""
    start, end = sorted((_index(heads, head), place))
    between = heads[start + 1 : end]
    moved = any(p.kind in ("NEW", "CREW") for h in heads[start + 1 : end + 1] for p in h.before)
    return not moved and not any(any(h is t for t in told) for h in between)


def supposed(drafts: Sequence[Draft], cut: Cut) -> None:
    """ "I thought it was tight but it is loose", "they asked if I was loose, no, tight": what was only
    supposed gives way to what is said to be so."""
    for number, one in enumerate(drafts):
        words = set(cut.plain[max(0, one.first - 6) : one.first])
        if one.state != "live" or not words & _SUPPOSING:
            continue
        for two in drafts[number + 1 :]:
            turned = one.direction is not None and two.direction == OPPOSITE[one.direction]
            denied = two.direction == one.direction and two.state == "gone"
            if (turned and two.state in LIVE and not one.phases) or (denied and not one.phases):
                one.state = "gone"


_SUPPOSING = frozenset(
    {"thought", "figured", "asked", "asks", "ask", "looks", "looked", "guessed", "assumed"}
)
