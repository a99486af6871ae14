"""What one thing said does to another: troubles taken back, overtaken, or given up for what is so now."""

from collections.abc import Sequence
from itertools import pairwise

from grammar.clauses import Head
from grammar.drafts import OPPOSITE, Draft
from grammar.lexing import Cut
from grammar.reach import was
from grammar.sessions import another_session


def from_to(drafts: Sequence[Draft], cut: Cut) -> None:
    """ "Went from tight to loose", "free to tight": only the second is so now."""
    for one, two in pairwise(drafts):
        started = bool({"from", "traded", "swapped"} & set(cut.plain[max(0, one.first - 3) : one.first]))
        moved = started and bool(_MOVED & set(cut.plain[max(0, one.first - 5) : one.first]))
        if two.head.joint != "run" or _TO.isdisjoint(cut.plain[max(one.last, two.first - 3) : two.first]):
            continue
        to = "for" not in cut.plain[max(one.last, two.first - 3) : two.first]
        near = started or (to and two.first - one.last <= 3)
        two_places = started and one.phases and two.phases and one.phases != two.phases
        two_places = two_places and "from" in cut.plain[max(0, one.first - 3) : one.first]
        turned = (
            one.direction == OPPOSITE.get(two.direction or "")
            and set(cut.plain[max(0, one.first - 3) : two.first]) >= _INTO
        )
        if moved or turned or (near and one.direction != two.direction and not two_places):
            one.state = "gone"
            if not two.phases and cut.plain[two.last + 1 : two.last + 2] == ("one",):
                two.phases = one.phases


_TO = frozenset({"to", "into", "for"})
_INTO = frozenset({"turned", "into"})


def corrected(drafts: Sequence[Draft], heads: Sequence[Head], cut: Cut) -> None:
    """ "Tight in, no, scratch that, loose in": what the speaker takes back is not so; the word that mends it
    takes its place over."""
    for one, two in pairwise(drafts):
        if one.state != "live" or two.state != "live" or one.kind != two.kind or one.head is two.head:
            continue
        between = [h for h in heads[one.head.number + 1 : two.head.number] if not h.part]
        denied = any([p.means for p in h.before] == ["no"] and not h.phases for h in between)
        retracted = denied or "retract" in (two.head.joint, *[h.joint for h in between])
        turned = one.direction is not None and two.direction == OPPOSITE[one.direction]
        same_place = one.phases == two.phases or not (one.phases and two.phases)
        meant = _answers_no(two.head) or _MEANT & set(cut.plain[one.last : two.first])
        if turned and same_place and meant:
            retracted = True
        if one.direction == two.direction and one.phases and two.phases and one.phases != two.phases:
            retracted = retracted or not _MEANT.isdisjoint(
                cut.plain[max(one.last, two.first - 2) : two.first]
            )
        if retracted and (turned or (one.phases and two.phases)):
            one.state = "gone"
            two.phases = two.phases or one.phases
    _now_here(drafts, cut)
    last = drafts[-1] if drafts else None
    behind = heads[last.head.number + 1 :] if last else ()
    if last and last.state == "live" and any(h.joint == "retract" and h.part for h in behind):
        last.state = "gone"


def _answers_no(head: Head) -> bool:
    """ "We're tight, which one did I say, no we're loose": the "no" is about what was said."""
    return any(
        one.kind == "NEG" and one.means == "no" and two.kind == "CAR" and two.first == one.last + 1
        for one, two in pairwise(head.before)
    )


_MEANT = frozenset({"mean", "meant", "sorry"})


_MOVED = frozenset({"moved", "shifted", "migrated", "moves", "moving"})


def started_out(drafts: Sequence[Draft], cut: Cut) -> None:
    """ "Starts out free, then it plows": once the other way has come, the first is over."""
    for one, two in pairwise([found for found in drafts if found.direction]):
        begun = bool(_BEGUN & set(cut.plain[max(0, one.first - 5) : one.first]))
        turned = two.head.said("NEW") or "by" in cut.plain[one.last : two.first]
        turned = turned and not (one.head.stages and two.head.stages)
        over = was(one.head, cut) and one.phases == two.phases and bool(two.head.said("NEW"))
        over = over or another_session(one, two, cut)
        mended = _changed_between(one, two, cut)
        opposite = two.direction == OPPOSITE[str(one.direction)]
        if opposite and ((begun and turned) or over or mended) and one.state == two.state == "live":
            one.state = "gone"


def _changed_between(one: Draft, two: Draft, cut: Cut) -> bool:
    """ "It pushed in the center, so we put a round in, now it is free": what the change was for is over."""
    between = cut.plain[one.last : two.first]
    changed = any(pair in _SO_WE for pair in pairwise(between))
    past = cut.plain[one.first].endswith("ed") or was(one.head, cut)
    return changed and past and bool(two.head.said("NEW"))


_SO_WE = frozenset({("so", "we"), ("so", "they"), ("so", "i"), ("so", "you")})
_BEGUN = frozenset({"start", "starts", "started", "began", "begins", "begin"})


def _now_here(drafts: Sequence[Draft], cut: Cut) -> None:
    """ "It's not tight in the center, it's loose": what is put against a denied place stands there."""
    for one, two in pairwise(drafts):
        denied = one.state == "gone" and any(p.kind == "NEG" for p in one.head.before) and bool(one.phases)
        said = {word for p in one.head.before if p.kind == "FEAR" for word in cut.plain[p.first : p.last + 1]}
        denied = denied or (
            one.state == "feared" and bool(one.phases) and bool(said & {"look", "looks", "looked"})
        )
        turned = one.direction is not None and two.direction == OPPOSITE[one.direction]
        near = two.head.number == one.head.number + 1 and two.head.sentence == one.head.sentence
        if denied and turned and near and not two.phases and two.state == "live" and not two.asked:
            two.phases = one.phases


def ended_well(drafts: Sequence[Draft], heads: Sequence[Head], cut: Cut) -> None:
    """ "Started loose, ended up with a good car": what a run began with is over once the car got good."""
    for one in drafts:
        words = set(cut.plain[max(0, one.first - 5) : one.first])
        moved = "from" in words and bool({"went", "gone", "came", "go"} & words)
        begun = moved or (bool(_BEGUN & words) and not one.phases)
        if not begun or one.state != "live":
            continue
        for head in heads[one.head.number + 1 :]:
            if head.part is None or head.kind != "GOOD" or head.phases or head.said("NEG", "NEED"):
                continue
            if not (_TO if moved else _BECAME).isdisjoint(cut.plain[one.last : head.part.first]):
                one.state = "gone"


_BECAME = frozenset({"ended", "finished", "got", "came", "became", "turned", "wound"})
