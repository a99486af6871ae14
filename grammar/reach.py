"""What reaches a head: which modifiers before it count, whether it is denied, past, feared, or about another
car."""

from collections.abc import Sequence
from itertools import pairwise

from grammar.clauses import Head
from grammar.lexing import Cut
from grammar.parts import Part

GIVERS = frozenset({
    "like", "love", "let", "help", "helps", "lets", "get", "gets", "got", "getting", "make", "makes",
    "made", "have", "had", "keep", "kept", "want", "wants", "need", "find", "call", "of", "on", "about",
    "to", "for", "in", "take", "felt", "feel", "see", "saw", "seen",
})  # fmt: skip
_PAST = frozenset(
    (
        "fought",
        "battled",
        "chased",
        "was",
        "were",
        "had",
        "been",
        "wasnt",
        "werent",
        "started",
        "fired",
        "took",
        "rolled",
    )
)


def near(head: Head, cut: Cut) -> Sequence[Part]:
    """Modifiers before the head that reach it: a new subject ("..., it is tight") cuts off what stood
    before."""
    if len(head.before) < 2:
        return head.before
    start = 0
    for number, part in enumerate(head.before):
        if part.kind in ("CAR", "CREW") and number and not _is_object(part, cut):
            asked = _asks(head.before[number - 1], part)
            start = number - 1 if asked else number
    return [
        part
        for n, part in enumerate(head.before)
        if n >= start or part.kind in ("FEAR", "OLD", "NEW", "STILL")
    ]


def _asks(denial: Part, subject: Part) -> bool:
    """ "Why can't I get it to turn": the denial stands before its subject."""
    return denial.kind == "NEG" and denial.means == "not" and denial.last + 1 == subject.first


def _is_object(part: Part, cut: Cut) -> bool:
    word = cut.plain[part.first]
    if word in ("its", "im", "ive", "i", "shes", "we", "were", "weve"):
        return False
    before = part.first - 1
    if cut.plain[before] in ("a", "an"):
        return before > 0 and cut.plain[before - 1] in ("get", "make")
    while before > 0 and (before in cut.unknown or cut.plain[before] in _ARTICLES):
        before -= 1
    return before >= 0 and cut.plain[before] in GIVERS


_ARTICLES = frozenset({"the", "this", "that", "my", "our"})


def kinds_before(head: Head, cut: Cut) -> list[str]:
    reaching = near(head, cut) if head.before else ()
    return [part.kind for n, part in enumerate(reaching) if not (n and _again(reaching[n - 1], part))]


def _again(one: Part, two: Part) -> bool:
    """ "Ain't no push", "no, not tight": one denial said twice."""
    told = one.kind == "NEG" and two.kind == "NEG" and one.last + 1 == two.first
    return told and {one.means, two.means} == {"no", "not"}


def negated(head: Head, cut: Cut) -> bool:
    return bool(head.before) and kinds_before(head, cut).count("NEG") % 2 == 1


def of_another(head: Head, cut: Cut) -> bool:
    """Whether the sentence speaks of another car ("he was loose")."""
    if not head.before:
        return False
    subjects = [part.kind for part in head.before if part.kind in ("CAR", "CREW", "OTHER")]
    if head.before[-1].kind == "SETTING" and head.kind == "BAL":
        first = head.part.first if head.part else 0
        return "for" not in cut.plain[max(0, first - 2) : first]
    if not subjects or subjects[-1] != "OTHER":
        return False
    last = next(part for part in reversed(head.before) if part.kind == "OTHER")
    if "CAR" in subjects and cut.plain[last.first] not in ("he", "hes"):
        return False
    if last.first and cut.plain[last.first - 1] in _AT_THEM:
        return False
    return not told_of_ours(head, cut)


def told_of_ours(head: Head, cut: Cut) -> bool:
    """ "He's tight off": a spotter tells of his driver, where "he is" opens the text and names a place in the
    corner; a text that speaks of "me" or "us" besides speaks of two cars."""
    opens = "hes" in cut.plain[:3] or not _OPENS.isdisjoint(pairwise(cut.plain[:4]))
    return opens and head.kind in ("BAL", "FAULT") and bool(head.phases) and _OTHERS_TOO.isdisjoint(cut.plain)


_OPENS = frozenset({("he", "is"), ("driver", "says"), ("he", "says"), ("driver", "said"), ("he", "said")})
_AT_THEM = frozenset(
    {"follow", "following", "behind", "around", "pass", "passing", "chase", "chasing", "under", "beside"}
)
""" "When I follow somebody the nose goes away": it is done to them, ours is the car."""

_OTHERS_TOO = frozenset(
    ("me", "my", "i", "im", "ill", "us", "we", "weare", "our", "him", "them", "they", "it", "its", "car")
)


def state_of(head: Head, cut: Cut) -> str:
    """live, gone, eased or feared, from what stands before and after."""
    if not head.before and not head.after:
        return "live"
    kinds = kinds_before(head, cut)
    after = [part.kind for part in head.after]
    if "FEAR" in kinds:
        return "feared"
    if "LESS" in kinds:
        return "live" if "NEED" in (*kinds, *after) else "eased"
    barred = {"NEED", "LACK"} & set(kinds) or any(p.extra("doubt") for p in head.before)
    if barred and any(p.means == "without" for p in head.before):
        return "live"
    if _without_more(head, cut):
        return "live"
    if kinds.count("NEG") % 2:
        wanted = "NEED" in kinds and kinds.index("NEED") < kinds.index("NEG")
        return "live" if "UNTIL" in after or wanted else "gone"
    if any(p.kind == "GONE" and cut.plain[p.first] != "nothing" for p in head.after):
        return "live" if "NEED" in kinds and "NEG" not in kinds else "gone"
    if "STILL" not in kinds and "STILL" not in after and _past(head, cut):
        return "gone"
    return "live"


def _without_more(head: Head, cut: Cut) -> bool:
    """ "Calm the rear without making my push worse": what is not to grow is there."""
    first = head.part.first if head.part else 0
    before = cut.plain[max(0, first - 4) : first]
    return before[-1:] in (("my",), ("the",), ("our",)) and {"without", "making"} <= set(before)


def _past(head: Head, cut: Cut) -> bool:
    """Said to be over: "used to be", "before the change"; not "like before" or "than before"."""
    now = max((p.first for p in head.before if p.kind == "NEW" and p.means == "now"), default=-1)
    said = [p for p in (*head.before, *head.after) if p.first > now]
    over = [p for p in said if p.kind == "OLD" and p.means == "past" and not _earlier_there(p, head, cut)]
    return any(_COMPARED.isdisjoint(cut.plain[max(0, p.first - 3) : p.first]) for p in over)


def _earlier_there(part: Part, head: Head, cut: Cut) -> bool:
    """ "A pinch tight before that at the apex": earlier in the corner, not in the past."""
    told = cut.plain[part.first : part.last + 1] == ("before", "that")
    return told and any(p.first == part.last + 1 for p in head.phases)


_COMPARED = frozenset({"like", "than", "as", "ever"})


def denied_unheard(head: Head, cut: Cut) -> bool:
    """Whether a clause denies something no table knows ("cannot get it to bloom in the middle")."""
    denials = [part for part in head.before if part.kind == "NEG" and part.means == "not"]
    if not denials or not (head.said("CAR") or head.phases):
        return False
    behind = [n for n in range(denials[-1].last + 1, denials[-1].last + 6) if n in cut.unknown]
    return bool(behind) and cut.plain[behind[0]] not in _OF_MIND


def driven_around(head: Head) -> bool:
    """Whether a clause only tells what the car makes the driver do ("have to feather it", "cannot get in the
    gas")."""
    if not head.before:
        return False
    if any(part.extra("doubt") for part in head.before):
        return not head.said("NEG")
    unable = [part.last + 1 for part in head.before if part.kind == "NEG" and part.means == "not"]
    return bool(unable) and any(
        part.first in unable and part.extra("trigger") == "throttle" for part in head.phases
    )


_OF_MIND = frozenset({
    "believe", "imagine", "explain", "remember", "understand", "argue", "blame", "afford", "decide", "expect",
    "catch", "ask", "recall", "describe", "worry", "care", "mind", "bother", "wonder", "forget",
})  # fmt: skip


def was(head: Head, cut: Cut) -> bool:
    """Whether the head is told in the past: a past verb just before it, or an OLD word with it."""
    if any(part.kind == "OLD" for part in (*head.before, *head.after)):
        return True
    start = head.part.first if head.part else 0
    words = cut.plain[max(0, start - 6) : start]
    return any(word in _PAST for word in words)
