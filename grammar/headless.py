"""A clause that only modifies: what was said before is said again of another place, time or strength."""

from collections.abc import Sequence
from dataclasses import replace

from grammar.clauses import Head
from grammar.drafts import Draft, Story
from grammar.intent import PHASES
from grammar.lexing import Cut
from grammar.placing import phases_of, severity_of
from grammar.reach import denied_unheard, driven_around

__all__ = ["headless"]


def headless(head: Head, earlier: Sequence[Head], story: Story, cut: Cut) -> None:
    """A clause with modifiers only: what came before is said again of another place ("and off", "but not
    off")."""
    if not _says_itself(head, earlier, story, cut) and story.drafts:
        _said_again(head, story, cut)


def _says_itself(head: Head, earlier: Sequence[Head], story: Story, cut: Cut) -> bool:
    """Whether the clause was told to the end here: a trouble, a doubt or an aside of its own."""
    phases = phases_of(head.phases)
    before = _praised(earlier)
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
    if head.joint == "so" and story.drafts and story.drafts[-1].phases:
        return True
    if phases and story.drafts and _worst(head, cut):
        story.drafts[-1].phases = phases
        return True
    poor = any(part.kind == "POOR" for part in head.before)
    if poor and phases and story.drafts and _bad_there(head, story.drafts[-1]):
        story.drafts[-1].phases, story.drafts[-1].severity = phases, "severe"
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
    negated = any(part.kind == "NEG" for part in head.before)
    if (
        phases
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
        last.severity = last.severity or severity_of(head)
        last.stage = last.stage or (head.stages[-1].means if head.stages else None)
        if last.state == "live" and any(part.kind == "GONE" for part in head.before):
            last.state = "gone"
    if head.triggers and last.trigger is None:
        last.trigger = head.triggers[0].means


def _praised(earlier: Sequence[Head]) -> Head | None:
    """The head before; of "turns good", the quality that is praised."""
    if len(earlier) > 1 and earlier[-1].kind == "GOOD" and earlier[-1].joint == "run":
        return earlier[-2] if earlier[-2].kind == "QUALITY" else earlier[-1]
    return earlier[-1] if earlier else None


def _bad_there(head: Head, last: Draft) -> bool:
    """ "It is tight, really bad in the middle"."""
    live = last.kind == "balance" and last.state == "live" and not last.phases
    return live and head.joint in ("comma", "and") and head.sentence == last.head.sentence


def _worst(head: Head, cut: Cut) -> bool:
    """ "Tight all over, worst in the middle": the place that matters."""
    return any(
        part.kind == "POOR" and "worst" in cut.plain[part.first : part.last + 1] for part in head.before
    )


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


_DENIES = frozenset({"doesnt", "wont", "didnt", "wouldnt", "dont", "nothing", "not", "isnt", "cant"})


def _some_left(head: Head, last: Draft, cut: Cut) -> bool:
    """ "Less push but still too much of it", "mostly gone, just a little left in the middle"."""
    if last.kind != "balance" or head.said("NEG"):
        return False
    start = last.last + 1
    if last.state in ("eased", "gone") and head.severities and "left" in cut.plain[start:]:
        return True
    said = bool(head.said("STILL")) and bool(head.said("TOOMUCH", "MORE") or not head.before[1:])
    return said and last.state == "eased"
