"""Limits and requests: what the driver forbids, keeps, asks for or asks about."""

from collections.abc import Sequence

from grammar.amounts import Spans, tyre_in, unit_in, values
from grammar.intent import Limit, Outcome, Request
from grammar.lexing import Cut
from grammar.parts import Part

_ASKED = frozenset({"ASK", "SETTING", "AMOUNT"})
"""Without any of these nothing is asked for."""
_PLAIN_ASKS = ("undo", "another", "show")


def limits(parts: Sequence[Part], cut: Cut, spans: Spans) -> tuple[Limit, ...]:
    """All limits of a text."""
    found = [
        one
        for n, part in enumerate(parts)
        if (part.kind == "LIMIT" and (one := _limit(n, parts, cut, spans)))
        or (part.kind == "ATMOST" and (one := _only(n, parts, cut, spans)))
    ]
    return tuple(found)


_BARS = frozenset({("not",), ("no",), ("no", "more"), ("not", "any"), ("without",)})


def barred(parts: Sequence[Part], cut: Cut) -> list[Part]:
    """ "No springs", "not cross or track bar": a bare denial in front of settings is a limit on them and says
    nothing of the words behind."""
    found: list[Part] = []
    number = 0
    while number < len(parts):
        part, number = parts[number], number + 1
        if part.kind != "NEG" or tuple(cut.plain[part.first : part.last + 1]) not in _BARS:
            found.append(part)
            continue
        pieces = list(part.pieces)
        while number < len(parts) and parts[number].kind == "SETTING":
            pieces.extend(parts[number].pieces)
            number += 1
            more = parts[number : number + 2]
            if [p.kind for p in more] == ["SEP", "SETTING"] and more[0].means in ("or", "and"):
                pieces.extend(more[0].pieces)
                number += 1
        found.append(Part("LIMIT", "not", tuple(pieces)) if len(pieces) > len(part.pieces) else part)
    return found


def _only(number: int, parts: Sequence[Part], cut: Cut, spans: Spans) -> Limit | None:
    """ "Only air and wedge": nothing but settings behind "only"."""
    if cut.plain[parts[number].last] != "only":
        return None
    keys: list[str] = []
    last = number
    for place in range(number + 1, len(parts)):
        if parts[place].kind == "SETTING":
            keys.extend(key for key in _settings_of(parts[place]) if key not in keys)
            last = place
        elif parts[place].kind != "SEP":
            break
    ahead = parts[last + 1 : last + 2]
    if not keys or (ahead and ahead[0].kind in ("AMOUNT", "UP")):
        return None
    return Limit("only", tuple(keys), None, spans(parts[number].first, parts[last].last))


def _limit(number: int, parts: Sequence[Part], cut: Cut, spans: Spans) -> Limit | None:
    part = parts[number]
    if part.means == "stop-only":
        return Limit("stop-only", (), None, spans(part.first, part.last))
    if part.means == "max-changes":
        return _count(number, parts, cut, spans)
    settings = _settings_of(part)
    first = part.first
    if part.extra("behind"):
        before = parts[number - 1] if number else None
        if before is None or before.kind != "SETTING":
            return None
        settings, first = _settings_of(before), before.first
    if not settings:
        return None
    return Limit(part.means, settings, None, spans(first, part.last))


def _count(number: int, parts: Sequence[Part], cut: Cut, spans: Spans) -> Limit | None:
    """ "Two changes at most", "no more than one change"."""
    amount = parts[number - 1] if number else None
    if amount is None or amount.kind != "AMOUNT":
        return None
    bounded = len(parts[number].pieces[0].row.means) and (
        cut.plain[parts[number].last] not in ("change", "changes")
        or any(
            p.kind in ("ATMOST", "LIMIT") or p.means == "max-changes"
            for p in parts[max(0, number - 3) : number - 1]
        )
        or any(p.kind == "ATMOST" for p in parts[number + 1 : number + 2])
    )
    numbers = values(amount, cut)
    if not bounded or not numbers or numbers[0] < 1 or numbers[0] != int(numbers[0]):
        return None
    return Limit("max-changes", (), int(numbers[0]), spans(amount.first, parts[number].last))


def _settings_of(part: Part) -> tuple[str, ...]:
    keys: list[str] = []
    for piece in part.pieces:
        keys.extend(key for key in piece.row.extra.get("settings", ()) if key not in keys)
    return tuple(keys)


def requests(parts: Sequence[Part], cut: Cut, spans: Spans, trouble: bool) -> tuple[Request, ...]:
    """Requests other than goals. `trouble`: the text complains of something, so "why is it so loose" asks
    for a cure."""
    if _ASKED.isdisjoint([part.kind for part in parts]):
        return ()
    found: list[Request] = []
    for clause in _clauses(parts):
        one = _request(clause, cut, spans, trouble)
        if one is not None:
            found.append(one)
    return tuple(found)


def _clauses(parts: Sequence[Part]) -> list[list[Part]]:
    clauses: list[list[Part]] = [[]]
    for part in parts:
        if part.kind == "MARK" or (part.kind == "SEP" and part.means in ("but", "so", "and")):
            clauses.append([])
        else:
            clauses[-1].append(part)
    return [clause for clause in clauses if clause]


def _request(clause: Sequence[Part], cut: Cut, spans: Spans, trouble: bool) -> Request | None:
    ask = next((part for part in clause if part.kind == "ASK"), None)
    if _ASKED.isdisjoint([part.kind for part in clause]):
        return None
    wanted = any(part.kind in ("RUN", "NEED", "UP") for part in clause)
    if ask is None and not wanted:
        return None
    said = _said(clause, cut)
    span = spans(clause[0].first, clause[-1].last)
    if ask is not None and ask.means in _PLAIN_ASKS:
        return Request(ask.means, said.settings, None, None, False, None, span)
    if ask is not None and ask.means in ("why", "why-not"):
        if ask.means == "why" and trouble:
            return None
        return Request(ask.means, said.settings, None, None, False, None, span)
    if not said.settings or (_made(clause, cut) and ask is None):
        return None
    if ask is not None:
        return Request(
            "what-if",
            said.settings,
            said.value,
            said.unit,
            said.relative,
            said.direction,
            span,
        )
    if said.value is None and said.direction is None:
        return None
    return Request(
        "step" if said.relative else "set",
        said.settings,
        said.value,
        said.unit,
        said.relative,
        said.direction,
        span,
    )


_BESIDE = frozenset({"CAR", "SEV", "MARK", "NEW", "CREW"})
"""What may stand beside "too much" where that is all that is said."""


def done(parts: Sequence[Part], cut: Cut, spans: Spans) -> tuple[Outcome, ...]:
    """Changes the driver says were made ("we went up 25 on the right rear spring"), or overdone ("too
    much")."""
    alone = [part for part in parts if part.kind not in _BESIDE]
    if len(alone) == 1 and alone[0].kind == "TOOMUCH":
        return (Outcome("too-far", None, (), None, None, spans(alone[0].first, alone[0].last)),)
    if _TOLD.isdisjoint(cut.plain) or "AMOUNT" not in [part.kind for part in parts]:
        return ()
    found: list[Outcome] = []
    for clause in _clauses(parts):
        if not any(part.kind == "AMOUNT" for part in clause):
            continue
        if not _made(clause, cut):
            continue
        said = _said(clause, cut)
        partly = any(part.means == "partly-done" for part in clause)
        if said.value is None or not (said.settings or partly):
            continue
        span = spans(clause[0].first, clause[-1].last)
        signed = -said.value if said.direction == "down" and not partly else said.value
        keys = said.settings[:1] or (None,)
        found += [Outcome("partly-done" if partly else "done", None, (), key, signed, span) for key in keys]
    return tuple(found)


_TOLD = frozenset({
    "went", "put", "added", "raised", "lowered", "took", "made", "changed", "moved", "did", "softened",
    "stiffened",
})  # fmt: skip


def _made(clause: Sequence[Part], cut: Cut) -> bool:
    """Whether the clause tells of a change already made."""
    first, last = clause[0].first, clause[-1].last
    words = cut.plain[max(0, first - 1) : last + 1]
    if _TOLD.isdisjoint(words):
        return False
    subject = any(part.kind == "CREW" or cut.plain[part.first] in ("i", "ive") for part in clause)
    subject = subject or cut.plain[max(0, clause[0].first - 1)] in ("we", "they")
    subject = (
        subject or bool(_TOLD - {"put"} & set(words[:2])) or any(p.means == "partly-done" for p in clause)
    )
    asked = any(part.kind in ("NEED", "ASK") for part in clause)
    return not asked and subject


class _Said:
    __slots__ = ("direction", "relative", "settings", "unit", "value")

    def __init__(
        self,
        settings: tuple[str, ...],
        value: float | None,
        unit: str | None,
        relative: bool,
        direction: str | None,
    ) -> None:
        self.settings, self.value, self.unit = settings, value, unit
        self.relative, self.direction = relative, direction


def _said(clause: Sequence[Part], cut: Cut) -> _Said:
    """Settings, amount and sense of the change that a clause names."""
    keys: list[str] = []
    for part in clause:
        if part.kind in ("SETTING", "LIMIT"):
            keys.extend(k for k in _settings_of(part) if k not in keys)
    amount = next((part for part in clause if part.kind == "AMOUNT"), None)
    numbers = values(amount, cut) if amount else ()
    value = numbers[0] if numbers else None
    unit = unit_in(amount, cut) if amount else None
    words = [w for part in clause for w in cut.plain[part.first : part.last + 1]]
    around = cut.plain[clause[0].first : clause[-1].last + 2]
    tyre = tyre_in(words)
    read_off = unit in ("%", "F", "C") or any(part.kind in ("QUANTITY", "COND") for part in clause)
    if not keys and tyre and value is not None and not read_off:
        kind = "pressure" if unit in ("psi", "kPa", "bar") or value < 8 else "spring"
        keys.append(f"{kind}_{tyre.lower()}")
    elif not keys and unit == "round":
        keys.append("cross_weight")
    elif tyre and len(keys) > 1 and (own := [k for k in keys if k.endswith("_" + tyre.lower())]):
        keys = own
    direction = next((part.means for part in clause if part.kind == "UP"), None)
    if direction is None:
        direction = "up" if "up" in around else ("down" if {"down", "out"} & set(around) else None)
    if (
        direction is None
        and value is not None
        and {"put", "add", "in"} & set(around)
        and unit in ("round", "psi")
    ):
        direction = "up"
    relative = value is not None and (direction is not None or unit in ("round", "click"))
    return _Said(tuple(keys), value, unit, relative, direction)
