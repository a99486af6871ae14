"""What a head says: from a head and its modifiers to a draft of a symptom, with direction and state."""

from grammar.clauses import Head
from grammar.drafts import OPPOSITE, TROUBLE, Draft, made
from grammar.lexing import Cut
from grammar.placing import phases_of, placed
from grammar.qualities import quality
from grammar.reach import kinds_before, near, negated, of_another, state_of

_OBJECTS = frozenset({"it", "me", "us", "her", "you", "car", "thing", "him", "everything", "this"})


def draft(head: Head, cut: Cut) -> Draft | None:
    """The symptom a head speaks of, or None when it speaks of none (praise, a change that was made, another
    car)."""
    if head.part is None or of_another(head, cut) or _of_a_thing(head, cut):
        return None
    if head.kind == "BAL":
        found = _balance(head, cut)
    elif head.kind == "FAULT":
        found = _fault(head, cut)
    elif head.kind == "QUALITY":
        found = quality(head, cut)
    elif head.kind == "SYM" and head.part.extra("turns") and "centre" in phases_of(head.phases):
        found = made(head, "balance", "tight", state_of(head, cut))
    elif head.kind == "SYM":
        found = made(head, head.part.means, None, state_of(head, cut))
    else:
        return None
    return placed(found, cut) if found else None


def _of_a_thing(head: Head, cut: Cut) -> bool:
    """ "A tight muscle", "my knee is tight": the word describes a thing that is no part of the balance. Where
    a place in the corner is named, it is the car."""
    part = head.part
    if part is None or part.kind != "BAL" or head.phases or len(part.pieces) > 1:
        return False
    if any(p.kind == "OTHER" and p.means == "thing" and p.first == part.last + 1 for p in head.after):
        return bool(part.extra("form") == "state")
    before = cut.plain[part.first - 1] if part.first else ""
    if part.extra("form") == "state" and part.last + 1 in cut.unknown and before in _ARTICLES:
        return True
    strength = {place for p in head.severities for place in range(p.first, p.last + 1)}
    place = part.first - 1
    while place >= 0 and (place in strength or cut.plain[place] in _LINKS):
        place -= 1
    if place > 0 and cut.plain[place - 1] == "our":
        return False
    return place >= 0 and place in cut.unknown and place + 1 < part.first and cut.plain[place].isalpha()


_ARTICLES = frozenset({"a", "got", "some", "have", "has", "had", "these", "those", "with", "of", "very"})
_LINKS = frozenset(
    {"is", "are", "was", "were", "feels", "felt", "feel", "got", "gets", "looks", "still", "just"}
)


def _fault(head: Head, cut: Cut) -> Draft | None:
    """An end that gives up; where the word only implies the end ("washes out"), it must be the car that
    moves."""
    part = head.part
    assert part is not None
    if part.extra("default") and not _moves(head, cut):
        return None
    state = state_of(head, cut)
    words = cut.plain[part.first : part.last + 1]
    stays = part.end == "front" and "around" in words
    if state == "gone" and negated(head, cut) and ("go" in words or stays):
        state = "live"
    return made(head, "balance", TROUBLE[part.end or "front"], state)


def _balance(head: Head, cut: Cut) -> Draft | None:
    part = head.part
    assert part is not None
    kinds = kinds_before(head, cut)
    form = part.extra("form")
    if "FEAR" in kinds and any(p.kind == "FEAR" and p.means == "liking" for p in head.before):
        if form != "comp":
            return None
        kinds = ["NEED"]
    if part.extra("motion") and not _moves(head, cut):
        return None
    if part.extra("willing") and _AWAITED & set(cut.plain[max(0, part.first - 2) : part.first]):
        return None
    if _stays_out(head, cut):
        return made(head, "balance", "tight", "live")
    if form == "cured":
        told = cut.plain[part.first] in (
            "took",
            "taken",
            "takes",
            "got",
            "lost",
            "worked",
            "came",
            "drove",
            "ran",
        ) or {
            "CREW",
            "CAR",
        } & set(kinds)
        wanted = bool({"NEED", "NEG"} & set(kinds)) or not told
        return made(head, "balance", part.means, "live" if wanted else "gone")
    if form == "change":
        return _change(head, cut, kinds)
    if form == "noun" and any(p.kind == "LACK" and cut.plain[p.first] in _LOST for p in head.before):
        return made(head, "balance", part.means, "gone")
    if taken := _some_out(head, cut):
        return made(head, "balance", part.means, "eased" if taken == "took" else "live")
    if not (head.before or head.after) and form != "comp":
        return made(head, "balance", part.means, "live")
    opposite = OPPOSITE[part.means]
    if "ENOUGH" in [p.kind for p in head.after] and not _so_much(head, cut):
        return made(head, "balance", opposite, "live") if negated(head, cut) else None
    named = form == "state" and part.first and cut.plain[part.first - 1] in _NAMING
    named = named or (
        form == "state" and bool({"being", "about"} & set(cut.plain[part.first - 3 : part.first]))
    )
    named = named or (form == "state" and any(p.kind == "NEED" and p.means == "help" for p in head.before))
    named = named or bool(part.first and cut.plain[part.first - 1] == "too")
    wanted = "NEED" in kinds and form in ("state", "comp") and not named
    if _wanted_otherwise(head, cut, str(form)):
        wanted = True
        kinds = [kind for kind in kinds if kind != "FEAR"]
    if wanted and not {"NEG", "LESS", "FEAR"} & set(kinds):
        return made(head, "balance", opposite, "live", asked=part.means)
    return made(head, "balance", part.means, state_of(head, cut))


_LOST = frozenset({"lost", "losing"})
""" "We lost all that tightness": it is gone."""


def _some_out(head: Head, cut: Cut) -> str:
    """ "Need to take a little tight out of the middle": the word names what is to go, and was there; empty
    where nothing is taken out."""
    part = head.part
    if part is None or cut.plain[part.last + 1 : part.last + 2] != ("out",):
        return ""
    before = cut.plain[max(0, part.first - 6) : part.first]
    return next((word for word in reversed(before) if word in _TAKING), "")


_TAKING = frozenset({"take", "took", "get", "pull", "dial", "tune", "work"})


def _bids(head: Head, cut: Cut) -> bool:
    """ "Get it a bit freer off for me": bidden, where nobody is said to have done it."""
    first = head.part.first if head.part else 0
    if negated(head, cut) or {"FEAR", "LESS"} & set(kinds_before(head, cut)):
        return False
    for place in range(first - 1, max(-1, first - 7), -1):
        if cut.plain[place] in ("get", "make") and cut.plain[place + 1] in _GIVEN:
            return not place or cut.plain[place - 1] not in _DOERS
    return False


_GIVEN = frozenset({"it", "me", "us", "her", "the", "this", "that", "him"})
_DOERS = frozenset({
    "i", "we", "you", "they", "it", "that", "which", "guys", "didnt", "couldnt", "cant", "wont", "wouldnt",
    "never", "dont", "not", "ill", "if", "will", "would", "might", "may",
})  # fmt: skip


def _so_much(head: Head, cut: Cut) -> bool:
    """ "Loose enough in that I am lifting": enough for trouble, not as it should be."""
    enough = next(p.last for p in head.after if p.kind == "ENOUGH")
    return bool({"that", "im", "i", "to"} & set(cut.plain[enough + 1 : enough + 5]))


def _stays_out(head: Head, cut: Cut) -> bool:
    """ "It will not come around in the middle" does not rotate; "did not come around on me" is not loose."""
    part = head.part
    if part is None or not head.before or cut.plain[part.first : part.last + 1] not in _AROUND:
        return False
    if not negated(head, cut):
        return False
    before = set(cut.plain[max(0, part.first - 4) : part.first])
    return (bool(before & _REFUSES) or cut.plain[part.first] in ("want", "wanna")) and "me" not in cut.plain[
        part.last :
    ][:3]


_REFUSES = frozenset({"wont", "cant", "refuses", "refuse", "couldnt", "will"})
_AWAITED = frozenset({"before", "until", "till"})
""" "Feels like forever before it comes around": what the driver waits for."""
_AROUND = frozenset({
    ("come", "around"), ("come", "round"), ("coming", "around"), ("want", "to", "come", "around"),
    ("wanna", "come", "around"), ("want", "to", "come", "round"),
})  # fmt: skip


def _wanted_otherwise(head: Head, cut: Cut, form: str) -> bool:
    """ "Snugger off please", "could be a little tighter", "want more oversteer": asked for without "need"."""
    if form == "comp":
        asked = any(
            {"please", "would", "want", "need", "after"} & set(cut.plain[part.first : part.last + 1])
            for part in head.after
            if part.kind == "NEED" and "than" not in cut.plain[max(0, part.first - 2) : part.first]
        )
        could = any(
            part.kind == "FEAR" and cut.plain[part.first : part.last + 1] == ("could", "be")
            for part in head.before
        )
        return asked or could or _bids(head, cut)
    if form != "noun":
        return False
    needs = [part for part in head.before if part.kind == "NEED" and part.means == "need"]
    start = needs[-1].first if needs else 0
    first = head.part.first if head.part else 0
    return bool(needs) and "more" in cut.plain[start:first]


def _moves(head: Head, cut: Cut) -> bool:
    """Whether a word of motion ("steps out", "slides up") is said of the car: by its end, by "it", or with a
    place."""
    part = head.part
    if part is None or any(piece.kind == "END" for piece in part.pieces):
        return True
    if part.extra("motion") == "place":
        return bool(head.phases)
    subjects = [p for p in head.before if p.kind in ("CAR", "CREW", "OTHER")]
    if subjects and subjects[-1].kind == "CREW" and cut.plain[subjects[-1].first] in ("you", "youre"):
        return True
    if subjects:
        himself = cut.plain[subjects[-1].first] in ("i", "im", "ive", "iwill")
        if cut.plain[subjects[-1].first] == "im" and cut.plain[part.first] == "spinning":
            return bool(head.phases)
        return subjects[-1].kind == "CAR" and (not himself or (part.means == "tight" and bool(head.phases)))
    if part.first and cut.plain[part.first - 1] in ("keeps", "wants"):
        return True
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
    before = cut.plain[max(0, part.first - 2) : part.first]
    past = past or bool(_BEGUN & set(before)) or before[-1:] == ("did",) or before[-2:] == ("did", "it")
    then = any(p.kind == "NEW" and p.means == "then" for p in head.before) and not set(words) & _OBJECTS
    wanted = (
        "NEED" in kinds
        or "id" in cut.plain[max(0, part.first - 2) : part.first]
        or (not (past or then) and not {"CREW", "CAR"} & set(kinds) and not words[0].endswith(("ing", "s")))
    )
    if "FEAR" in kinds:
        return made(head, "balance", direction, "feared")
    if "NEED" not in kinds and words == ("free", "up") and _measured(head):
        return made(head, "balance", direction, state_of(head, cut))
    if any(p.kind == "NEG" and cut.plain[p.first] in _COULD_NOT for p in near(head, cut)):
        return made(head, "balance", OPPOSITE[direction], "live")
    if "TOOMUCH" in [p.kind for p in head.after] or any(p.means == "too-far" for p in head.after):
        return made(head, "balance", direction, "live")
    if wanted and "NEG" not in kinds:
        return made(head, "balance", OPPOSITE[direction], "live", asked=direction)
    if words[0] in ("got", "made", "makes", "gets", "getting", "making"):
        comparative = words[-1] in ("tighter", "looser", "freer", "snugger")
        return (
            None
            if comparative and "CREW" in kinds and "me" not in words
            else made(head, "balance", direction, state_of(head, cut))
        )
    if set(words) & _OBJECTS or "CREW" in kinds or (past and _its_object(head, cut)):
        return None
    return made(head, "balance", direction, state_of(head, cut))


def _its_object(head: Head, cut: Cut) -> bool:
    """ "That change freed up the middle": done to a place, for the better; not "freed up in the middle"."""
    ahead = head.part.last + 1 if head.part else 0
    return any(p.first == ahead and cut.plain[ahead] == "the" for p in head.phases)


_BEGUN = frozenset(
    {"started", "starts", "starting", "begins", "began", "tends", "wants", "wanted", "tries", "seems"}
)
""" "Started to free up off": the car did it by itself."""


def _measured(head: Head) -> bool:
    """ "A bit free up off": a strength before the word tells how the car is; a request has it behind."""
    return any(head.part is not None and p.last + 1 == head.part.first for p in head.severities)


_COULD_NOT = frozenset({"couldnt", "cant", "cannot", "never", "wont"})
""" "Couldn't get it loosened up": it stayed the other way."""
