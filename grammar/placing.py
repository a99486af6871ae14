"""Where, when and how strongly: the places, stages, severities and turns that belong to a head."""

from collections.abc import Sequence
from functools import lru_cache

from grammar.amounts import WORDS, tyre_in
from grammar.clauses import Head
from grammar.drafts import Draft
from grammar.intent import PHASE_GROUPS, PHASES
from grammar.lexing import Cut
from grammar.parts import Part
from grammar.reach import negated


def phases_of(parts: Sequence[Part]) -> tuple[str, ...]:
    """The corner phases that phase parts name, in corner order; "except" takes away."""
    return _phases(tuple([part.means for part in parts])) if parts else ()


@lru_cache(maxsize=1024)
def _phases(means: tuple[str, ...]) -> tuple[str, ...]:
    named: set[str] = set()
    for said in means:
        for name in said.split("+"):
            named.update(PHASES if name == "all" else PHASE_GROUPS.get(name, (name,)))
    return tuple(phase for phase in (*PHASES, "straight") if phase in named)


def placed(found: Draft, cut: Cut) -> Draft:
    """The draft with where, when and how strongly filled in from its head."""
    head = found.head
    named = [p for p in head.phases if not _compared(p, cut)] if "than" in cut.plain else head.phases
    if "without" in cut.plain and len(named) > 1:
        named = [p for p in named if not _spared(p, cut)]
    phases = phases_of(_telling(named) if len(named) > 1 else named) or own_phases(head)
    if not phases and any(p.extra("doubt") for p in head.before):
        phases = implied(head)
    stretch = _from_to(head.phases, cut) if len(head.phases) > 1 else ()
    phases = stretch or phases
    until = next((part.first for part in head.after if part.kind == "UNTIL"), None) if head.after else None
    if until is None and head.before:
        until = next((part.first for part in head.before if part.means == "but"), None)
    if until is not None and not stretch:
        later = phases_of([part for part in head.phases if part.first > until])
        kept = phases_of([part for part in head.phases if part.first < until])
        if head.kind == "QUALITY":
            phases = kept or _ahead_of(later)
        else:
            phases = _bounded(phases, kept, later, negated(head, cut)) or _up_to(head, later, cut)
    triggers = [str(t) for part in head.phases if (t := part.extra("trigger"))]
    triggers += [part.means for part in head.triggers]
    found.phases, found.trigger = phases, triggers[0] if triggers else None
    found.stage, found.severity = _stage_of(head, cut), severity_of(head)
    found.corner = corner_of(head, cut)
    found.tyre = tyre_in(cut.plain[found.first : found.last + 1]) or _tyre_behind(head, cut)
    return found


def _from_to(named: Sequence[Part], cut: Cut) -> tuple[str, ...]:
    """ "From the time I lift until I am back on the gas": all that lies between; the moment that ends it is
    not in it."""
    one, two = named[-2:]
    told = "from" in cut.plain[max(0, one.first - 4) : one.first + 1]
    if not told or _TILL.isdisjoint(cut.plain[one.last + 1 : two.last]):
        return ()
    first, last = phases_of([one]), phases_of([two])
    last = ("straight",) if two.means == "out" else last
    if not first or not last or "straight" in first:
        return ()
    start = PHASES.index(first[0])
    end = len(PHASES) - 1 if last == ("straight",) or last == first else PHASES.index(last[-1])
    moment = two.means == "exit-first-throttle" or (
        two.extra("trigger") == "throttle" and "time" in cut.plain[one.last + 1 : two.first]
    )
    return PHASES[start : PHASES.index("exit-first-throttle") if moment else end + 1]


_TILL = frozenset({"until", "till", "til", "to"})


def _telling(named: Sequence[Part]) -> list[Part]:
    """Of several phase parts, those that another one does not make more exact."""
    named = [p for p in named if not p.extra("soft")] or named
    named = [p for p in named if p.means != "exit-full-throttle"] if "straight" in phases_of(named) else named
    if any(p.extra("trigger") == "lift" for p in named):
        named = [p for p in named if p.means != "straight"]
    named = [p for n, p in enumerate(named) if not _only_how(p, named[:n])]
    named = [p for p in named if not _only_a_lift(p, named)]
    return [p for p in named if not _only_a_place(p, named)]


def _only_how(part: Part, before: Sequence[Part]) -> bool:
    """ "Tight mid corner on power": the gas right behind the middle tells how, not where."""
    touching = bool(before) and before[-1].means == "centre" and before[-1].last + 1 == part.first
    return touching and part.means == "exit" and part.extra("trigger") == "throttle"


def _only_a_lift(part: Part, named: Sequence[Part]) -> bool:
    """ "Have to lift off two": where the way out is named, the lift tells what it makes the driver do."""
    lifted = part.means == "entry" and part.extra("trigger") == "lift"
    if any(p.means == "centre" and p.first == part.last + 1 for p in named):
        return lifted
    return lifted and any(p.means == "exit" and p.extra("place") and p.first > part.last for p in named)


def _compared(part: Part, cut: Cut) -> bool:
    """ "Tighter in than off", not "more tight than loose in the middle"."""
    before = cut.plain[max(0, part.first - 2) : part.first]
    if cut.plain[max(0, part.first - 3) : part.first] in _THAN_IT_IS:
        return True
    return "than" in before and before[-1] not in _WAYS


_THAN_IT_IS = {("than", it, be) for it in ("it", "i", "she") for be in ("is", "am", "does", "do")} | {
    ("than", "its", "been"), ("than", "im", "getting")
}  # fmt: skip


def _spared(part: Part, cut: Cut) -> bool:
    """ "Free it up off without hurting me in": the second place is to stay as it is."""
    before = cut.plain[max(0, part.first - 6) : part.first]
    return "without" in before and not _HARMS.isdisjoint(before[before.index("without") + 1 :])


_HARMS = frozenset({
    "hurting", "killing", "losing", "messing", "ruining", "giving", "upsetting", "hurt", "making", "screwing",
    "wrecking", "affecting", "touching", "changing",
})  # fmt: skip
_WAYS = frozenset(
    {
        "loose",
        "tight",
        "free",
        "snug",
        "anything",
        "pushing",
        "not",
        "front",
        "rear",
        "before",
        "earlier",
        "usual",
        "normal",
        "ever",
    }
)


def _only_a_place(part: Part, named: Sequence[Part]) -> bool:
    """ "On the brakes into three": where another part says the moment inside it, the place names the turn
    only."""
    own = set(phases_of([part]))
    return bool(part.extra("place")) and any(
        p.means == "entry-braking" and set(phases_of([p])) < own for p in named
    )


def _bounded(
    phases: tuple[str, ...], kept: tuple[str, ...], later: tuple[str, ...], denied: bool
) -> tuple[str, ...]:
    """ "Not loose until off" is loose off; "loose in until the middle" is loose in; "tight everywhere except
    off"."""
    if denied or not later:
        return phases
    return tuple(phase for phase in kept if phase not in later)


def _up_to(head: Head, later: tuple[str, ...], cut: Cut) -> tuple[str, ...]:
    """ "Tight until I pick up the gas": all of the corner before it."""
    until = next((part for part in head.after if part.kind == "UNTIL"), None)
    if until is None:
        return ()
    if not later or later == PHASES or head.kind not in ("BAL", "FAULT") or negated(head, cut):
        return ()
    if later[0] not in PHASES or _TILL.isdisjoint(cut.plain[until.first : until.last + 1]):
        return ()
    return PHASES[: PHASES.index(later[0])]


def _ahead_of(phases: tuple[str, ...]) -> tuple[str, ...]:
    """ "Will not turn until off" is in the middle, "until the middle" getting in."""
    if not phases:
        return ()
    return PHASE_GROUPS["centre" if phases[0] in PHASE_GROUPS["exit"] else "entry"]


def own_phases(head: Head) -> tuple[str, ...]:
    """Phases that the word itself implies ("power oversteer")."""
    named = head.part.extra("phase") if head.part else None
    return tuple(PHASE_GROUPS.get(str(named), (str(named),))) if named else ()


def implied(head: Head) -> tuple[str, ...]:
    """Phases a head names, or those that the words around it imply ("cannot pick up the throttle")."""
    named = [str(place) for part in head.before if (place := part.extra("phase"))]
    then = max((p.first for p in head.before if p.kind == "NEW" and p.means == "then"), default=0)
    told = [p for p in head.phases if p.first > then] if head.part is None else []
    return phases_of(_telling(told or head.phases)) or (
        PHASE_GROUPS.get(named[0], (named[0],)) if named else ()
    )


def _stage_of(head: Head, cut: Cut) -> str | None:
    """The run stage said; "every lap" is late only where something grows ("tighter every lap")."""
    if not head.stages:
        begun = any(p.kind == "OLD" and "start" in cut.plain[p.first] for p in head.before)
        return "start" if begun else None
    part = head.stages[-1]
    if not part.extra("trend"):
        return part.means
    first = head.part.first if head.part else 0
    grows = head.part is not None and head.part.extra("form") == "comp"
    grows = grows or bool(
        {"getting", "gets", "more", "worse"} & set(cut.plain[max(0, first - 3) : first + 6])
    )
    return part.means if grows else None


def _tyre_behind(head: Head, cut: Cut) -> str | None:
    """ "Chattering the right front", "the right rear wears too much": the tyre of a complaint that is not
    balance."""
    if head.kind != "SYM":
        return None
    ends = [part for part in (*head.after, *reversed(head.before)) if part.kind == "END"]
    return tyre_in(cut.plain[ends[0].first : ends[0].last + 1]) if ends else None


_ORDER = ("slight", "plain", "severe")


def _only_joins(part: Part, head: Head) -> bool:
    """ "So it's not the entry ...": "so" is a strength only right in front of what it makes stronger."""
    first = head.part.first if head.part else -1
    return bool(part.extra("touching")) and not 0 <= first - part.last - 1 <= 1


def severity_of(head: Head) -> str | None:
    """Slight wins over a booster beside it ("a little too"); otherwise the strongest word; a word's own
    strength last."""
    said = [part.means for part in head.severities if not _only_joins(part, head)]
    if head.before or head.after:
        said += ["severe" for part in (*head.before, *head.after) if part.kind == "POOR"]
    if said:
        return "slight" if "slight" in said else max(said, key=_ORDER.index)
    own = head.part.extra("severity") if head.part else None
    return str(own) if own else None


def corner_of(head: Head, cut: Cut) -> str | None:
    """The turns named: "1-2", "3", or None."""
    for part in (*head.phases, *head.places):
        if part.kind == "PLACE" or part.extra("place"):
            words = " ".join(cut.plain[part.first : part.last + 1]).replace("/", " ").split()
            turns = sorted({int(w) if w.isdigit() else int(WORDS.get(w, 0)) for w in words} - {0})
            if turns:
                return "-".join(str(turn) for turn in turns[:2])
    return None
