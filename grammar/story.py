"""What follows from the order of things said: the heads of a text, told one after the other."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from grammar.answered import answered, liked
from grammar.clauses import Head
from grammar.drafts import LIVE, Draft, Story, Verdict
from grammar.headless import headless
from grammar.intent import PHASES
from grammar.lending import (
    borrow,
    carries,
    elsewhere,
    goes_on_about_another,
    lend,
    still_so,
)
from grammar.lexing import Cut
from grammar.parts import Part
from grammar.placing import phases_of, severity_of
from grammar.pointing import point
from grammar.rivals import without_rivals
from grammar.sense import draft
from grammar.sessions import back_then, came_from, less_of_it, than_it_was
from grammar.settling import settle, supposed
from grammar.verdicts import judge, turn_page, verdict_before
from grammar.yielding import corrected, ended_well, from_to, started_out


def tell(heads: Sequence[Head], cut: Cut) -> Story:
    """The story of a text, from its heads in order."""
    story = Story()
    lend(heads, cut)
    answered(heads, cut)
    for number, head in enumerate(heads):
        if goes_on_about_another(head, heads[number - 1] if number else None, cut):
            continue
        if head.part is None:
            headless(head, heads[:number], story, cut)
        elif number and _liked(heads[number - 1], head, cut):
            continue
        elif _comes_in(head, heads, cut):
            _early_over(head, story)
        elif (found := draft(head, cut)) is not None:
            if number:
                carries(found, head, heads[number - 1], cut)
                verdict_before(found, head, heads[number - 1])
                borrow(found, head, heads[:number], cut)
                point(found, heads[:number], cut)
                than_it_was(found, cut)
                back_then(found, heads[:number], cut)
                elsewhere(found, heads[:number], cut)
                still_so(found, head, story.drafts)
                less_of_it(found, story.drafts, cut)
            story.drafts.append(found)
        elif head.kind == "QUALITY" and head.part.extra("verdict") and not head.said("NEED", "NEG", "LACK"):
            story.verdicts.append(Verdict(str(head.part.extra("verdict")), phases_of(head.phases), head))
        elif story.drafts and _same_there(head, story):
            if story.drafts[-1].phases:
                story.drafts.append(replace(story.drafts[-1]))
            story.drafts[-1].phases, story.drafts[-1].head = phases_of(head.phases), head
        elif head.kind == "QUALITY":
            _handed_back(head, story)
        elif head.kind in ("GOOD", "VERDICT"):
            judge(head, heads, number, story, cut)
        elif head.kind == "MOVE":
            story.doubtful.append(head)
            _handed_back(head, story)
        turn_page(head, story, cut)
    corrected(story.drafts, heads, cut)
    if len(story.drafts) > 1:
        _taken_back(story.drafts, cut)
        from_to(story.drafts, cut)
        started_out(story.drafts, cut)
    supposed(story.drafts, heads, cut)
    ended_well(story.drafts, heads, cut)
    came_from(story.drafts, cut)
    liked(story.drafts, cut)
    _spread(heads, story.drafts)
    if story.good or story.verdicts:
        story.doubtful += story.denials
    story.drafts = [d for n, d in enumerate(story.drafts) if not _follows(d, story.drafts[:n], cut)]
    story.drafts = _without_hints(without_rivals(story.drafts, heads, cut))
    settle(story.drafts, heads)
    if len(story.drafts) > 1:
        story.drafts = _merged(story.drafts)
    return story


def _comes_in(head: Head, heads: Sequence[Head], cut: Cut) -> bool:
    """ "It comes around and it is perfect": it comes to the driver, the rear does not pass him."""
    part = head.part
    if part is None or part.kind != "BAL" or head.phases:
        return False
    if cut.plain[part.first : part.last + 1] not in _AROUND or head.said("NEG"):
        return False
    after = heads[head.number + 1 : head.number + 2]
    praised = bool(after) and after[0].kind in ("GOOD", "VERDICT") and not after[0].said("NEG")
    praised = praised and after[0].sentence == head.sentence and not after[0].phases
    return praised and after[0].joint in ("and", "run", "comma", "so")


def _liked(before: Head, head: Head, cut: Cut) -> bool:
    """ "I like it free in, just a little too free off": as the driver wants it."""
    if before.part is None or before.kind != "GOOD" or head.kind != "BAL" or head.part is None:
        return False
    touching = before.part.last + 1 == head.part.first
    return touching and cut.plain[before.part.first : before.part.last + 1] in _LIKED


_LIKED = frozenset({("i", "like", "it"), ("like", "it"), ("i", "love", "it"), ("love", "it")})


def _early_over(head: Head, story: Story) -> None:
    """What was so on the first laps of a run is over once the car has come to the driver."""
    for found in story.drafts:
        if found.state == "live" and found.stage == "start" and found.head.sentence == head.sentence:
            found.state = "gone"


_AROUND = frozenset((word, "around") for word in ("come", "comes", "came", "coming"))


def _same_there(head: Head, story: Story) -> bool:
    """ "Loose in and the same off": the same trouble in a second place."""
    last = story.drafts[-1]
    same = head.part is not None and head.kind == "VERDICT" and head.part.means == "no-change"
    same = (
        same and head.joint == "and" and not last.asked and bool(head.phases) and not head.said("NEG", "CREW")
    )
    return same and last.state in LIVE and last.head.sentence == head.sentence


def _handed_back(head: Head, story: Story) -> None:
    """ "Sawing at the wheel to keep it under me off": what it is for says where it is."""
    last = story.drafts[-1] if story.drafts else None
    if last is not None and head.joint == "run" and not last.phases and last.head.sentence == head.sentence:
        last.phases = phases_of(head.phases)


def _stages(head: Head) -> list[Part]:
    """Stages said outright; "every lap" is one only where something grows, which its own head tells."""
    return [part for part in head.stages if not part.extra("trend")]


def _spread(heads: Sequence[Head], drafts: Sequence[Draft]) -> None:
    """A run stage or severity at the very start or end of a sentence covers its clauses that have none."""
    told: dict[int, list[Draft]] = {}
    for d in drafts:
        told.setdefault(d.head.sentence, []).append(d)
    groups: dict[int, list[Head]] = {sentence: [] for sentence in told}
    for head in heads:
        if head.sentence in told:
            groups[head.sentence].append(head)
    for sentence, group in groups.items():
        turned = any(part.kind == "NEW" for head in group for part in (*head.before, *head.after))
        edges = [said for head in (group[0], group[-1]) if not turned and (said := _stages(head))]
        stage = edges[-1][-1].means if edges else None
        bare = [h for h in (group[0], group[-1]) if h.part is None and not h.phases and not turned]
        strength = next((strong for h in reversed(bare) if (strong := severity_of(h))), None)
        for d in told[sentence]:
            d.stage = d.stage or stage
            d.severity = d.severity or strength


_ENDED = frozenset({"ended", "finished", "wound"})


def _taken_back(drafts: Sequence[Draft], cut: Cut) -> None:
    """ "I complained of a push all day, well it does not push anymore": the later word holds."""
    for number, late in enumerate(drafts):
        if late.state != "gone":
            continue
        told = _no_more(late) or bool(late.head.part and late.head.part.extra("form") == "cured")
        told = told or not _ENDED.isdisjoint(cut.plain[max(0, late.first - 5) : late.first])
        for d in drafts[:number] if late.head.part else ():
            same = (d.kind, d.direction, d.state) == (late.kind, late.direction, "live")
            early = d.stage == "start" and not late.phases and _stated(late)
            there = d.phases == late.phases and bool(late.phases)
            if same and (early or (not d.phases or not late.phases if told else there)):
                d.state = "gone"


def _no_more(late: Draft) -> bool:
    """Said to be so no longer: "does not push anymore", "not loose no more"."""
    after = any(p.kind == "GONE" or (p.means, p.last - p.first) == ("no", 1) for p in late.head.after)
    said = {part.means for part in late.head.before if part.kind == "NEG"}
    return (
        after
        or said >= {"no", "not"}
        or any(part.means == "no longer" for part in late.head.before if part.kind == "NEG")
    )


def _stated(found: Draft) -> bool:
    return found.head.part is not None and found.head.part.extra("form") == "state"


def _without_hints(drafts: list[Draft]) -> list[Draft]:
    """ "Can't hold the bottom" is tight by itself; where the other way was said it only tells of that."""
    if not any(_hint(d) or _echo(d) for d in drafts):
        return drafts
    said = {d.direction for d in drafts if d.kind == "balance" and d.state in LIVE and not _hint(d)}
    kept = [d for d in drafts if not _hint(d) or not said - {d.direction}]
    if all(_echo(d) for d in kept if d.kind == "balance" and d.state in LIVE):
        return kept
    return [d for d in kept if not _echo(d)]


def _echo(found: Draft) -> bool:
    """What the car does next and no trouble of its own where one was said ("... and I run out of track")."""
    return found.head.part is not None and bool(found.head.part.extra("echo"))


def _follows(found: Draft, drafts: Sequence[Draft], cut: Cut) -> bool:
    """ "Free when I lift and that is why I cannot get it down": what comes of the trouble told before."""
    said = any(d.state in LIVE and d.phases and d.head.sentence == found.head.sentence for d in drafts)
    return (
        said
        and not found.phases
        and not _WHY.isdisjoint(pairwise(cut.plain[max(0, found.first - 6) : found.first]))
    )


_WHY = frozenset({("thats", "why"), ("is", "why"), ("which", "is")})


def _hint(found: Draft) -> bool:
    return found.head.part is not None and bool(found.head.part.extra("hint"))


def _merged(drafts: Sequence[Draft]) -> list[Draft]:
    """Said twice is one symptom: a draft without a place joins one of its direction that has one."""
    placed = {_trouble(d) for d in drafts if d.phases}
    widest = sorted(drafts, key=lambda d: len(d.phases))
    whole = {(_trouble(d), d.stage): d for d in widest if set(d.phases).issuperset(PHASES)}
    kept: dict[object, Draft] = {}
    for d in drafts:
        trouble = _trouble(d)
        if not d.phases and trouble in placed:
            continue
        wider = whole.get((trouble, d.stage))
        if wider is not None and set(wider.phases) > set(d.phases):
            continue
        twin = kept.setdefault((trouble, d.phases, d.stage if d.phases else None), d)
        if twin is not d and (twin.severity is None or (d.severity and d.severity != "slight")):
            twin.severity = d.severity or twin.severity
    return list(kept.values())


def _trouble(found: Draft) -> tuple[str, str | None, bool]:
    """What two drafts have in common that speak of the same."""
    return found.kind, found.direction, found.state in LIVE
