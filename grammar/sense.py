"""What a head says: from a head and its modifiers to a draft of a symptom, with direction and state."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from grammar.amounts import WORDS, tyre_in
from grammar.clauses import Head
from grammar.intent import PHASE_GROUPS, PHASES
from grammar.lexing import Cut
from grammar.parsing import Part

OPPOSITE = {"tight": "loose", "loose": "tight"}
_TROUBLE = {"front": "tight", "rear": "loose"}
_GIVERS = frozenset(
    "like love let help helps lets get gets got getting make makes made have had keep kept want wants need find had call".split()
)
_OBJECTS = frozenset({"it", "me", "us", "her", "car", "thing", "him", "everything", "this"})
_PAST = frozenset(
    {
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
    }
)


@dataclass(slots=True)
class Draft:
    """A symptom in the making. `phases` is empty while none is known; `asked` when it came from a request."""

    kind: str
    direction: str | None
    state: str
    head: Head
    first: int
    last: int
    phases: tuple[str, ...] = ()
    severity: str | None = None
    stage: str | None = None
    trigger: str | None = None
    corner: str | None = None
    tyre: str | None = None
    asked: str | None = None
    moved: tuple[Part, ...] = field(default=())


def draft(head: Head, cut: Cut) -> Draft | None:
    """The symptom a head speaks of, or None when it speaks of none (praise, a change that was made, another car)."""
    if head.part is None or of_another(head):
        return None
    if head.kind == "BAL":
        found = _balance(head, cut)
    elif head.kind == "FAULT":
        found = _fault(head, cut)
    elif head.kind == "QUALITY":
        found = _quality(head, cut)
    elif head.kind == "SYM":
        found = _made(head, head.part.means, None, _state(head, cut))
    else:
        return None
    return _placed(found, cut) if found else None


def _fault(head: Head, cut: Cut) -> Draft | None:
    """An end that gives up; where the word only implies the end ("washes out"), it must be the car that moves."""
    part = head.part
    assert part is not None
    if part.extra("default") and not _moves(head, cut):
        return None
    return _made(head, "balance", _TROUBLE[part.end or "front"], _state(head, cut))


def _made(head: Head, kind: str, direction: str | None, state: str, asked: str | None = None) -> Draft:
    part = head.part
    assert part is not None
    return Draft(kind, direction, state, head, part.first, part.last, asked=asked)


def near(head: Head, cut: Cut) -> list[Part]:
    """Modifiers before the head that reach it: a new subject ("..., it is tight") cuts off what stood before."""
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
    return bool(part.first) and cut.plain[part.first - 1] in _GIVERS | {
        "of",
        "on",
        "about",
        "to",
        "for",
        "in",
    }


def _kinds(head: Head, cut: Cut) -> list[str]:
    return [part.kind for part in near(head, cut)]


def _negated(head: Head, cut: Cut) -> bool:
    return _kinds(head, cut).count("NEG") % 2 == 1


def of_another(head: Head) -> bool:
    """Whether the sentence speaks of another car ("he was loose")."""
    subjects = [part.kind for part in head.before if part.kind in ("CAR", "CREW", "OTHER")]
    if head.before and head.before[-1].kind == "SETTING" and head.kind == "BAL":
        return True
    return bool(subjects) and subjects[-1] == "OTHER" and "CAR" not in subjects


def _state(head: Head, cut: Cut) -> str:
    """live, gone, eased or feared, from what stands before and after."""
    kinds = _kinds(head, cut)
    after = [part.kind for part in head.after]
    if "FEAR" in kinds:
        return "feared"
    if "LESS" in kinds:
        return "live" if "NEED" in (*kinds, *after) else "eased"
    if any(p.means == "without" for p in head.before) and {"NEED", "LACK"} & set(kinds):
        return "live"
    if _negated(head, cut):
        wanted = "NEED" in kinds and kinds.index("NEED") < kinds.index("NEG")
        return "live" if "UNTIL" in after or wanted else "gone"
    if "GONE" in after:
        return "gone"
    if "STILL" not in kinds and "STILL" not in after and _past(head, cut):
        return "gone"
    return "live"


def _past(head: Head, cut: Cut) -> bool:
    """Said to be over: "used to be", "before the change"; not "like before" or "than before"."""
    for part in (*head.before, *head.after):
        if part.kind == "OLD" and part.means == "past":
            if not {"like", "than", "as", "ever"} & set(cut.plain[max(0, part.first - 3) : part.first]):
                return True
    return False


def was(head: Head, cut: Cut) -> bool:
    """Whether the head is told in the past: a past verb just before it, or an OLD word with it."""
    if any(part.kind == "OLD" for part in (*head.before, *head.after)):
        return True
    start = head.part.first if head.part else 0
    words = cut.plain[max(0, start - 6) : start]
    return any(word in _PAST for word in words)


def _balance(head: Head, cut: Cut) -> Draft | None:
    part = head.part
    assert part is not None
    kinds = _kinds(head, cut)
    if any(p.kind == "FEAR" and p.means == "liking" for p in head.before):
        if part.extra("form") != "comp":
            return None
        kinds = ["NEED"]
    if part.extra("motion") and not _moves(head, cut):
        return None
    form = part.extra("form")
    if form == "cured":
        told = cut.plain[part.first] in ("took", "got", "worked", "came", "drove", "ran") or {
            "CREW",
            "CAR",
        } & set(kinds)
        wanted = bool({"NEED", "NEG"} & set(kinds)) or not told
        return _made(head, "balance", part.means, "live" if wanted else "gone")
    if form == "change":
        return _change(head, cut, kinds)
    opposite = OPPOSITE[part.means]
    if "ENOUGH" in [p.kind for p in head.after]:
        return _made(head, "balance", opposite, "live") if _negated(head, cut) else None
    named = form == "state" and part.first and cut.plain[part.first - 1] in _NAMING
    named = named or (form == "state" and any(p.kind == "NEED" and p.means == "help" for p in head.before))
    wanted = "NEED" in kinds and form in ("state", "comp") and not named
    if wanted and not {"NEG", "LESS", "FEAR"} & set(kinds):
        return _made(head, "balance", opposite, "live", asked=part.means)
    return _made(head, "balance", part.means, _state(head, cut))


def _moves(head: Head, cut: Cut) -> bool:
    """Whether a word of motion ("steps out", "slides up") is said of the car: by its end, by "it", or with a place."""
    part = head.part
    if part is None or any(piece.kind == "END" for piece in part.pieces):
        return True
    if part.extra("motion") == "place":
        return bool(head.phases)
    subjects = [p for p in head.before if p.kind in ("CAR", "CREW", "OTHER")]
    if subjects:
        return subjects[-1].kind == "CAR" and cut.plain[subjects[-1].first] not in ("i", "im", "ive", "iwill")
    return head.follows or bool(head.phases) or "me" in cut.plain[part.first : part.last + 3]


_NAMING = frozenset({"the", "this", "that", "my", "our", "some"})
""" "Get the tight out of it": behind these the word names the trouble."""


def _change(head: Head, cut: Cut, kinds: list[str]) -> Draft | None:
    """ "tighten up": a request, a change that was made, or what the car did by itself."""
    part = head.part
    assert part is not None
    words = cut.plain[part.first : part.last + 1]
    direction = part.means
    past = words[0].endswith("ed") or words[0] in ("got", "made")
    wanted = "NEED" in kinds or (
        not past and not {"CREW", "CAR"} & set(kinds) and not words[0].endswith(("ing", "s"))
    )
    if "FEAR" in kinds:
        return _made(head, "balance", direction, "feared")
    if any(p.kind == "NEG" and cut.plain[p.first] in _COULD_NOT for p in near(head, cut)):
        return _made(head, "balance", OPPOSITE[direction], "live")
    if "TOOMUCH" in [p.kind for p in head.after] or any(p.means == "too-far" for p in head.after):
        return _made(head, "balance", direction, "live")
    if wanted and "NEG" not in kinds:
        return _made(head, "balance", OPPOSITE[direction], "live", asked=direction)
    if words[0] in ("got", "made", "makes", "gets", "getting", "making"):
        comparative = words[-1] in ("tighter", "looser", "freer", "snugger")
        return (
            None if comparative and "CREW" in kinds else _made(head, "balance", direction, _state(head, cut))
        )
    if set(words) & _OBJECTS or "CREW" in kinds:
        return None
    return _made(head, "balance", direction, _state(head, cut))


_COULD_NOT = frozenset({"couldnt", "cant", "cannot", "never", "wont"})
""" "Couldn't get it loosened up": it stayed the other way."""


def _quality(head: Head, cut: Cut) -> Draft | None:
    """Grip or turning: a symptom when it is denied, lacking or asked for; too much of it is the other way round."""
    part = head.part
    assert part is not None
    kinds = _kinds(head, cut)
    direction = _TROUBLE.get(part.end or "")
    kind = "balance" if direction else ("wheelspin" if part.end == "drive" else "no-grip")
    missing = kinds.count("NEG") + kinds.count("LACK") + kinds.count("POOR")
    missing += any(p.kind == "POOR" for p in head.after)
    if "TOOMUCH" in kinds and direction:
        return _made(head, "balance", OPPOSITE[direction], "gone" if "NEG" in kinds else "live")
    if "FEAR" in kinds:
        return _made(head, kind, direction, "feared")
    if "LESS" in kinds and direction and "NEED" in (*kinds, *[p.kind for p in head.after]):
        return _made(head, "balance", OPPOSITE[direction], "live", asked=direction)
    if missing % 2 or "LESS" in kinds or (not missing and "GONE" in [p.kind for p in head.after]):
        return _made(head, kind, direction, "live")
    if missing:
        return _made(head, kind, direction, "gone")
    if "NEED" in kinds or ("MORE" in kinds and "CAR" not in kinds):
        asked = OPPOSITE[direction] if direction else None
        return _made(head, kind, direction, "live", asked=asked)
    return None


def phases_of(parts: Sequence[Part]) -> tuple[str, ...]:
    """The corner phases that phase parts name, in corner order; "except" takes away."""
    named: set[str] = set()
    for part in parts:
        for name in part.means.split("+"):
            named.update(PHASES if name == "all" else PHASE_GROUPS.get(name, (name,)))
    return tuple(phase for phase in (*PHASES, "straight") if phase in named)


def _placed(found: Draft, cut: Cut) -> Draft:
    """The draft with where, when and how strongly filled in from its head."""
    head = found.head
    phases = phases_of(head.phases) or own_phases(head)
    until = next((part.first for part in head.after if part.kind == "UNTIL"), None)
    if until is not None:
        later = phases_of([part for part in head.phases if part.first > until])
        kept = phases_of([part for part in head.phases if part.first < until])
        phases = _bounded(phases, kept, later, _negated(head, cut))
    trigger = next((str(t) for part in head.phases if (t := part.extra("trigger"))), None)
    trigger = trigger or next((part.means for part in head.triggers), None)
    return replace(
        found,
        phases=phases,
        trigger=trigger,
        stage=head.stages[-1].means if head.stages else None,
        corner=corner_of(head, cut),
        tyre=tyre_in(cut.plain[found.first : found.last + 1]),
        severity=severity_of(head),
    )


def _bounded(
    phases: tuple[str, ...], kept: tuple[str, ...], later: tuple[str, ...], denied: bool
) -> tuple[str, ...]:
    """ "Not loose until off" is loose off; "loose in until the middle" is loose in; "tight everywhere except off"."""
    if denied or not later:
        return phases
    return tuple(phase for phase in kept if phase not in later)


def own_phases(head: Head) -> tuple[str, ...]:
    """Phases that the word itself implies ("power oversteer")."""
    named = head.part.extra("phase") if head.part else None
    return tuple(PHASE_GROUPS.get(str(named), (str(named),))) if named else ()


_ORDER = ("slight", "plain", "severe")


def severity_of(head: Head) -> str | None:
    """Slight wins over a booster beside it ("a little too"); otherwise the strongest word; a word's own strength last."""
    said = [part.means for part in head.severities]
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
