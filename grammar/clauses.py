"""Which word belongs to which: parts to heads with their modifiers.

A head is a part that says something of its own (a balance word, an end giving up, a missing quality, another
symptom,
praise, a verdict). Marks and joining words cut the text into clauses; a modifier belongs to a head of its
clause:
what turns a head round stands before it, a place stands beside it, on the side the speaker has chosen.
"""

from bisect import bisect
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from grammar.parts import Part

HEADS = frozenset({"BAL", "FAULT", "QUALITY", "MOVE", "SYM", "GOOD", "VERDICT"})
_BEFORE = frozenset(
    {
        "NEG",
        "LACK",
        "LESS",
        "NEED",
        "MORE",
        "FEAR",
        "STILL",
        "OLD",
        "NEW",
        "CREW",
        "CAR",
        "OTHER",
        "TOOMUCH",
        "POOR",
    }
)


@dataclass(slots=True)
class Head:
    """A head with what was said around it. `before` are modifiers in order; `joint` is how its clause is
    joined to the one
    before (and, but, or, so, comma, stop, start); `sentence` counts from 0."""

    part: Part | None
    joint: str
    sentence: int
    before: list[Part] = field(default_factory=list)
    phases: list[Part] = field(default_factory=list)
    places: list[Part] = field(default_factory=list)
    triggers: list[Part] = field(default_factory=list)
    stages: list[Part] = field(default_factory=list)
    severities: list[Part] = field(default_factory=list)
    after: list[Part] = field(default_factory=list)
    follows: bool = False
    """Another head stands before it in its sentence."""
    other: bool = False
    """Speaks of another car, or of a thing that is no part of the balance."""
    wish: bool = False
    """A verdict word that wishes ("need to fix") and does not report."""
    number: int = 0
    """Which head of its text it is, from 0."""

    def said(self, *kinds: str) -> Sequence[Part]:
        """Modifiers before the head, of these kinds."""
        return [part for part in self.before if part.kind in kinds] if self.before else ()

    def reach(self) -> tuple[int, int]:
        """First and last word of the head, or of what was said around it."""
        named = [part for part in self.before if part.kind in ("POOR", "TRAP", "NEG")]
        parts = [self.part] if self.part else named or self.phases
        return min(part.first for part in parts), max(part.last for part in parts)

    @property
    def kind(self) -> str:
        return self.part.kind if self.part else ""


@dataclass(slots=True)
class _Clause:
    parts: list[Part]
    joint: str
    sentence: int


def heads(parts: Sequence[Part]) -> list[Head]:
    """All heads of a text in order. A clause without a head gives a Head whose `part` is None, if it holds a
    modifier."""
    found = [head for clause in _clauses(parts) for piece in _peel(clause) for head in _heads(piece)]
    for number, (before, head) in enumerate(pairwise(found), 1):
        head.number = number
        head.follows = before.sentence == head.sentence and before.part is not None
        if head.joint == "or" and before.sentence == head.sentence:
            head.before.extend(p for p in before.before if p.kind == "FEAR" and p.means == "liking")
    return found


def _peel(clause: _Clause) -> list[_Clause]:
    """ "... and off loose getting in": a place in front of a head that has one behind it goes with the
    clause before; "loose off not in": the place denied at the end stands alone."""
    if len(clause.parts) > 2 and _denied_last(clause.parts):
        return [
            *_peel(_Clause(clause.parts[:-2], clause.joint, clause.sentence)),
            _Clause(clause.parts[-2:], "comma", clause.sentence),
        ]
    if clause.joint not in ("and", "or") or clause.parts[0].kind != "PHASE":
        return [clause]
    first = next((n for n, part in enumerate(clause.parts) if part.kind in HEADS), None)
    if first is None:
        return [clause]
    behind = clause.parts[first + 1 : first + 2]
    turned = len(clause.parts) > 1 and clause.parts[1].kind == "NEW"
    plain = all(part.kind in ("PHASE", "SEV") for part in clause.parts[:first])
    if turned:
        behind = [part for part in clause.parts[first + 1 :] if part.kind == "PHASE"]
    if not behind or behind[0].kind != "PHASE" or not (plain or turned):
        return [clause]
    return [
        _Clause(clause.parts[:1], clause.joint, clause.sentence),
        _Clause(clause.parts[1:], "run", clause.sentence),
    ]


def _denied_last(parts: Sequence[Part]) -> bool:
    denial, place = parts[-2:]
    told = denial.kind == "NEG" and denial.means == "not" and place.kind == "PHASE"
    return told and parts[-3].kind in ("PHASE", "BAL", "FAULT") and any(p.kind in HEADS for p in parts[:-2])


def _clauses(parts: Sequence[Part]) -> list[_Clause]:
    clauses = [_Clause([], "start", 0)]
    for part in parts:
        if part.kind in ("SEP", "MARK"):
            sentence = clauses[-1].sentence + (part.means == "stop")
            if clauses[-1].parts:
                clauses.append(_Clause([], part.means, sentence))
            else:
                clauses[-1].sentence = sentence
                if clauses[-1].joint in ("comma", "and", "start") and part.kind == "SEP":
                    clauses[-1].joint = part.means
        else:
            clauses[-1].parts.append(part)
    return [clause for clause in clauses if clause.parts]


def _heads(clause: _Clause) -> list[Head]:
    places = [n for n, part in enumerate(clause.parts) if part.kind in HEADS]
    if not places:
        head = Head(None, clause.joint, clause.sentence)
        for part in clause.parts:
            _give(head, part, before=True)
        return [head]
    found = [
        Head(clause.parts[n], clause.joint if n == places[0] else "run", clause.sentence) for n in places
    ]
    leading = _leads(clause.parts, places)
    for number, part in enumerate(clause.parts):
        if part.kind not in HEADS:
            _assign(number, part, clause.parts, places, found, leading)
            if part.kind == "FEAR" and part.means == "liking":
                for place, head in zip(places, found, strict=True):
                    if place > number and part not in head.before:
                        head.before.append(part)
    return found


def _leads(parts: Sequence[Part], places: Sequence[int]) -> bool:
    """Whether places stand before their heads ("getting in it is loose"): a phase comes first, and none
    follows the last."""
    phases = [n for n, part in enumerate(parts) if part.kind == "PHASE"]
    return bool(phases) and phases[0] < places[0] and (phases[-1] < places[-1] or len(places) == 1)


def _assign(
    number: int,
    part: Part,
    parts: Sequence[Part],
    places: Sequence[int],
    found: Sequence[Head],
    leading: bool,
) -> None:
    following = bisect(places, number)
    if following in (0, len(places)):
        _give(found[0] if following == 0 else found[-1], part, before=following == 0)
        return
    previous = following - 1
    if (
        part.kind in _BEFORE
        or (part.kind == "PHASE" and _opens(number, parts, places, following, found[previous]))
        or (part.kind == "PHASE" and _opened(number, parts, places, following))
        or (part.kind == "PHASE" and _names(part, parts[places[following]], found[previous]))
        or (part.kind == "PHASE" and _tells(number, parts, places, following, found[previous]))
        or (part.kind == "PHASE" and _wished_there(number, parts, places, following))
    ):
        _give(found[following], part, before=True)
    elif part.kind in ("GONE", "ENOUGH"):
        _give(found[previous], part, before=False)
    elif part.kind == "STAGE" and any(p.kind == "NEW" for p in parts[places[previous] : number]):
        _give(found[following], part, before=True)
    elif part.kind == "SEV":
        touching = all(p.kind in _BEFORE | {"SEV"} for p in parts[number + 1 : places[following]])
        _give(found[following if touching else previous], part, before=touching)
    else:
        _give(found[following if leading else previous], part, before=leading)


def _opens(number: int, parts: Sequence[Part], places: Sequence[int], following: int, previous: Head) -> bool:
    """ "Tight in the middle then on the gas it goes loose": a place behind "then" or before a new subject
    opens the next
    head, if the one before has a place and the next has none of its own."""
    start, head = places[following - 1], places[following]
    if not previous.phases and not (previous.part and previous.part.extra("phase")):
        then = any(p.kind == "NEW" and p.means == "then" for p in parts[start:number])
        if not (then and (any(p.kind == "CAR" for p in parts[number:head]) or _own_end(parts[head]))):
            return False
    end = places[following + 1] if following + 1 < len(places) else len(parts)
    turned = any(p.kind == "NEW" for p in parts[start:number]) or any(
        p.kind == "CAR" for p in parts[number:head]
    )
    return turned and not any(p.kind == "PHASE" for p in parts[head:end])


def _tells(number: int, parts: Sequence[Part], places: Sequence[int], following: int, previous: Head) -> bool:
    """ "No complaints on entry, centre; exit is a touch snug": a place with one word ("is") before the head
    behind it, where what was praised has its own."""
    head = places[following]
    strengths = parts[number + 1 : head]
    gap = parts[head].first - parts[number].last - 1 - sum(p.last - p.first + 1 for p in strengths)
    if gap != 1 or any(p.kind != "SEV" for p in strengths) or not previous.phases:
        return False
    behind = parts[head + 1 : head + 2]
    return previous.kind in ("GOOD", "VERDICT") and not (behind and behind[0].kind == "PHASE")


def _own_end(head: Part) -> bool:
    """Whether a head names its own end of the car first ("the nose leaves")."""
    return head.pieces[0].kind == "END"


def _opened(number: int, parts: Sequence[Part], places: Sequence[int], following: int) -> bool:
    """ "Okay, entry is loose" said without a mark: the first word only opens the talk."""
    first = following == 1 and places[0] == 0 and bool(parts[0].extra("opens"))
    return first and not any(p.kind == "PHASE" for p in parts[places[1] + 1 : places[1] + 2])


def _wished_there(number: int, parts: Sequence[Part], places: Sequence[int], following: int) -> bool:
    """ "A good car, just need help in the middle with the turn": a place behind a wish goes with the wish."""
    wished = any(part.kind == "NEED" for part in parts[places[following - 1] : number])
    behind = parts[places[following] + 1 : places[following] + 2]
    return (
        wished and parts[places[following]].kind == "QUALITY" and not any(p.kind == "PHASE" for p in behind)
    )


def _names(part: Part, head: Part, previous: Head) -> bool:
    """ "Fix the middle push": a place right in front of a noun belongs to it, unless the head before still
    needs one."""
    touching = part.last + 1 == head.first and head.kind == "BAL" and head.extra("form") == "noun"
    return touching and (bool(previous.phases) or previous.kind in ("VERDICT", "GOOD"))


_SHELVES = {
    "PHASE": "phases",
    "PLACE": "places",
    "TRIGGER": "triggers",
    "STAGE": "stages",
    "SEV": "severities",
}


def _give(head: Head, part: Part, *, before: bool) -> None:
    shelf = _SHELVES.get(part.kind)
    if shelf is not None:
        getattr(head, shelf).append(part)
    elif before:
        head.before.append(part)
    else:
        head.after.append(part)
