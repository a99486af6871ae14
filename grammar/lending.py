"""What one clause lends to the next: places, wishes, denials, and whom it speaks of."""

from collections.abc import Sequence

from grammar.clauses import Head
from grammar.drafts import OPPOSITE, Draft
from grammar.lexing import Cut
from grammar.parts import Part
from grammar.placing import implied, own_phases, phases_of
from grammar.reach import of_another, told_of_ours
from grammar.rows import in_a_row, told_behind
from grammar.turns import told_places


def lend(heads: Sequence[Head], cut: Cut) -> None:
    """ "In the middle, it is tight": a place alone before a comma goes with the head behind it; so does one
    that tells how far the car has come ("then I get to the middle and it won't turn")."""
    told_places(heads, cut)
    for number, head in enumerate(heads[:-1]):
        after = heads[number + 1]
        _wish_on(head, after)
        _nothing_came(head, after, cut)
        _wished_behind(head, after, cut)
        _how_it_went(head, after)
        if in_a_row(number, heads, cut):
            after.phases[:0], head.phases = head.phases, []
            continue
        if told_behind(number, heads, cut):
            continue
        if (reached := _reached(head)) and not after.phases and after.sentence == head.sentence:
            head.phases = [part for part in head.phases if part not in reached]
            after.phases = reached
            continue
        if _coordinated(head, after):
            after.phases[:0] = head.phases
            head.phases = []
            continue
        if (
            head.part is not None
            or after.part is None
            or after.phases
            or not (head.phases or head.places or head.triggers)
            or any(part.means == "no" for part in head.before)
            or (after.kind == "VERDICT" and after.joint == "or")
            or own_phases(after)
        ):
            continue
        owner = number and heads[number - 1].sentence == head.sentence
        arrived = bool(head.said("CAR", "NEW")) and (bool(after.said("CAR")) or after.joint == "so")
        arrived = arrived or (bool(head.said("NEW")) and bool(head.said("CAR")))
        head.phases = _latest(head)
        if after.sentence == head.sentence and (after.joint == "comma" or not owner or arrived):
            for shelf in ("phases", "places", "triggers", "stages"):
                getattr(after, shelf)[:0] = getattr(head, shelf)
                setattr(head, shelf, [])


def _latest(head: Head) -> list[Part]:
    """ "I can go in with them and then I lose a length on exit because ...": the last place told."""
    then = max((p.first for p in head.before if p.kind == "NEW" and p.means == "then"), default=-1)
    return [p for p in head.phases if p.first > then] or head.phases


def _nothing_came(head: Head, after: Head, cut: Cut) -> None:
    """ "I ask it to turn and nothing happens": what was asked of the car did not come."""
    if head.kind != "QUALITY" or after.part is not None or after.sentence != head.sentence:
        return
    lent = [p for p in after.before if p.kind == "GONE" and cut.plain[p.first] == "nothing"]
    head.after.extend(lent)
    after.before = [p for p in after.before if p not in lent]


def _wished_behind(head: Head, after: Head, cut: Cut) -> None:
    """ "Rear grip, that's what I need coming off": the wish and its place behind the thing wished for."""
    if head.kind != "QUALITY" or after.part is not None or after.sentence != head.sentence or head.before:
        return
    wish = [p for p in after.before if p.kind == "NEED" and "what" in cut.plain[p.first : p.last + 1]]
    head.before.extend(wish)
    if wish and not head.phases:
        head.phases, after.phases = after.phases, []


def _how_it_went(head: Head, after: Head) -> None:
    """ "It drives off tight": how the car did it stands right behind where."""
    went = head.kind == "QUALITY" and after.kind == "BAL" and after.joint == "run" and not after.phases
    if went and head.phases and not after.before and not head.said("NEG", "LACK", "POOR", "NEED", "LESS"):
        assert after.part is not None
        if head.phases[-1].last + 1 == after.part.first:
            head.phases, after.phases = [], head.phases


def _reached(head: Head) -> list[Part]:
    """ "It sticks and then I get to the middle and ...": the places told behind "then I" open what comes
    next."""
    then = next((p.first for p in head.after if p.kind == "NEW" and p.means == "then"), None)
    if head.kind in ("GOOD", "QUALITY") and then is None:
        then = next((p.first for p in head.after if p.kind == "LIMIT"), None)
    elif then is not None and not any(p.kind == "CAR" and p.first > then for p in head.after):
        then = None
    return [] if head.part is None or then is None else [part for part in head.phases if part.first > then]


def _wish_on(head: Head, after: Head) -> None:
    """ "Need rear grip in, front grip off": one wish for two things."""
    wish = head.said("NEED", "LACK")
    bare = after.kind == "QUALITY" and not after.said("NEED", "NEG", "LACK", "POOR", "CAR", "CREW", "LESS")
    if not (wish and bare):
        return
    if head.part is None and not head.phases and wish[-1] is head.before[-1]:
        after.before[:0] = [wish[-1]]
        return
    spoilt = any(p.kind in ("GONE", "NEED", "TOOMUCH", "POOR", "NEG", "ENOUGH") for p in after.after)
    near = head.sentence == after.sentence and after.joint in ("comma", "and", "run") and not spoilt
    if near and head.kind == "QUALITY" and not head.said("NEG"):
        after.before[:0] = wish


def _coordinated(head: Head, after: Head) -> bool:
    """ "But the middle and exit are tight": two places in front of one head."""
    if head.part is not None or after.part is None or not head.phases or head.joint in ("and", "or", "run"):
        return False
    leads = bool(after.phases) and after.phases[0].first < after.part.first
    return after.joint in ("and", "or") and leads and not (head.before or head.stages)


def goes_on_about_another(head: Head, before: Head | None, cut: Cut) -> bool:
    """A sentence about another car stays about it until a new subject comes."""
    same = before is not None and head.sentence == before.sentence and before.other
    same = same and not head.said("CAR", "CREW") and not told_of_ours(head, cut) and not _of_mine(head, cut)
    things = [p.means for p in before.before if p.kind == "OTHER"] if same and before else []
    if things and things[-1] == "thing" and head.part is not None and head.part.end in ("front", "rear"):
        same = False
    head.other = same or (head.part is not None and of_another(head, cut))
    return same


def _of_mine(head: Head, cut: Cut) -> bool:
    """ "He drives off straight, my rear end slides"."""
    first = head.part.first if head.part else 0
    if any({"im", "i"} & set(cut.plain[p.first : p.last + 1]) for p in head.said("LACK")):
        return True
    return bool(first) and cut.plain[first - 1] in ("my", "our")


def borrow(found: Draft, head: Head, earlier: Sequence[Head], cut: Cut) -> None:
    """A symptom without a place takes the one its sentence has already set ("getting in it hops and comes
    around")."""
    before = earlier[-1]
    if before.part is None and before.said("STILL", "NEG") and not before.phases and len(earlier) > 1:
        before = earlier[-2]
    if before.sentence != head.sentence:
        return
    if any(p.means == "without" for p in head.before) and any(h.said("NEED", "NEG", "LACK") for h in earlier):
        wished = before.kind in ("QUALITY", "BAL") and before.said("NEED") and not before.said("NEG")
        wished = wished and not (before.part is not None and before.part.end == "drive")
        found.state = "feared" if wished else "live"
    if found.phases:
        return
    so_that = before.kind in ("QUALITY", "GOOD") and head.joint == "run" and _so_that(before, found, cut)
    if so_that or _grown(head, before):
        found.phases = phases_of(before.phases)
        return
    if _uneasy(before) and not before.phases:
        before = next((h for h in reversed(earlier) if h.sentence == head.sentence and h.phases), before)
    later = _after_until(before)
    if later and head.said("NEW"):
        found.phases = later
        return
    if "there" in cut.plain[found.last + 1 : found.last + 4]:
        named = next((h for h in reversed(earlier) if h.sentence == head.sentence and h.phases), before)
        spared = before.kind == "GOOD" and not any(p.means == "but" for p in before.after)
        found.phases = () if spared else phases_of(named.phases[-1:]) or implied(named)
        return
    if before.kind == "GOOD" and any(p.kind == "UNTIL" for p in before.after):
        found.phases = phases_of(before.phases)
        return
    first = before.part.first if before.part else 0
    leading = bool(before.phases) and before.phases[0].first < first
    told = (
        _uneasy(before)
        or any(p.means == "without" for p in head.before)
        or (before.kind in ("VERDICT", "GOOD") and (head.said("STILL") or before.said("NEG") or before.wish))
        or (before.kind == "VERDICT" and before.part is not None and before.part.means == "worse")
        or (before.kind == "VERDICT" and not {"still", "yet"}.isdisjoint(cut.plain[before.reach()[1] :]))
    )
    drive = before.kind == "QUALITY" and before.part is not None and before.part.end == "drive"
    told = told or (before.kind == "MOVE" and head.joint == "and")
    told = told or (drive and bool(before.said("NEG", "LACK", "POOR")) and bool(head.said("CAR")))
    locked = before.kind == "SYM" and head.joint in ("and", "so") and not head.said("CREW")
    locked = locked or (before.kind == "SYM" and head.joint == "run" and not head.said("CREW", "CAR"))
    if (leading and head.joint in ("and", "run") and not head.said("CAR", "CREW")) or told or locked:
        found.phases = phases_of(before.phases) or own_phases(before)


def _so_that(before: Head, found: Draft, cut: Cut) -> bool:
    """ "Turns so well on entry that I am sideways"."""
    return before.part is not None and "that" in cut.plain[before.part.last : found.first]


def _grown(head: Head, before: Head) -> bool:
    """ "I was tight off and now I'm tighter": the same trouble grown, in the same place."""
    if head.part is None or before.part is None or before.kind != "BAL":
        return False
    same = head.part.means == before.part.means and head.part.extra("form") == "comp"
    return same and bool(head.said("NEW")) and not head.said("NEED")


def _uneasy(head: Head) -> bool:
    """A complaint that says how the car feels and not yet which end it is."""
    if head.kind == "QUALITY" and head.part is not None and head.part.end is None:
        return bool(head.said("NEG", "LACK", "POOR"))
    return head.part is not None and head.kind == "SYM" and head.part.means in ("nervous", "slow-response")


def _after_until(head: Head) -> tuple[str, ...]:
    """ "Tight until I pick up the gas, then loose": the place where the one ends and the next begins."""
    until = next((part.first for part in head.after if part.kind == "UNTIL"), None)
    return () if until is None else phases_of([part for part in head.phases if part.first > until])


def still_so(found: Draft, head: Head, drafts: Sequence[Draft]) -> None:
    """ "Tighter in than it was but still free": what only changed is not the trouble that is left."""
    last = drafts[-1] if drafts else None
    if last is None or last.head.part is None or not head.said("STILL") or head.joint not in ("but", "and"):
        return
    if last.state == "eased" and last.direction == found.direction:
        found.phases = found.phases or last.phases
        return
    changed = (
        last.head.part.extra("form") == "comp" and not last.asked and last.head.sentence == head.sentence
    )
    there = not found.phases or bool(set(found.phases) & set(last.phases))
    if changed and there and last.direction == OPPOSITE.get(found.direction or ""):
        last.state = "gone"
        found.phases = found.phases or last.phases


def elsewhere(found: Draft, earlier: Sequence[Head], cut: Cut) -> None:
    """ "Good on entry, tight everywhere else": all but the places already spoken of."""
    if any(cut.plain[part.last] == "else" for part in found.head.phases):
        named = {phase for head in earlier for phase in phases_of(head.phases)}
        found.phases = tuple(phase for phase in found.phases if phase not in named) or found.phases


def carries(found: Draft, head: Head, before: Head, cut: Cut) -> None:
    """ "Not tight or loose": a denial reaches over "or". "Need to loosen in and tighter off": so does a wish
    over "and"."""
    if before.part is None or head.sentence != before.sentence:
        return
    if (
        before.part.extra("form") == "change"
        and "if" in cut.plain[max(0, before.part.first - 4) : before.part.first]
        and found.state == "live"
    ):
        found.state = "feared"
    if head.said("CAR", "CREW"):
        return
    if head.joint == "or" and any(part.kind == "NEG" for part in before.before) and found.state == "live":
        found.state = "gone"
    feared = any(part.kind == "FEAR" and part.means == "fear" for part in before.before)
    if head.joint in ("and", "or") and feared and found.state == "live":
        found.state = "feared"
    form = head.part.extra("form") if head.part else None
    wished = any(part.kind == "NEED" for part in before.before)
    if (
        head.joint in ("and", "or", "comma", "run")
        and wished
        and (form == "comp" or _bidden(head, cut))
        and not found.asked
        and found.direction
    ):
        found.asked, found.direction = found.direction, OPPOSITE[found.direction]


def _bidden(head: Head, cut: Cut) -> bool:
    """ "He wants it freed up in the center and tightened up on entry": what shall be done to the car."""
    form = head.part.extra("form") if head.part else None
    return form == "change" and cut.plain[head.part.first if head.part else 0].endswith("ed")
