"""Places nobody has claimed, and what was only supposed: the last look over all that was said."""

from collections.abc import Collection, Sequence
from itertools import pairwise

from grammar.clauses import Head
from grammar.drafts import LIVE, OPPOSITE, Draft
from grammar.lexing import Cut
from grammar.placing import implied


def settle(drafts: Sequence[Draft], heads: Sequence[Head]) -> None:
    """A live complaint without a place takes the nearest one its sentence names and nothing else has claimed
    ("I had to lift on exit because it pushes")."""
    seeking = [d for d in drafts if not d.phases and d.state in LIVE and d.kind == "balance"]
    if not seeking:
        return
    told = {d.head.number for d in drafts if d.kind == "balance"}
    free = [h for h in heads if implied(h) and h.number not in told and not _claimed(h)]
    if not free:
        return
    stretch = _stretches(heads, told)
    for found in seeking:
        place = found.head.number
        near = [h for h in free if h.sentence == found.head.sentence and _open(h.number, place, stretch)]
        if near:
            best = min(near, key=lambda h: (abs(h.number - place), h.number))
            found.phases = implied(best)


def _claimed(head: Head) -> bool:
    """Whether a head's place is spoken for by what is no complaint: praise, a verdict, another car."""
    praise = head.kind in ("GOOD", "VERDICT", "QUALITY") or head.other
    return praise and not any(p.kind == "NEG" for p in head.before)


def _stretches(heads: Sequence[Head], told: Collection[int]) -> list[tuple[int, int]]:
    """For each head, how many complaints stand before it, and how many turns ("then I") up to it."""
    found: list[tuple[int, int]] = []
    complaints = turns = 0
    for head in heads:
        turns += any(p.kind in ("NEW", "CREW") for p in head.before)
        found.append((complaints, turns))
        complaints += head.number in told
    return found


def _open(free: int, place: int, stretch: Sequence[tuple[int, int]]) -> bool:
    """Whether no other complaint stands between a free place and the one that seeks it, and no turn."""
    start, end = sorted((free, place))
    if stretch[end][1] > stretch[start][1]:
        return False
    return start == end or stretch[end][0] == stretch[start + 1][0]


def supposed(drafts: Sequence[Draft], heads: Sequence[Head], cut: Cut) -> None:
    """ "I thought it was tight but it is loose", "they asked if I was loose, no, tight": what was only
    supposed gives way to what is said to be so."""
    for number, one in enumerate(drafts):
        words = set(cut.plain[max(0, one.first - 6) : one.first])
        if "said" in cut.plain and _SAID & set(pairwise(cut.plain[: one.first])):
            words.add("asked")
        if one.state != "live" or not words & _SUPPOSING or cut.plain[max(0, one.first - 1)] == "this":
            continue
        if _fine_after_all(one, heads):
            one.state = "gone"
        for two in drafts[number + 1 :]:
            turned = one.direction is not None and two.direction == OPPOSITE[one.direction]
            denied = two.direction == one.direction and two.state == "gone"
            same_place = not one.phases or one.phases == two.phases or (turned and not two.phases)
            if same_place and turned and two.state in LIVE and "there" not in cut.plain[one.last : two.first]:
                two.phases = two.phases or one.phases
            if same_place and (denied or (turned and two.state in LIVE)):
                one.state = "gone"


_SAID = {("you", "said"), ("i", "said")}


def _fine_after_all(one: Draft, heads: Sequence[Head]) -> bool:
    """ "I thought we were loose but it was his air, we are fine"."""
    after = [h for h in heads[one.head.number + 1 :] if h.sentence == one.head.sentence and h.part]
    praised = after[:1] and after[0].kind == "GOOD" and not after[0].said("NEG", "LESS", "NEED")
    return bool(praised) and not after[0].phases and bool(after[0].said("CAR", "CREW"))


_SUPPOSING = frozenset(
    {
        "thought",
        "figured",
        "asked",
        "asks",
        "ask",
        "asking",
        "looks",
        "looked",
        "guessed",
        "assumed",
        "saying",
        "said",
        "youd",
        "thinking",
        "wrong",
        "swears",
        "insists",
        "claims",
        "thinks",
    }
)
