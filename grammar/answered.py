"""Questions the speaker answers himself: "did it push? no. Was it loose? Yes, off"."""

from collections.abc import Sequence
from itertools import pairwise

from grammar.clauses import Head
from grammar.drafts import Draft
from grammar.lexing import Cut
from grammar.parts import Part

_YES = frozenset({"yes", "yeah", "yep", "yup", "absolutely", "definitely", "sure", "oh"})


def answered(heads: Sequence[Head], cut: Cut) -> None:
    """Turns a question and the answer behind it into what they say together."""
    if "?" not in cut.plain:
        return
    for asked, reply in pairwise(heads):
        if asked.part is None or asked.kind not in ("BAL", "FAULT") or reply.sentence != asked.sentence + 1:
            continue
        mark = _mark(asked, cut)
        if mark is None or reply.part is not None:
            continue
        denial = [p for p in reply.before if p.kind == "NEG"]
        if denial and not reply.phases and reply.before[0] is denial[0]:
            _settle(asked, [denial[0]])
            reply.before = []
        elif reply.before == [] and (cut.plain[mark + 1 : mark + 2] and _agrees(reply, cut.plain[mark + 1])):
            _settle(asked, [])
            asked.phases, reply.phases = reply.phases or asked.phases, []


def _settle(asked: Head, denial: list[Part]) -> None:
    asked.before = [p for p in asked.before if not (p.kind == "FEAR" and p.means == "liking")] + denial


def _agrees(reply: Head, word: str) -> bool:
    return word in _YES or (bool(reply.severities) and word in ("a", "some", "little"))


def _mark(asked: Head, cut: Cut) -> int | None:
    """Where the question mark stands behind what was asked."""
    assert asked.part is not None
    last = max([asked.part.last, *[p.last for p in asked.phases]])
    return next((n for n in range(last + 1, min(last + 4, len(cut.plain))) if cut.plain[n] == "?"), None)


def liked(drafts: Sequence[Draft], cut: Cut) -> None:
    """ "We are loose in, which I like": what is as it should be wants no cure."""
    for one in drafts if "like" in cut.plain else ():
        last = max([one.last, *[p.last for p in one.head.phases]])
        behind = cut.plain[last + 1 : last + 8]
        if one.state == "live" and any(behind[n : n + 3] in _LIKED for n in range(len(behind))):
            one.state = "gone"


_LIKED = frozenset({
    ("which", "i", "like"), ("how", "i", "like"), ("like", "it", "that"),
})  # fmt: skip
