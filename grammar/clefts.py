"""Sentences turned inside out, said straight: "it's not the entry that's loose, it's the exit"."""

from collections.abc import Sequence

from grammar.parts import Part

_TROUBLES = frozenset({"BAL", "FAULT"})
_BETWEEN = frozenset({"CAR", "MARK", "NEW", "STILL"})
_RELATIVE = frozenset({"that", "thats", "where", "when", "what", "whats", "which"})


def straight(parts: Sequence[Part], plain: Sequence[str]) -> Sequence[Part]:
    """The parts with each denied place and the one put against it in the order of the plain sentence: the
    trouble, where it is, and where it is not."""
    parts = _all_but(parts)
    for number, part in enumerate(parts[:-3]):
        if part.kind == "NEG" and parts[number + 1].kind == "PHASE":
            turned = _turned(parts, number, plain)
            if turned is not None:
                return straight(turned, plain)
    return parts


def _all_but(parts: Sequence[Part]) -> Sequence[Part]:
    """ "Tight everywhere but off": the place that is left out."""
    if all(part.means != "all" for part in parts):
        return parts
    return [
        Part("UNTIL", "but", part.pieces)
        if part.means == "but"
        and 0 < n < len(parts) - 1
        and (parts[n - 1].means, parts[n + 1].kind) == ("all", "PHASE")
        and parts[n - 1].last + 1 == part.first
        else part
        for n, part in enumerate(parts)
    ]


def _turned(parts: Sequence[Part], denial: int, plain: Sequence[str]) -> list[Part] | None:
    place = parts[denial + 1]
    trouble = denial + 2
    while trouble < len(parts) and parts[trouble].kind in ("CAR", "SEV"):
        trouble += 1
    if trouble >= len(parts) or parts[trouble].kind not in _TROUBLES:
        return None
    if _RELATIVE.isdisjoint(plain[place.last + 1 : parts[trouble].first]):
        return None
    behind = there = trouble + 1
    while there < len(parts) and (parts[there].kind in _BETWEEN or parts[there].means == "but"):
        there += 1
    after = parts[there + 1] if there + 1 < len(parts) else None
    if there >= len(parts) or parts[there].kind != "PHASE" or there == behind:
        return None
    if after is not None and after.kind not in ("MARK", "SEP"):
        return None
    told = [*parts[:denial], *parts[denial + 2 : trouble + 1], parts[there], parts[denial], place]
    return [*told, *parts[there + 1 :]]
