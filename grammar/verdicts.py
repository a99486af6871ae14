"""Praise and verdicts: what is good now, what the last change did, and what that makes of the symptoms."""

from collections.abc import Sequence
from dataclasses import replace

from grammar.clauses import Head
from grammar.drafts import LIVE, Draft, Story, Verdict
from grammar.intent import PHASES
from grammar.lexing import Cut
from grammar.placing import phases_of
from grammar.reach import was

_CURED = {"fixed": "gone", "better": "eased", "worse": "worse", "no-change": "live"}


_BARE_VERBS = frozenset(
    [
        "fix",
        "cure",
        "help",
        "improve",
        "get",
        "take",
        "clean",
        "work",
        "solve",
        "eliminate",
        "come",
        "level",
        "balance",
        "dial",
        "tune",
    ]
)


def _wished(head: Head, cut: Cut) -> bool:
    """Whether a verdict word is a wish ("need to fix", "get rid of"), not a report ("fixed", "got rid
    of")."""
    if head.said("NEED") or head.part is None:
        return bool(head.said("NEED"))
    first = head.part.first
    done = bool(first) and cut.plain[first - 1] in (
        "its",
        "has",
        "have",
        "had",
        "shes",
        "ive",
        "weve",
        "been",
        "did",
    )
    return cut.plain[first] in _BARE_VERBS and not done


def verdict_before(found: Draft, head: Head, before: Head) -> None:
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


def judge(head: Head, heads: Sequence[Head], number: int, story: Story, cut: Cut) -> None:
    """Praise and verdicts."""
    part = head.part
    assert part is not None
    but = next((p.first for p in head.after if p.kind == "UNTIL" and p.means == "but"), None)
    left = phases_of([p for p in head.phases if but is not None and p.first > but])
    phases = tuple(phase for phase in phases_of(head.phases) if phase not in left)
    negated = sum(p.kind == "NEG" for p in head.before) % 2 == 1
    if part.kind == "GOOD" and not phases and (_opens(head, cut) or _of_something_else(head, cut)):
        return
    if part.kind == "GOOD" and _turning_well(head, phases, story):
        return
    if part.kind == "GOOD":
        if not negated and not head.said("LESS"):
            story.good_stages |= {part.means for part in head.stages}
        if negated or head.said("LESS"):
            story.doubtful.append(head)
        elif not phases:
            _praise(head, story, cut)
        else:
            story.good = tuple(p for p in PHASES if p in {*story.good, *phases})
        return
    if _turning_well(head, phases, story):
        return
    head.wish = _wished(head, cut)
    if head.wish or (part.means == "worse" and head.said("FEAR")):
        return
    if _coming_in(head, story, cut) or _trend(head, story) or _worse_there(head, phases, story):
        return
    _verdict_behind(head, story)
    story.verdicts.append(Verdict(part.means, phases, head))
    if part.means == "too-far" and "other" in cut.plain[part.first : part.last + 1]:
        for past in story.drafts:
            if past.state == "live" and was(past.head, cut):
                past.state = "gone"
    if part.means == "too-far" and head.said("NEW"):
        for other in story.drafts:
            if other.head.sentence == head.sentence and other.state == "live":
                other.state = "gone"
    if heads[number + 1 : number + 2] and _of_the_next(heads[number + 1]):
        return
    if part.means == "fixed" and not phases and not negated and "NEED" not in [p.kind for p in head.before]:
        for other in _told_of(head, story):
            if other.state == "live":
                other.state = "gone"


def _of_the_next(after: Head) -> bool:
    """ "You did fix my loose exit": the verdict is about what stands right behind it."""
    return after.joint == "run" and after.kind in ("BAL", "FAULT") and not after.said("CAR", "CREW")


def _told_of(head: Head, story: Story) -> list[Draft]:
    """The symptoms a verdict without a place covers: those of its own clause ("tight off, loose in got
    better"), else all of its sentence."""
    same = [d for d in story.drafts if d.head.sentence == head.sentence]
    if head.joint != "run":
        return same
    for number in range(len(same) - 1, -1, -1):
        if same[number].head.joint not in ("and", "run"):
            return same[number:]
    return same


_OPENERS = frozenset({("okay",), ("ok",), ("alright",), ("all", "right")})


_OF_THE_CAR = frozenset(
    {"now", "overall", "today", "tonight", "for", "with", "except", "but", "everywhere", "all", "again"}
)
"""Before one of these it praises all the same: "okay now", "ok except off"."""


def _opens(head: Head, cut: Cut) -> bool:
    """ "Okay tight in", "alright, put a round in it": a word that only takes the turn to speak, as it does
    alone."""
    part = head.part
    if part is None or head.stages or cut.plain[part.first : part.last + 1] not in _OPENERS:
        return False
    if part.first and cut.plain[part.first - 1].isalnum():
        return False
    ahead = cut.plain[part.last + 1 : part.last + 2]
    return not ahead or ahead[0] not in _OF_THE_CAR


def _of_something_else(head: Head, cut: Cut) -> bool:
    """ "The weather is nice", "good morning", "had a good lunch": praise of a thing no table knows, so not of
    the car."""
    part = head.part
    if part is None or head.said("CAR"):
        return False
    ahead = part.last + 1
    opens = (
        not part.first or cut.plain[part.first - 1] in _ARTICLES or not cut.plain[part.first - 1].isalpha()
    )
    if opens and ahead in cut.unknown and cut.plain[ahead].isalpha():
        return True
    place = part.first - 1
    strength = {n for p in head.severities for n in range(p.first, p.last + 1)}
    while place >= 0 and (place in strength or cut.plain[place] in _LINKS):
        place -= 1
    if place < 0 or place == part.first - 1:
        return False
    return (place in cut.unknown and cut.plain[place].isalpha()) or cut.plain[place] in _NO_CARS


_ARTICLES = frozenset({"a", "an", "some", "the", "such", "had", "have"})
_LINKS = frozenset(
    {"is", "are", "was", "were", "looks", "looked", "feels", "felt", "seems", "been", "so", "really"}
)
_NO_CARS = frozenset({"track", "race", "racetrack", "day"})
"""Known words that praise leaves off the car: "the track is fast"."""


def _turning_well(head: Head, phases: tuple[str, ...], story: Story) -> bool:
    """ "Does not turn well in the middle": "well" and its place belong to the quality before it."""
    if head.joint != "run" or not story.drafts or story.drafts[-1].head.kind != "QUALITY":
        return False
    last = story.drafts[-1]
    if last.state != "live" or (head.part.first if head.part else 0) - last.last > 4:
        return False
    last.last = max(last.last, head.part.last if head.part else 0)
    last.phases = last.phases or phases
    return True


def _coming_in(head: Head, story: Story, cut: Cut) -> bool:
    """ "Starts tight and gets better": eased by itself, not by the last change."""
    if head.part is None or head.part.means != "better" or head.phases or not story.drafts:
        return False
    last = story.drafts[-1]
    begun = {"start", "starts", "started"} & set(cut.plain[max(0, last.first - 3) : last.first])
    if last.state != "live" or last.head.sentence != head.sentence or not begun:
        return False
    last.state = "eased"
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
    if last.kind != "balance" or last.state not in LIVE or last.head.sentence != head.sentence:
        return False
    if not last.phases:
        last.phases = phases
    else:
        story.drafts.append(replace(last, phases=phases, state="worse"))
    return True


def _praise(head: Head, story: Story, cut: Cut) -> None:
    """Praise without a place: "now it is good" says that what came before is cured; else the whole corner is
    good."""
    now = any(part.kind == "NEW" for part in (*head.before, *head.after))
    if (head.joint == "run" or now) and story.drafts and story.drafts[-1].head.part and head.part is not None:
        last = story.drafts[-1]
        if last.head.part is not None and last.head.part.extra("form") == "change" and not last.asked:
            story.drafts.pop()
            now = True
    if now:
        story.verdicts.append(Verdict("fixed", (), head))
        for other in story.drafts:
            early = other.stage == "start" and other.head.sentence == head.sentence
            if other.state == "live" and (was(other.head, cut) or early):
                other.state = "gone"
    if any(part.means == "late" for part in head.stages):
        for other in story.drafts:
            if other.state == "live" and was(other.head, cut):
                other.state = "gone"
    if not any(d.state in LIVE for d in story.drafts):
        story.good = PHASES


def place_cured(story: Story) -> None:
    """ "Better on entry, it don't step out no more": what is over or eased, said without a place, is over
    where the verdict right before it stands."""
    for number, draft in enumerate(story.drafts):
        if draft.phases or draft.state not in ("gone", "eased"):
            continue
        start = story.drafts[number - 1].last if number else -1
        for verdict in story.verdicts:
            part = verdict.head.part
            near = part is not None and start < part.first < draft.first
            if near and verdict.phases and verdict.head.sentence == draft.head.sentence:
                draft.phases = verdict.phases


def head_way(head: Head) -> str | None:
    """Which way the balance word of a head points, if it is one."""
    return head.part.means if head.part is not None and head.kind == "BAL" else None


def _besides(head: Head, cut: Cut) -> bool:
    """ "It was loose in, but now it pushes off too": the one has come to the other."""
    if head.part is None:
        return False
    last = max([head.part.last, *[part.last for part in head.phases]])
    return (
        bool({"too", "also"} & set(cut.plain[last + 1 : last + 3]))
        and cut.plain[last + 2 : last + 3] in _ENDS
    )


_ENDS = ((), (".",), ("!",), ("?",), (",",))


def turn_page(head: Head, story: Story, cut: Cut) -> None:
    """ "First it was X, now Y": what was told as past is over once "now" has been said."""
    if not story.drafts or not (head.before or head.after):
        return
    now = [part for part in (*head.before, *head.after) if part.kind == "NEW"]
    if not now:
        return
    strong = any(part.means == "now" for part in now)
    for other in story.drafts:
        if other.head is head or other.state != "live":
            continue
        until = any(part.kind == "UNTIL" for part in other.head.after) and not other.head.said("NEG")
        until = until and not other.head.phases and all(p.means == "whole" for p in other.head.stages)
        early = strong and other.stage == "start" and other.direction != head_way(head)
        if (strong and (was(other.head, cut) or early) and not _besides(head, cut)) or until:
            other.state = "gone"
