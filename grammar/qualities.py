"""Grip and turning as they are spoken of: denied, lacking, asked for, or too much of them."""

from grammar.clauses import Head
from grammar.drafts import OPPOSITE, TROUBLE, Draft, made
from grammar.lexing import Cut
from grammar.reach import kinds_before

_CEASES = frozenset({"stop", "stops", "stopped", "quit", "quits"})
""" "The rotation just stops"."""
_BARELY = frozenset({"barely", "scarcely"})
""" "It barely turns": too little of it."""
_BEGS = frozenset({"like", "want", "more", "some", "a", "help", "could", "should", "needs", "need"})
_BIDDEN = frozenset({"settle", "calm", "plant", "hook"})
""" "Settle the back down": bidden, at the start of its clause."""


def _at_a_price(first: int, cut: Cut) -> bool:
    """ "Have to lift twice to get the nose to bite": what has to be done for it shows that it is missing."""
    before = cut.plain[max(0, first - 12) : first]
    if before[-2:] in (("so", "the"), ("so", "my")) and "would" in cut.plain[first : first + 4]:
        return bool(_MUST & set(before))
    return before[-1:] == ("to",) and cut.plain[first] in ("get", "make") and bool(_MUST & set(before))


_MUST = frozenset({"have", "had", "having", "gotta", "takes", "took"})


def quality(head: Head, cut: Cut) -> Draft | None:
    """Grip or turning: a symptom when it is denied, lacking or asked for; too much of it is the other way
    round."""
    part = head.part
    assert part is not None
    kinds = kinds_before(head, cut)
    direction = TROUBLE.get(part.end or "")
    kind = "balance" if direction else ("wheelspin" if part.end == "drive" else "no-grip")
    missing = kinds.count("NEG") + kinds.count("LACK") + kinds.count("POOR")
    missing += any(p.kind == "POOR" for p in head.after)
    missing += any(p.kind == "NEG" and cut.plain[p.last] in _CEASES for p in head.after)
    missing += any(cut.plain[p.last] in _BARELY for p in head.severities if p.last < part.first)
    too_much = direction == "tight" and not missing and any(p.kind == "TOOMUCH" for p in head.after)
    if direction and ("TOOMUCH" in kinds or too_much):
        return made(head, "balance", OPPOSITE[direction], "gone" if "NEG" in kinds else "live")
    if "FEAR" in kinds:
        return made(head, kind, direction, "feared")
    if "LESS" in kinds and direction and "NEED" in (*kinds, *[p.kind for p in head.after]):
        return made(head, "balance", OPPOSITE[direction], "live", asked=direction)
    if missing % 2 or "LESS" in kinds or (not missing and "GONE" in [p.kind for p in head.after]):
        return made(head, kind, direction, "live")
    if missing:
        return made(head, kind, direction, "gone")
    if direction and _at_a_price(part.first, cut):
        return made(head, kind, direction, "live")
    begged = part.extra("asked") and cut.plain[part.first] in _BEGS
    begged = begged or (cut.plain[part.first] in _BIDDEN and not head.before and bool(direction))
    if "NEED" in kinds or begged or ("MORE" in kinds and "CAR" not in kinds):
        asked = OPPOSITE[direction] if direction else None
        return made(head, kind, direction, "live", asked=asked)
    return None
