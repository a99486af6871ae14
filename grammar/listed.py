"""Troubles told first and their places after them: "loose, tight, loose, entry, middle, exit"."""

from collections.abc import Sequence
from itertools import pairwise

from grammar.parts import Part


def listed(parts: Sequence[Part]) -> Sequence[Part]:
    """The parts, with each place of a list behind its own trouble."""
    start = 0
    while start + 3 < len(parts):
        troubles = _run(parts, start, "BAL")
        places = _run(parts, start + len(troubles), "PHASE") if len(troubles) > 1 else []
        end = start + len(troubles) + len(places)
        if len(troubles) == len(places) and places and _plain(troubles) and _closed(parts, end):
            pairs = [part for pair in zip(troubles, places, strict=True) for part in pair]
            return [*parts[:start], *pairs, *listed(parts[end:])]
        start += max(1, len(troubles))
    return parts


def _run(parts: Sequence[Part], start: int, kind: str) -> list[Part]:
    end = start
    while end < len(parts) and parts[end].kind == kind:
        end += 1
    return list(parts[start:end])


def _plain(troubles: Sequence[Part]) -> bool:
    words_on_end = all(one.last + 1 == two.first for one, two in pairwise(troubles))
    return words_on_end and all(part.extra("form") == "state" for part in troubles)


def _closed(parts: Sequence[Part], end: int) -> bool:
    return end == len(parts) or parts[end].kind in ("MARK", "SEP")
