"""What becomes of an end of the car that stands alone among the parts: missing, denied, or in trouble."""

from collections.abc import Sequence
from itertools import pairwise

from grammar.parts import Part

AT_END = {("rear", "nervous"), ("rear", "no-grip"), ("front", "no-grip"), ("front", "slow-response")}
"""Complaints that, said of one end of the car, are balance: a nervous rear is loose, a numb front is
tight."""
_OTHER = {"front": "rear", "rear": "front"}


def bare_ends(parts: list[Part], plain: Sequence[str]) -> list[Part]:
    """ "No front end", "lost the rear": an end that is missing is its grip missing."""
    for n, part in enumerate(parts):
        if part.kind == "MOVE" and (end := _end_before(parts, n)):
            parts[n] = Part("FAULT", part.means, part.pieces, end)
        elif part.kind == "END" and part.end in ("front", "rear"):
            after = parts[n + 1] if n + 1 < len(parts) else None
            if n and parts[n - 1].kind == "TOOMUCH" and _WHOLE.isdisjoint(plain[part.first : part.last + 1]):
                parts[n] = Part("QUALITY", "grip", part.pieces, part.end)
            elif after is not None and after.kind == "TRAP" and after.extra("doubt"):
                parts[n : n + 2] = [Part("FAULT", "slide", (*part.pieces, *after.pieces), part.end)]
            elif _unable(parts, n, plain):
                denial = Part("NEG", "not", parts[n + 1].pieces)
                parts[n : n + 2] = [denial, Part("QUALITY", "grip", part.pieces, part.end)]
            elif _quits(parts, n, plain) or _is_not(parts, n):
                parts[n : n + 2] = [Part("FAULT", "slide", part.pieces, part.end)]
            elif (
                (after is not None and after.kind == "VERDICT" and after.means == "worse")
                or _blamed(parts, n, plain)
                or _the_other(parts, n)
                or _does_too(parts, n, plain)
                or _help_with(parts, n, plain)
            ):
                parts[n] = Part("FAULT", "slide", part.pieces, part.end)
            elif _does_something(parts, n, plain):
                denied = n and parts[n - 1].kind == "NEG" and plain[parts[n - 1].last] in _DENYING
                parts[n] = Part("QUALITY" if denied else "FAULT", "slide", part.pieces, part.end)
        elif part.kind == "QUALITY" and part.extra("passing") and _passes(parts, n):
            parts[n] = Part("PHASE", str(part.extra("passing")), part.pieces)
        elif (part.kind == "FEAR" and _refuses(parts, n, plain)) or (
            part.kind == "LIMIT" and part.means == "not" and len(part.pieces) == 1 and _place_behind(parts, n)
        ):
            parts[n] = Part("NEG", "not", part.pieces)
    return [
        _completed(part, n, parts, plain) if part.kind in _COMPLETED else part for n, part in enumerate(parts)
    ]


def _passes(parts: Sequence[Part], number: int) -> bool:
    """ "Getting down to the bottom the tail wants to pass me": where the car is, where nothing denies it and
    more is told."""
    start = _clause_start(parts, number)
    denied = any(p.kind in ("NEG", "LACK", "NEED", "LESS", "MORE", "FEAR") for p in parts[start:number])
    more = any(p.kind in ("BAL", "FAULT", "QUALITY", "SYM") for p in parts[number + 1 :])
    return more and not denied


_COMPLETED = frozenset({"QUALITY", "SYM", "END"})


def _refuses(parts: Sequence[Part], number: int, plain: Sequence[str]) -> bool:
    """ "It don't wanna turn": what the car does not want it does not do."""
    before = parts[number - 1] if number else None
    wants = {"dont", "doesnt", "didnt"} & set(plain[parts[number].first : parts[number].last + 1])
    return (
        bool(wants)
        and before is not None
        and before.kind == "CAR"
        and plain[before.first] not in ("i", "im", "ive", "id", "iwill")
    )


def _place_behind(parts: Sequence[Part], number: int) -> bool:
    """ "Tight in the middle, not the entry": no setting is barred, a place is denied."""
    return number + 1 < len(parts) and parts[number + 1].kind == "PHASE"


def _does_something(parts: Sequence[Part], number: int, plain: Sequence[str]) -> bool:
    """ "The nose is a foot higher through the center", "the tail eats my lunch off": a clause that tells of
    nothing else speaks of one end of the car and a place, in words no table has: it gives trouble there."""
    part = parts[number]
    said = plain[part.first : part.last + 1]
    if not _WHOLE.isdisjoint(said) and not (said in _SHORT and plain[part.last + 1 :][:1] in _IS):
        return False
    start, end = _clause_start(parts, number), number
    while end + 1 < len(parts) and not _parts_off(parts[end + 1]):
        end += 1
    around = [p.kind for p in parts[start : end + 1]]
    if not _ELSE.isdisjoint(around) or (number > start and around.count("NEG") > 1):
        return False
    denial = parts[number - 1] if number > start else None
    if "NEG" in around and not (denial and denial.kind == "NEG" and plain[denial.last] in _DENYING):
        return False
    heard = number + 1
    while heard <= end and parts[heard].kind in ("SEV", "STILL", "UP"):
        heard += 1
    ahead = parts[heard].first if heard < len(parts) else len(plain)
    words = ahead - part.last - 1 - sum(p.last - p.first + 1 for p in parts[number + 1 : heard])
    places = parts[start : end + 1] if words > 0 else parts[number + 1 : end + 1]
    if words > 0 and start > 1 and not any(p.kind == "PHASE" for p in places):
        start = _clause_start(parts, start - 1)
        places = [p for p in parts[start:number] if p.kind not in ("SEP", "MARK")]
        places = places if all(p.kind in ("PHASE", "CAR", "SEV") for p in places) else []
    return any(p.kind == "PHASE" and p.last > p.first for p in places)


def _clause_start(parts: Sequence[Part], number: int) -> int:
    while number and not _parts_off(parts[number - 1]):
        number -= 1
    return number


def _parts_off(part: Part) -> bool:
    return part.kind in ("MARK", "SEP") or part.means == "then"


_SINGLE = frozenset({"left", "right", "lf", "rf", "lr", "rr"})
_WHOLE = _SINGLE | {"tire", "tires", "tyre", "tyres", "fronts", "rears", "wheels"}
_SHORT = frozenset({("rears",), ("fronts",)})
_IS = frozenset({("up",), ("out",), ("over",), ("all",), ("on",), ("just",), ("got",), ("about",), ("not",)})
""" "The rear's up on top of the track": one end of the car, and "is"."""
_ELSE = frozenset({
    "BAL", "MOVE", "FAULT", "QUALITY", "SYM", "GOOD", "VERDICT", "GONE", "OTHER", "SETTING", "LIMIT", "RUN",
    "ASK", "AMOUNT", "UNIT", "NEED", "TURN", "GRIP", "CREW", "STOP", "FEAR", "LACK", "MORE", "LESS",
    "QUANTITY", "ENOUGH",
})  # fmt: skip


def _unable(parts: Sequence[Part], number: int, plain: Sequence[str]) -> bool:
    """ "The rear tires aren't attached", "the front won't stay with me": whatever an end of the car is denied
    to do, by a word no table knows, it should do. Of one tyre alone it may be its wear or heat."""
    part = parts[number]
    after = parts[number + 1] if number + 1 < len(parts) else None
    if (
        after is None
        or after.kind not in ("NEG", "FEAR", "LACK")
        or _DENYING.isdisjoint(plain[after.first : after.last + 1])
        or after.first - part.last > 2
    ):
        return False
    behind = number + 2
    while behind < len(parts) and parts[behind].kind in ("STILL", "UP", "CAR"):
        behind += 1
    end = parts[behind].first if behind < len(parts) else len(plain)
    said = end - after.last - 1 - sum(p.kind == "CAR" for p in parts[number + 2 : behind])
    closed = behind >= len(parts) or parts[behind].kind in (
        "MARK",
        "SEP",
        "PHASE",
        "STAGE",
        "PLACE",
        "TRIGGER",
    )
    return said > 0 and closed and not _SINGLE & set(plain[part.first : part.last + 1])


_DENYING = frozenset(
    {"wont", "cant", "cannot", "doesnt", "dont", "isnt", "arent", "aint", "wouldnt", "couldnt", "hard"}
)


def _is_not(parts: Sequence[Part], number: int) -> bool:
    """ "The rear follows, the front does not": what one end does well the other does not."""
    after = parts[number + 1 : number + 3]
    if not after or after[0].kind != "NEG" or (len(after) > 1 and after[1].kind not in ("MARK", "SEP")):
        return False
    other = _OTHER[str(parts[number].end)]
    return any(part.kind == "QUALITY" and part.end == other for part in parts[:number])


def _the_other(parts: Sequence[Part], number: int) -> bool:
    """ "It isn't the front that gives up, it's the back": what one end is denied the other does."""
    after = parts[number + 1].kind if number + 1 < len(parts) else "MARK"
    if after not in ("MARK", "SEP", "PHASE", "STAGE") or not number or parts[number - 1].kind != "CAR":
        return False
    other = _OTHER[str(parts[number].end)]
    before = parts[max(0, number - 5) : number]
    return any(
        one.kind == "NEG" and two.end == other and two.kind in ("FAULT", "BAL")
        for one, two in pairwise(before)
    )


def _blamed(parts: Sequence[Part], number: int, plain: Sequence[str]) -> bool:
    """ "Having to drive in too easy because of the back of the car"."""
    first = parts[number].first
    after = parts[number + 1].kind if number + 1 < len(parts) else "MARK"
    named = not _WHOLE.isdisjoint(plain[first : parts[number].last + 1])
    told = {("because", "of"), ("cause", "of")}.isdisjoint(pairwise(plain[max(0, first - 3) : first]))
    return not told and not named and after in ("MARK", "SEP", "PHASE", "STAGE")


def _does_too(parts: Sequence[Part], number: int, plain: Sequence[str]) -> bool:
    """ "The front slides in the middle and off the rear does": what one end does the other does."""
    part = parts[number]
    if part.first and plain[part.first - 1] == "than":
        return False
    other = _OTHER[str(part.end)]
    does = plain[part.last + 1 : part.last + 2] in (("does",), ("did",), ("is",), ("too",))
    ends = part.last + 2 >= len(plain) or (
        number + 1 < len(parts) and parts[number + 1].kind in ("MARK", "SEP")
    )
    return does and ends and any(p.kind == "FAULT" and p.end == other for p in parts[:number])


def _help_with(parts: Sequence[Part], number: int, plain: Sequence[str]) -> bool:
    """ "It's the back I need help with": the end that is wanted better."""
    after = [p for p in parts[number + 1 : number + 4] if p.kind not in ("MARK", "SEV")]
    if len(after) > 1 and after[0].kind in ("CAR", "NEED") and after[1].kind == "NEED":
        return plain[after[1].last] in ("with", "help", "work", "attention")
    return bool(after) and after[0].kind == "NEED" and plain[after[0].last] in ("help", "work", "attention")


def _quits(parts: Sequence[Part], number: int, plain: Sequence[str]) -> bool:
    """ "The front quits in the middle": nothing that it quits doing is named."""
    after = parts[number + 1] if number + 1 < len(parts) else None
    if after is None or after.kind != "NEG" or plain[after.last] not in ("quit", "quits", "stops", "stopped"):
        return False
    alone = after.last + 1 >= len(plain) or plain[after.last + 1] not in ("me", "us", "it")
    behind = parts[number + 2].kind if number + 2 < len(parts) else "MARK"
    return alone and behind in ("MARK", "SEP", "PHASE", "STAGE", "PLACE")


def _completed(part: Part, number: int, parts: Sequence[Part], plain: Sequence[str]) -> Part:
    """Grip takes the end named later in its clause; an end that is missing or asked for is its grip."""
    behind = plain[part.last + 1 : part.last + 4]
    if part.kind == "SYM" and ("rear", part.means) in AT_END and ("back", "there") in pairwise(behind):
        return Part("FAULT", part.means, part.pieces, "rear")
    if (part.kind == "QUALITY" and part.end is None) or (part.kind == "SYM" and len(part.pieces) == 1):
        for after in parts[number + 1 :]:
            if after.kind in ("SEP", "MARK", "BAL", "FAULT", "QUALITY", "CAR", "CREW"):
                break
            if after.kind == "TRAP" and plain[after.first : after.last + 1] == ("up", "front"):
                return Part("FAULT", part.means, part.pieces, "front") if part.kind == "SYM" else part
            if after.kind == "END":
                if part.kind == "QUALITY":
                    return Part("QUALITY", part.means, part.pieces, after.end)
                return (
                    Part("FAULT", part.means, part.pieces, after.end)
                    if (after.end, part.means) in AT_END
                    else part
                )
    if part.kind == "QUALITY" and part.end is None:
        return Part("QUALITY", part.means, part.pieces, _end_before(parts, number))
    nothing = bool(number) and plain[parts[number - 1].last] in ("nothing", "nothin")
    if (
        part.kind == "END"
        and number
        and (nothing or _missing(parts[number - 1], plain[part.first : part.last + 1]))
    ):
        return Part("QUALITY", "grip", part.pieces, part.end)
    return part


def _end_before(parts: Sequence[Part], number: int) -> str | None:
    """The end of the car spoken of earlier in the sentence ("the rear tires chirp and slide")."""
    for place in range(number - 1, -1, -1):
        part = parts[place]
        if part.means == "stop":
            return None
        if place and parts[place - 1].kind == "OLD" and parts[place - 1].last + 2 >= part.first:
            continue
        if part.end in ("front", "rear") and part.means != "turn":
            return part.end
    return None


def _missing(part: Part, end: Sequence[str]) -> bool:
    """Whether the part before an end says that the end is missing or wanted; one tyre alone may be wanted
    for its air."""
    if part.kind in ("NEED", "TOOMUCH"):
        return not _SINGLE & set(end)
    return part.kind in ("LACK", "MORE", "POOR") or (part.kind == "NEG" and part.means == "no")
