"""What follows from the order of things said: inheritance between clauses, then and now, verdicts, reach of a run stage."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from grammar.clauses import Head
from grammar.intent import PHASES
from grammar.lexing import Cut
from grammar.sense import OPPOSITE, Draft, draft, of_another, own_phases, phases_of, severity_of, was

_LIVE = ("live", "worse")


@dataclass(slots=True)
class Verdict:
    """What was said of the last change."""

    means: str
    phases: tuple[str, ...]
    head: Head
    direction: str | None = None
    setting: str | None = None


@dataclass(slots=True)
class Story:
    """Everything the heads of a text say together."""

    drafts: list[Draft] = field(default_factory=list)
    verdicts: list[Verdict] = field(default_factory=list)
    good: tuple[str, ...] = ()
    doubtful: list[Head] = field(default_factory=list)
    """Heads that speak of trouble without a direction ("not good in the middle")."""


def tell(heads: Sequence[Head], cut: Cut) -> Story:
    """The story of a text, from its heads in order."""
    story = Story()
    _lend(heads)
    for number, head in enumerate(heads):
        if _goes_on_about_another(head, heads[number - 1] if number else None):
            continue
        if head.part is None:
            _headless(head, story, cut)
        elif (found := draft(head, cut)) is not None:
            if number:
                _carries(found, head, heads[number - 1])
                _verdict_before(found, head, heads[number - 1])
                _borrow(found, head, heads[:number], cut)
                _elsewhere(found, heads[:number], cut)
            story.drafts.append(found)
        elif head.kind == "QUALITY" and head.part.extra("verdict") and not head.said("NEED", "NEG", "LACK"):
            story.verdicts.append(Verdict(str(head.part.extra("verdict")), phases_of(head.phases), head))
        elif head.kind in ("GOOD", "VERDICT"):
            _judge(head, heads, number, story, cut)
        elif head.kind == "MOVE":
            story.doubtful.append(head)
        _turn_page(head, story, cut)
    _from_to(story.drafts, cut)
    _spread(heads, story)
    story.drafts = _merged(story.drafts)
    return story


def _lend(heads: Sequence[Head]) -> None:
    """ "In the middle, it is tight": a place alone before a comma goes with the head behind it."""
    for number, head in enumerate(heads[:-1]):
        after = heads[number + 1]
        if _coordinated(head, after):
            after.phases[:0] = head.phases
            head.phases = []
            continue
        if (
            head.part is not None
            or after.part is None
            or after.phases
            or not (head.phases or head.places or head.triggers)
        ):
            continue
        owner = number and heads[number - 1].sentence == head.sentence
        if after.sentence == head.sentence and (after.joint == "comma" or not owner):
            for shelf in ("phases", "places", "triggers", "stages"):
                getattr(after, shelf)[:0] = getattr(head, shelf)
                setattr(head, shelf, [])


def _coordinated(head: Head, after: Head) -> bool:
    """ "But the middle and exit are tight": two places in front of one head."""
    if head.part is not None or after.part is None or not head.phases or head.joint in ("and", "or", "run"):
        return False
    leads = bool(after.phases) and after.phases[0].first < after.part.first
    return after.joint in ("and", "or") and leads and not (head.before or head.stages)


def _headless(head: Head, story: Story, cut: Cut) -> None:
    """A clause with modifiers only: what came before is said again of another place ("and off", "but not off")."""
    phases = phases_of(head.phases)
    if any(part.kind == "POOR" for part in head.before) and phases:
        story.doubtful.append(head)
        return
    if not story.drafts:
        return
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
        turned = not negated and (still or (head.joint == "but" and last.state == "gone"))
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


def _goes_on_about_another(head: Head, before: Head | None) -> bool:
    """A sentence about another car stays about it until a new subject comes."""
    same = before is not None and head.sentence == before.sentence and before.other
    same = same and not head.said("CAR", "CREW")
    head.other = same or (head.part is not None and of_another(head))
    return same


def _borrow(found: Draft, head: Head, earlier: Sequence[Head], cut: Cut) -> None:
    """A symptom without a place takes the one its sentence has already set ("getting in it hops and comes around")."""
    before = earlier[-1]
    if before.sentence != head.sentence:
        return
    if any(p.means == "without" for p in head.before) and any(h.said("NEED", "NEG", "LACK") for h in earlier):
        found.state = "live"
    if found.phases:
        return
    if "there" in cut.plain[found.last + 1 : found.last + 3]:
        found.phases = () if before.kind == "GOOD" else phases_of(before.phases)
        return
    if before.kind == "GOOD" and any(p.kind == "UNTIL" for p in before.after):
        found.phases = phases_of(before.phases)
        return
    first = before.part.first if before.part else 0
    leading = bool(before.phases) and before.phases[0].first < first
    vague = before.kind == "SYM" and before.part is not None and before.part.means == "nervous"
    told = (
        vague
        or any(p.means == "without" for p in head.before)
        or before.kind in ("VERDICT", "GOOD")
        and (head.said("STILL") or before.said("NEG"))
    )
    if (leading and head.joint in ("and", "run") and not head.said("CAR", "CREW")) or told:
        found.phases = phases_of(before.phases) or own_phases(before)


def _elsewhere(found: Draft, earlier: Sequence[Head], cut: Cut) -> None:
    """ "Good on entry, tight everywhere else": all but the places already spoken of."""
    if any(cut.plain[part.last] == "else" for part in found.head.phases):
        named = {phase for head in earlier for phase in phases_of(head.phases)}
        found.phases = tuple(phase for phase in found.phases if phase not in named) or found.phases


_TURNING = frozenset({"went", "swung", "flipped", "swapped", "switched"})


def _from_to(drafts: Sequence[Draft], cut: Cut) -> None:
    """ "Went from tight to loose", "free to tight": only the second is so now."""
    for one, two in pairwise(drafts):
        started = "from" in cut.plain[max(0, one.first - 3) : one.first]
        reached = "to" in cut.plain[max(one.last, two.first - 3) : two.first]
        if (
            reached
            and (started or two.first - one.last <= 3)
            and one.direction != two.direction
            and two.head.joint == "run"
        ):
            one.state = "gone"


def _carries(found: Draft, head: Head, before: Head) -> None:
    """ "Not tight or loose": a denial reaches over "or". "Need to loosen in and tighter off": so does a wish over "and"."""
    if before.part is None or head.sentence != before.sentence or head.said("CAR", "CREW"):
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
        and form == "comp"
        and not found.asked
        and found.direction
    ):
        found.asked, found.direction = found.direction, OPPOSITE[found.direction]


_CURED = {"fixed": "gone", "better": "eased", "worse": "worse", "no-change": "live"}
_BARE_VERBS = frozenset(
    "fix cure help improve get take clean work solve eliminate come level balance dial tune".split()
)


def _wished(head: Head, cut: Cut) -> bool:
    """Whether a verdict word is a wish ("need to fix", "get rid of"), not a report ("fixed", "got rid of")."""
    return bool(head.said("NEED")) or (head.part is not None and cut.plain[head.part.first] in _BARE_VERBS)


def _verdict_before(found: Draft, head: Head, before: Head) -> None:
    """ "Fixed the push": the verdict is about the symptom behind it."""
    if before.kind != "VERDICT" or head.joint != "run" or before.phases or head.said("CAR", "NEED"):
        return
    part = before.part
    if part is None or part.means not in ("fixed", "better") or found.state != "live" or before.wish:
        return
    if not before.said("NEG"):
        found.state = _CURED[part.means]


def _verdict_behind(head: Head, story: Story) -> bool:
    """ "The push is worse": the verdict is about the symptom before it."""
    part = head.part
    if part is None or head.joint != "run" or not story.drafts or head.phases or part.means not in _CURED:
        return False
    last = story.drafts[-1]
    if (
        last.state == "live"
        and last.head.sentence == head.sentence
        and not head.said("NEG")
        and not last.asked
    ):
        last.state = _CURED[part.means]
        last.stage = last.stage or (head.stages[-1].means if head.stages else None)
    return True


def _judge(head: Head, heads: Sequence[Head], number: int, story: Story, cut: Cut) -> None:
    """Praise and verdicts."""
    part = head.part
    assert part is not None
    phases = phases_of(head.phases)
    negated = sum(p.kind == "NEG" for p in head.before) % 2 == 1
    if part.kind == "GOOD" and _turning_well(head, phases, story):
        return
    if part.kind == "GOOD":
        if negated:
            story.doubtful.append(head)
        elif not phases:
            _praise(head, story, cut)
        else:
            story.good = tuple(p for p in PHASES if p in {*story.good, *phases})
        return
    if _turning_well(head, phases, story):
        return
    head.wish = _wished(head, cut)
    if head.wish:
        return
    if _trend(head, story) or _worse_there(head, phases, story):
        return
    _verdict_behind(head, story)
    story.verdicts.append(Verdict(part.means, phases, head))
    if part.means == "too-far" and head.said("NEW"):
        for other in story.drafts:
            if other.head.sentence == head.sentence and other.state == "live":
                other.state = "gone"
    if part.means == "fixed" and not phases and not negated and "NEED" not in [p.kind for p in head.before]:
        for other in story.drafts:
            if other.head.sentence == head.sentence and other.state == "live":
                other.state = "gone"


def _turning_well(head: Head, phases: tuple[str, ...], story: Story) -> bool:
    """ "Does not turn well in the middle": "well" and its place belong to the quality before it."""
    if head.joint != "run" or not story.drafts or story.drafts[-1].head.kind != "QUALITY":
        return False
    last = story.drafts[-1]
    if last.state != "live" or (head.part.first if head.part else 0) - last.last > 3:
        return False
    last.phases = last.phases or phases
    return True


def _trend(head: Head, story: Story) -> bool:
    """ "It gets worse as the run goes" tells when, not what the last change did."""
    if head.part is None or head.part.means != "worse" or not head.stages or head.phases or not story.drafts:
        return False
    last = story.drafts[-1]
    last.stage = last.stage or head.stages[-1].means
    return True


def _worse_there(head: Head, phases: tuple[str, ...], story: Story) -> bool:
    """ "Tight in the middle, worse off": the same trouble, stronger, in another place."""
    if head.part is None or head.part.means != "worse" or not phases or not story.drafts:
        return False
    last = story.drafts[-1]
    if last.kind != "balance" or last.state not in _LIVE or last.head.sentence != head.sentence:
        return False
    if not last.phases:
        last.phases = phases
    else:
        story.drafts.append(replace(last, phases=phases, state="worse"))
    return True


def _praise(head: Head, story: Story, cut: Cut) -> None:
    """Praise without a place: "now it is good" says that what came before is cured; else the whole corner is good."""
    now = any(part.kind == "NEW" for part in (*head.before, *head.after))
    if head.joint == "run" and story.drafts and story.drafts[-1].head.part and head.part is not None:
        last = story.drafts[-1]
        if last.head.part is not None and last.head.part.extra("form") == "change" and not last.asked:
            story.drafts.pop()
            now = True
    if now:
        story.verdicts.append(Verdict("fixed", (), head))
        for other in story.drafts:
            if other.state == "live" and was(other.head, cut):
                other.state = "gone"
    if not any(d.state in _LIVE for d in story.drafts):
        story.good = PHASES


def _turn_page(head: Head, story: Story, cut: Cut) -> None:
    """ "First it was X, now Y": what was told as past is over once "now" has been said."""
    now = [part for part in (*head.before, *head.after) if part.kind == "NEW"]
    strong = any(part.means == "now" for part in now)
    for other in story.drafts:
        if other.head is head or other.state != "live" or not now:
            continue
        until = any(part.kind == "UNTIL" for part in other.head.after) and not other.head.said("NEG")
        until = until and not other.head.phases and all(p.means == "whole" for p in other.head.stages)
        if (strong and was(other.head, cut)) or until:
            other.state = "gone"


def _spread(heads: Sequence[Head], story: Story) -> None:
    """A run stage or severity at the very start or end of a sentence covers its clauses that have none."""
    for sentence in {head.sentence for head in heads}:
        group = [head for head in heads if head.sentence == sentence]
        drafts = [d for d in story.drafts if d.head.sentence == sentence]
        if not drafts:
            continue
        turned = any(part.kind == "NEW" for head in group for part in (*head.before, *head.after))
        edges = [head.stages for head in (group[0], group[-1]) if head.stages and not turned]
        stage = edges[-1][-1].means if edges else None
        for d in drafts:
            d.stage = d.stage or stage


def _merged(drafts: Sequence[Draft]) -> list[Draft]:
    """Said twice is one symptom: a draft without a place joins one of its direction that has one."""
    kept: list[Draft] = []
    for number, d in enumerate(drafts):
        twins = [o for k, o in enumerate(drafts) if k != number and _same(o, d)]
        if not d.phases and any(o.phases for o in twins):
            continue
        twin = next(
            (
                o
                for o in kept
                if _same(o, d) and o.phases == d.phases and (o.stage == d.stage or not d.phases)
            ),
            None,
        )
        if twin is None:
            kept.append(d)
        elif twin.severity is None or (d.severity and d.severity != "slight"):
            twin.severity = d.severity or twin.severity
    return kept


def _same(a: Draft, b: Draft) -> bool:
    return a.kind == b.kind and a.direction == b.direction and (a.state in _LIVE) == (b.state in _LIVE)
