"""Numbers said: their values, the tyre or setting they belong to, and the unit when it can be told from the
size."""

from collections.abc import Sequence

from grammar.intent import Measurement, Span
from grammar.lexing import Cut
from grammar.parsing import Part

WORDS = {
    "half": 0.5, "quarter": 0.25, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7,
    "eight": 8, "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "fifteen": 15, "twenty": 20, "thirty": 30,
    "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90, "hundred": 100,
    "couple": 2, "eighth": 0.125,
}  # fmt: skip
_TYRES = {
    ("right", "front"): "RF", ("left", "front"): "LF", ("right", "rear"): "RR", ("left", "rear"): "LR",
}  # fmt: skip
_SIZES = {
    "water-temperature": (("F", 130, 320), ("C", 50, 129)),
    "oil-temperature": (("F", 140, 350), ("C", 50, 139)),
    "tyre-temperature": (("F", 121, 320), ("C", 30, 99)),
    "tyre-pressure": (("psi", 6, 70), ("kPa", 71, 500), ("bar", 0.4, 5.9)),
    "tyre-wear": (("%", 0, 100),),
    "rpm": (("rpm", 500, 20000),),
    "lap-time": (("s", 8, 200),),
    "fuel": (("gal", 0, 60),),
}
"""Which unit a bare number is in, by its size; a size between the ranges could be either, so it is asked."""
_BY_UNIT = {
    "psi": "tyre-pressure", "kPa": "tyre-pressure", "bar": "tyre-pressure", "rpm": "rpm", "s": "lap-time",
    "gal": "fuel", "l": "fuel",
}  # fmt: skip


def tyre_in(words: Sequence[str]) -> str | None:
    """The one tyre that words name ("right front", "rf"), or None."""
    for word in words:
        if word in ("lf", "rf", "lr", "rr"):
            return word.upper()
    if "left" not in words and "right" not in words:
        return None
    return next((tyre for (side, end), tyre in _TYRES.items() if side in words and end in words), None)


def values(part: Part, cut: Cut) -> tuple[float, ...]:
    """The numbers of an amount: "a pound and a half" is 1.5, "3/8" is 0.375, "twenty five" is 25."""
    found: list[float] = []
    for piece in part.pieces:
        if piece.kind != "NUM":
            continue
        words = cut.plain[piece.first : piece.last + 1]
        number = _number(words)
        if number is not None:
            found.append(number)
    return tuple(found)


_UNIT_WORDS = {
    "round": "round", "turn": "round", "pound": "lb", "inch": "in", "click": "click", "point": "%",
    "degree": "deg",
}  # fmt: skip


def unit_in(part: Part, cut: Cut) -> str | None:
    """The unit of an amount, also when it is inside the number words ("a round of")."""
    words = cut.plain[part.first : part.last + 1]
    return part.means or next((_UNIT_WORDS[w] for w in words if w in _UNIT_WORDS), None)


def _number(words: Sequence[str]) -> float | None:
    if len(words) == 1 and ":" in words[0]:
        minutes, _, seconds = words[0].partition(":")
        return round(int(minutes) * 60 + float(seconds), 4)
    if len(words) == 1 and words[0][-1:].isdigit():
        top, _, below = words[0].partition("/")
        return round(float(top) / float(below or 1), 4) if float(below or 1) else None
    if "quarters" in words:
        return 0.75
    found = [float(WORDS[w]) for w in words if w in WORDS]
    if "half" in words and ("one" in words or "two" in words or (words[:1] == ("a",) and "and" in words)):
        return round(sum(found) + (1 if "one" not in words and "two" not in words else 0), 3)
    if "hundred" in words:
        return 100.0
    if "half" in words or "quarter" in words or "eighth" in words:
        return min(found)
    return sum(found) if found else (1.0 if "a" in words or "an" in words else None)


def measurements(parts: Sequence[Part], cut: Cut, spans: "Spans") -> tuple[Measurement, ...]:
    """Every number that was read off the car. A number that belongs to a wish about a setting is not one."""
    found: list[Measurement] = []
    for number, part in enumerate(parts):
        if part.kind == "AMOUNT":
            one = _measured(number, parts, cut, spans, found[-1].quantity if found else None)
            if one is not None:
                found.append(one)
    return tuple(found)


_CHANGES = frozenset({"RUN", "UP", "ASK", "LIMIT", "NEED"})
"""With one of these beside it a number is of a change, not read off the car."""


_OF_TYRES = frozenset({"END", "SETTING", "BAL", "QUALITY", "SYM"})
"""Parts that may name a tyre."""


def _measured(
    number: int, parts: Sequence[Part], cut: Cut, spans: "Spans", last: str | None
) -> Measurement | None:
    part = parts[number]
    numbers = values(part, cut)
    before = _back(parts, number)
    after = _ahead(parts, number)
    kinds = [p.kind for p in (*before, *after)]
    if not numbers or not _CHANGES.isdisjoint(kinds):
        return None
    unit = part.means or None
    if "UNIT" in kinds:
        unit = next((p.means for p in before if p.kind == "UNIT" and p.means == "rpm"), unit)
    ended = "END" in kinds and any(p.kind == "END" and _tyre(p, cut) for p in before)
    quantity = _quantity(before, after, unit, numbers, ended)
    tyre = None
    if not _OF_TYRES.isdisjoint(kinds):
        tyre = next((t for p in (*reversed(before), *after) if (t := _tyre(p, cut))), None)
    if quantity is None and last and tyre:
        quantity = last
    if quantity is None or (
        unit in ("lb", "in", "click", "round", "deg") and not quantity.endswith("-temperature")
    ):
        return None
    unit = None if unit == "deg" else unit
    condition = None
    if "COND" in kinds:
        condition = next(p.means for p in (*after, *reversed(before)) if p.kind == "COND")
    if quantity == "tyre-temperature" and len(numbers) not in (1, 3):
        return None
    return Measurement(
        quantity,
        numbers,
        unit or unit_by_size(quantity, numbers),
        tyre,
        condition,
        spans(part.first, part.last),
    )


def _back(parts: Sequence[Part], number: int) -> list[Part]:
    """Parts between this amount and the one before, in the same sentence."""
    start = number
    while start and parts[start - 1].kind != "AMOUNT" and parts[start - 1].means != "stop":
        start -= 1
    return list(parts[start:number])


def _ahead(parts: Sequence[Part], number: int) -> list[Part]:
    """Parts up to the next mark or amount."""
    end = number + 1
    while end < len(parts) and parts[end].kind not in ("AMOUNT", "MARK", "SEP"):
        end += 1
    return list(parts[number + 1 : end])


def _quantity(
    before: Sequence[Part],
    after: Sequence[Part],
    unit: str | None,
    numbers: tuple[float, ...],
    tyre_said: bool,
) -> str | None:
    said = [p.means for p in (*before, *after) if p.kind == "QUANTITY"]
    if any(p.kind == "SETTING" and "pressure" in p.means for p in (*before, *after)):
        return "tyre-pressure"
    if said:
        exact = [q for q in said if q not in ("tyre-temperature",)]
        return exact[0] if exact else said[0]
    if unit == "%" and tyre_said:
        return "tyre-wear"
    if unit in ("F", "C") or (len(numbers) == 3 and all(40 <= n <= 320 for n in numbers)):
        return "tyre-temperature"
    return _BY_UNIT.get(unit or "")


def _tyre(part: Part, cut: Cut) -> str | None:
    if part.kind not in _OF_TYRES:
        return None
    return tyre_in(cut.plain[part.first : part.last + 1])


def unit_by_size(quantity: str, numbers: tuple[float, ...]) -> str | None:
    """The unit a bare number is in, or None when it could be more than one or is far outside all."""
    for unit, low, high in _SIZES.get(quantity, ()):
        if all(low <= n <= high for n in numbers):
            return unit
    return None


class Spans:
    """Makes spans of typed text from word places."""

    def __init__(self, starts: Sequence[int], ends: Sequence[int], text: str) -> None:
        self.starts, self.ends, self.text = starts, ends, text

    def __call__(self, first: int, last: int) -> Span:
        start, end = self.starts[first], self.ends[last]
        return Span(start, end, self.text[start:end])

    def runs(self, places: Sequence[int]) -> tuple[Span, ...]:
        """Neighbouring words as one span. `places` are in order."""
        if not places:
            return ()
        found: list[Span] = []
        first = before = places[0]
        for place in places:
            if place > before + 1:
                found.append(self(first, before))
                first = place
            before = place
        found.append(self(first, before))
        return tuple(found)
