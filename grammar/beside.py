"""What stands beside a number among the marks of a sentence: the clause, the comparison, how far what was
used reaches."""

from collections.abc import Sequence

from grammar.marks import Mark

__all__ = ["SOFT", "clause", "compared", "comparison", "of_points", "since_and", "stretch", "until"]

SOFT = frozenset({"PREP", "LINK", "UNIT", "COND", "ACROSS"})
"""What may stand between a number and its tyre or point."""


def clause(found: Sequence[Mark]) -> Sequence[Mark]:
    """The marks behind the last comma or word no table has."""
    start = max((n + 1 for n, m in enumerate(found) if m.kind in ("COMMA", "OTHER")), default=0)
    return found[start:]


def of_points(found: Sequence[Mark]) -> Sequence[Mark]:
    """Without a middle that is of the corner: "in the middle the right front is 240"."""
    for n, mark in enumerate(found):
        if mark.kind == "POINT" and n and found[n - 1].kind == "PREP" and mark.means == "middle":
            return found[n + 1 :] if [m.means for m in found[n + 1 : n + 2]] != ["of"] else found
    return found


def since_and(found: Sequence[Mark]) -> Sequence[Mark]:
    """The marks behind the last "and"."""
    return found[max((n + 1 for n, m in enumerate(found) if m.means == "and"), default=0) :]


def until(found: Sequence[Mark], kinds: Sequence[str], stop_at_and: bool = False) -> Sequence[Mark]:
    """The marks before the first of some kinds."""
    for n, mark in enumerate(found):
        if mark.kind in kinds or (stop_at_and and mark.means == "and"):
            return found[:n]
    return found


def comparison(before: Sequence[Mark], after: Sequence[Mark]) -> Mark | None:
    """The word that makes a number a difference: "hotter" behind it, or before it with "by" or "than"."""
    for n, mark in enumerate(after[:5]):
        if mark.kind in ("MORE", "LESS"):
            item = next((m.kind for m in after[n + 1 :] if m.kind not in SOFT and m.kind != "THAN"), None)
            if mark.means != "past" or item in ("TYRE", "POINT"):
                return mark
    back = [m for m in clause(before) if m.kind in ("MORE", "LESS", "THAN")]
    return back[0] if len(back) > 1 and back[0].kind != "THAN" else None


def compared(more: Mark, all_marks: Sequence[Mark], used: list[Mark]) -> tuple[str | None, str | None]:
    """What a figure is more or less than, and the tyre between ("20 more in the right front than the right
    rear")."""
    behind = [m for m in all_marks if m.first > more.last]
    than = next((m for m in until(behind, ("COMMA", "OTHER")) if m.kind == "THAN"), None)
    used.append(more)
    if than is None and more.means != "past":
        return None, None
    start = than or more
    between = next((m for m in behind if m.kind == "TYRE" and m.last < start.first), None) if than else None
    ahead = [m for m in behind if m.first > start.last]
    item = next((m for m in ahead if m.kind in ("TYRE", "POINT") or m.kind not in SOFT), None)
    if item is None or item.kind not in ("TYRE", "POINT"):
        return None, None
    for mark in (item, *([between] if between else ())):
        mark.taken = True
        used.append(mark)
    used += [than] if than else []
    return item.means, between.means if between else None


def stretch(used: Sequence[Mark], before: Sequence[Mark]) -> tuple[int, int]:
    """First and last word of what was used, without what stands before a comma or a word no table has."""
    edge = max((m.last + 1 for m in before if m.kind in ("COMMA", "OTHER")), default=0)
    kept = [m for m in used if m.first >= edge]
    first = min(m.first for m in kept)
    for mark in reversed(before):
        if mark.last + 1 == first and (
            mark.means in ("of", "at") or (mark.kind == "LINK" and mark.first != mark.last)
        ):
            first = mark.first
    return first, max(m.last for m in kept)
