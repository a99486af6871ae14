"""Numbers said: their values, the tyre or setting they belong to, and the unit when it can be told from the
size."""

from collections.abc import Sequence

from grammar.intent import Span
from grammar.lexing import Cut
from grammar.parts import Part

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


def tyre_in(words: Sequence[str]) -> str | None:
    """The one tyre that words name ("right front", "rf"), or None."""
    for word in words:
        if word in ("lf", "rf", "lr", "rr"):
            return word.upper()
    if "left" not in words and "right" not in words:
        return None
    return next(
        (
            tyre
            for (side, end), tyre in _TYRES.items()
            if side in words and (end in words or end + "s" in words)
        ),
        None,
    )


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
