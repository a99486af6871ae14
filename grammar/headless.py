"""A clause that only modifies: what was said before is said again of another place, time or strength."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from grammar.clauses import Head
from grammar.drafts import LIVE, Draft, Story
from grammar.intent import PHASES
from grammar.lexing import Cut
from grammar.parts import Part
from grammar.placing import phases_of, severity_of
from grammar.reach import denied_unheard, driven_around
from grammar.rivals import the_opposite

__all__ = ["headless"]


def headless(head: Head, earlier: Sequence[Head], story: Story, cut: Cut) -> None:
    """A clause with modifiers only: what came before is said again of another place ("and off", "but not
    off")."""
    if the_opposite(head, earlier, story, cut):
        return
    if not _says_itself(head, earlier, story, cut) and story.drafts:
        _said_again(head, story, cut)


def _says_itself(head: Head, earlier: Sequence[Head], story: Story, cut: Cut) -> bool:
    """Whether the clause was told to the end here: a trouble, a doubt or an aside of its own."""
    phases = phases_of(head.phases)
    before = _praised(earlier)
    if before is not None and _good_too(head, before):
        story.good = tuple(p for p in PHASES if p in {*story.good, *phases})
        return True
    if before is not None and _too_willing(head, before):
        places = phases or phases_of(before.phases)
        story.drafts.append(Draft("balance", "loose", "live", before, *before.reach(), places))
        return True
    if before is not None and _does_not(head, before, cut):
        places = phases or phases_of(before.phases)
        story.good = tuple(phase for phase in story.good if phase not in places)
        way = "tight" if before.part is not None and before.part.end == "front" else "loose"
        story.drafts.append(Draft("balance", way, "live", before, *before.reach(), places))
        return True
    if story.drafts and _needed_there(head, story.drafts[-1]):
        story.drafts.append(replace(story.drafts[-1], state="live", phases=phases, head=head))
        return True
    if before is not None and _not_enough(head, before, cut):
        story.drafts.append(
            Draft("balance", "tight", "live", before, *before.reach(), phases_of(before.phases))
        )
        return True
    if phases and any(part.kind == "FEAR" and part.means == "fear" for part in head.before):
        return True
    if story.drafts and not phases and _long_ago(head, cut):
        story.drafts[-1].state = "gone"
        return True
    if story.drafts and _bare_denial(head, story.drafts[-1], cut):
        story.drafts[-1].state = "gone"
        return True
    follows = (head.joint == "so" and not head.said("STILL")) or (_so_i(head, cut) and not head.said("GONE"))
    if follows and story.drafts and story.drafts[-1].phases:
        return True
    if phases and story.drafts and (_worst(head, cut) or _mostly(head, story.drafts[-1], cut)):
        story.drafts[-1].phases = phases
        return True
    poor = any(part.kind == "POOR" for part in head.before)
    if poor and phases and story.drafts and _bad_there(head, story.drafts[-1]):
        story.drafts[-1].phases, story.drafts[-1].severity = phases, "severe"
        return True
    if phases and story.drafts and _goes_on(head, story.drafts[-1]):
        last = story.drafts[-1]
        start = PHASES.index(last.phases[0])
        last.phases = PHASES[start : max(start, *(PHASES.index(p) for p in phases)) + 1]
        return True
    if poor and (phases or not story.drafts):
        story.doubtful.append(head)
        return True
    if story.drafts and _some_left(head, story.drafts[-1], cut):
        left = phases or story.drafts[-1].phases
        story.drafts.append(replace(story.drafts[-1], state="live", phases=left, head=head))
        return True
    denied = [part.means for part in head.before if part.kind == "NEG"] == ["not"]
    if before is not None and before.kind == "GOOD" and phases and denied and not story.drafts:
        story.doubtful.append(head)
    elif denied_unheard(head, cut):
        story.denials.append(head)
    elif driven_around(head):
        story.doubtful.append(head)
    return bool(story.drafts) and _aside(head, story.drafts[-1], cut)


def _aside(head: Head, last: Draft, cut: Cut) -> bool:
    """A clause about something else: of another car, a trap, or in a new sentence with words no table has."""
    if head.said("TRAP", "OTHER") and not driven_around(head):
        return True
    until = head.reach()[1] if head.phases else last.last
    return head.sentence != last.head.sentence and any(last.last < n <= until + 3 for n in cut.unknown)


def _said_again(head: Head, story: Story, cut: Cut) -> None:
    phases = phases_of(head.phases)
    last = story.drafts[-1]
    negated = any(part.kind == "NEG" and not _of_himself(part, head, cut) for part in head.before)
    too = {"too", "also"} & {cut.plain[part.last] for part in head.severities}
    if (
        phases
        and not too
        and any(part.kind == "NEW" and part.means == "now" for part in head.before)
        and last.phases
        and not negated
    ):
        left = tuple(phase for phase in last.phases if phase not in phases)
        if left:
            last.phases, last.state = left, "gone"
            story.drafts.append(replace(last, phases=phases, state="live", head=head))
            return
    again = head.joint in ("and", "or", "comma") and not head.severities and not (head.stages and last.stage)
    if phases and negated and _all_but(head, last, phases):
        last.phases = tuple(phase for phase in last.phases if phase not in phases)
    if phases and (negated or not again or not last.phases):
        still = any(part.kind == "STILL" for part in head.before)
        plain = not head.said("TRAP") and not any(last.last < n < head.phases[-1].first for n in cut.unknown)
        turned = not negated and (still or (head.joint == "but" and last.state == "gone" and plain))
        state = "gone" if negated else ("live" if turned else last.state)
        new = replace(last, phases=phases, state=state, severity=severity_of(head) or last.severity)
        new.stage = head.stages[-1].means if head.stages else last.stage
        if not last.phases and not negated and not turned:
            story.drafts[-1] = new
        else:
            story.drafts.append(new)
    elif phases:
        named = set(phases) | set(last.phases)
        last.phases = tuple(p for p in (*PHASES, "straight") if p in named)
        last.stage = last.stage or (head.stages[-1].means if head.stages else None)
    else:
        if _plainly_denied(head, cut) and last.state == "live" and head.joint in ("but", "comma", "run"):
            last.state = "gone"
        last.severity = last.severity or severity_of(head)
        last.stage = last.stage or (head.stages[-1].means if head.stages else None)
        gone = any(p.kind == "GONE" and cut.plain[p.first] != "nothing" for p in head.before)
        gone = gone and not head.said("NEED") and last.trigger != "traffic"
        if last.state == "live" and gone:
            last.state = "gone"
    if head.triggers and last.trigger is None:
        last.trigger = head.triggers[0].means


def _plainly_denied(head: Head, cut: Cut) -> bool:
    """ "I told him it was loose in but it ain't"."""
    kinds = [part.kind for part in head.before]
    bare = kinds == ["CAR", "NEG"] and not (head.places or head.triggers or head.stages)
    return bare and cut.plain[head.before[-1].first] in ("aint", "isnt", "wasnt")


def _goes_on(head: Head, last: Draft) -> bool:
    """ "And it stays that way till I'm halfway through the corner": the same, up to there."""
    stays = bool(head.said("STILL")) and any(p.kind == "UNTIL" for p in head.before) and not head.said("NEG")
    places = (*last.phases, *phases_of(head.phases))
    return stays and last.state in LIVE and bool(last.phases) and "straight" not in places


def _of_himself(denial: Part, head: Head, cut: Cut) -> bool:
    """ "I can't charge the corner at all", "I got no confidence in there": the driver is denied, not the
    trouble."""
    if cut.plain[max(0, denial.first - 1)] not in ("i", "we"):
        return False
    lacks = denial.means == "no" and denial.last + 1 in cut.unknown
    return lacks or cut.plain[denial.first] in ("cant", "couldnt", "cannot")


def _so_i(head: Head, cut: Cut) -> bool:
    """ "..., so I am coasting way too long": what it makes the driver do."""
    return any(cut.plain[p.last : p.last + 2] in _SO_I for p in head.severities)


_SO_I = {("so", who) for who in ("i", "im", "ive", "we", "weare", "weve", "iwill")}


def _not_enough(head: Head, before: Head, cut: Cut) -> bool:
    """ "Gained some turn in the middle but not enough"."""
    said = [cut.plain[part.first : part.last + 1] for part in head.before if part.kind == "NEG"]
    turns = before.kind == "QUALITY" and before.part is not None and before.part.end == "front"
    turns = turns and not before.said("NEG", "LACK", "NEED", "POOR", "LESS") and bool(before.phases)
    return turns and said == [("not", "enough")] and head.joint == "but" and not head.phases


def _needed_there(head: Head, last: Draft) -> bool:
    """ "I do not need any more turn getting in, I need it in the middle"."""
    spared = last.state == "feared" and last.head.kind == "QUALITY" and last.head.sentence == head.sentence
    return spared and bool(head.phases) and bool(head.said("NEED")) and not head.said("NEG")


def _long_ago(head: Head, cut: Cut) -> bool:
    """ "If you hear that I am loose, that was two runs ago"."""
    return any(p.kind == "OLD" and cut.plain[p.last] == "ago" for p in head.before)


def _bare_denial(head: Head, last: Draft, cut: Cut) -> bool:
    """ "... and I told them no", "they say it looks loose. It isn't": a clause that only denies."""
    if last.kind != "balance" or last.asked or head.phases or head.triggers or head.after:
        return False
    if any(cut.plain[part.first] != "that" for part in head.severities):
        return False
    kinds = {part.kind for part in head.before}
    if not head.before or not kinds <= {"CAR", "CREW", "NEG"} or head.before[-1].kind != "NEG":
        return False
    denial = head.before[-1]
    if "CAR" not in kinds and cut.plain[denial.first - 1 : denial.first] not in (("it",), ("that",)):
        return False
    told = cut.plain[denial.first : denial.last + 1] in _IS_NOT
    if cut.plain[denial.first : denial.last + 2] in _HAVE_NOT:
        return not "".join(cut.plain[denial.last + 2 : denial.last + 3]).isalpha()
    closed = not "".join(cut.plain[denial.last + 1 : denial.last + 2]).isalpha()
    return told and closed


_HAVE_NOT = {(dont, "have", that) for dont in ("dont", "didnt") for that in ("that", "it", "any")}
_IS_NOT = {(word,) for word in ("isnt", "wasnt", "not", "aint", "no", "arent")}


def _all_but(head: Head, last: Draft, phases: Sequence[str]) -> bool:
    """ "Tight everywhere except the middle", "tight all over but not off"."""
    wider = set(last.phases) > set(phases) and last.state == "live" and not last.asked
    return wider and head.sentence == last.head.sentence and len(last.phases) == len(PHASES)


def _praised(earlier: Sequence[Head]) -> Head | None:
    """The head before; of "turns good", the quality that is praised."""
    if len(earlier) > 1 and earlier[-1].kind == "GOOD" and earlier[-1].joint == "run":
        return earlier[-2] if earlier[-2].kind == "QUALITY" else earlier[-1]
    return earlier[-1] if earlier else None


def _good_too(head: Head, before: Head) -> bool:
    """ "Good center and off": a second place of the praise."""
    praised = before.kind == "GOOD" and bool(before.phases) and not before.said("NEG", "LESS")
    bare = not (head.before or head.severities or head.after)
    return praised and bare and head.joint == "and" and bool(head.phases) and head.sentence == before.sentence


def _bad_there(head: Head, last: Draft) -> bool:
    """ "It is tight, really bad in the middle"."""
    live = last.kind == "balance" and last.state == "live" and not last.phases
    return live and head.joint in ("comma", "and") and head.sentence == last.head.sentence


def _worst(head: Head, cut: Cut) -> bool:
    """ "Tight all over, worst in the middle": the place that matters."""
    return any(
        part.kind == "POOR" and "worst" in cut.plain[part.first : part.last + 1] for part in head.before
    )


def _mostly(head: Head, last: Draft, cut: Cut) -> bool:
    """ "All the way around but mostly off": the place that matters."""
    told = cut.plain[head.phases[0].first - 1] in ("mostly", "mainly", "especially", "particularly")
    return told and set(last.phases).issuperset(PHASES) and not head.said("NEG")


def _too_willing(head: Head, before: Head) -> bool:
    """ "It wanted to turn, almost too much on entry"."""
    turned = before.kind == "QUALITY" and before.part is not None and before.part.end == "front"
    return turned and bool(head.said("TOOMUCH")) and not before.said("NEG", "LACK", "NEED", "POOR")


def _does_not(head: Head, before: Head, cut: Cut) -> bool:
    """ "It turns good in but in the middle it does not"."""
    good = before.kind == "QUALITY" and before.part is not None and before.part.end in ("front", "rear")
    good = (
        good and head.sentence == before.sentence and not before.said("NEG", "LACK", "NEED", "POOR", "LESS")
    )
    denials = [part for part in head.before if part.kind == "NEG"]
    if not good or head.said("END") or len(denials) != 1 or cut.plain[denials[0].first] not in _DENIES:
        return False
    return not any(denials[0].last < place < denials[0].last + 4 for place in cut.unknown)


_DENIES = frozenset({"doesnt", "wont", "didnt", "wouldnt", "dont", "nothing", "not", "isnt", "cant", "none"})


def _not_gone(head: Head) -> bool:
    """ "The push is better by half but it's not gone"."""
    kinds = [part.kind for part in head.before if part.kind not in ("CAR", "STILL", "CREW")]
    return kinds == ["NEG", "GONE"]


def _some_left(head: Head, last: Draft, cut: Cut) -> bool:
    """ "Less push but still too much of it", "mostly gone, just a little left in the middle"."""
    if last.kind == "balance" and last.state in ("eased", "gone") and head.joint == "but" and _not_gone(head):
        return True
    if last.kind != "balance" or head.said("NEG"):
        return False
    start = last.last + 1
    if last.state in ("eased", "gone") and head.severities and "left" in cut.plain[start:]:
        return True
    if last.state in ("eased", "gone") and ("still", "there") in pairwise(cut.plain[start:]):
        return bool(head.said("STILL"))
    bare = not [part for part in head.before[1:] if part.kind not in ("STILL", "CAR")]
    said = bool(head.said("STILL")) and (bool(head.said("TOOMUCH", "MORE", "NEED")) or bare)
    return said and last.state == "eased"
