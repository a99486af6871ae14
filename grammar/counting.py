"""Numbers as they are spoken: "two forty five" is 245, "seventy two hundred" 7200, "thirty point two"
30.2."""

from collections.abc import Sequence

__all__ = ["number_at"]

_ONES = {
    "zero": 0, "oh": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight":
    8,
    "nine": 9,
}  # fmt: skip
_TEENS = {
    "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
    "seventeen": 17, "eighteen": 18, "nineteen": 19,
}  # fmt: skip
_TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80,
    "ninety": 90,
}  # fmt: skip
_ONE_OF = frozenset({"tenth", "hundredth", "pound", "degree", "percent"})
"""Behind "a" these say one of them."""
_PARTS = {"half": 0.5, "quarter": 0.25, "eighth": 0.125}


def number_at(words: Sequence[str], place: int) -> tuple[float, int] | None:
    """The number that begins at a word, and the place of its last word; None where none begins there.

    Digits, "a half", "half a", "couple", and spoken numbers are known."""
    word = words[place]
    if word[-1:].isdigit():
        value = _digits(word)
        return None if value is None else _with_part(words, place, value)
    if word in ("a", "an"):
        ahead = words[place + 1] if place + 1 < len(words) else ""
        if ahead in _ONE_OF:
            return 1.0, place
        if ahead == "full":
            return 1.0, place + 1
        if ahead in _PARTS or ahead in ("hundred", "couple"):
            return number_at(words, place + 1)
        return None
    if word in _PARTS:
        more = tuple(words[place + 1 : place + 2]) in (("a",), ("an",))
        return _PARTS[word], place + more
    if word == "couple":
        return 2.0, place + (tuple(words[place + 1 : place + 2]) == ("of",))
    found = _spoken(words, place)
    return None if found is None else _with_part(words, found[1], found[0])


def _digits(word: str) -> float | None:
    minutes, colon, seconds = word.partition(":")
    top, stroke, below = word.partition("/")
    try:
        if colon:
            return round(int(minutes) * 60 + float(seconds), 4)
        return round(float(top) / float(below), 4) if stroke else float(word)
    except (ValueError, ZeroDivisionError):
        return None


def _with_part(words: Sequence[str], last: int, value: float) -> tuple[float, int]:
    """ "Six and a half", "thirty point two"."""
    behind = tuple(words[last + 1 : last + 4])
    if behind[:2] == ("and", "a") and behind[2:] and behind[2] in _PARTS:
        return value + _PARTS[behind[2]], last + 3
    if behind[:1] == ("point",):
        figures, end = "", last + 1
        while end + 1 < len(words) and len(figures) < 3 and (said := _figures(words[end + 1])):
            figures, end = figures + said, end + 1
        if figures:
            return round(value + float(f"0.{figures}"), 4), end
    return value, last


def _figures(word: str) -> str:
    if word in _ONES:
        return str(_ONES[word])
    if word in _TEENS or word in _TENS:
        return str({**_TEENS, **_TENS}[word])
    return word if word.isdigit() else ""


def _spoken(words: Sequence[str], place: int) -> tuple[float, int] | None:
    """Number words in a row, read as they are spoken."""
    first = _under_hundred(words, place)
    if first is None:
        if words[place] != "hundred":
            return None
        first = (1, place - 1)
    value, last = first
    if tuple(words[last + 1 : last + 2]) == ("hundred",):
        value, last = value * 100, last + 1
    elif tuple(words[last + 1 : last + 2]) == ("thousand",):
        value, last = value * 1000, last + 1
        hundreds = _under_hundred(words, last + 1) if last + 1 < len(words) else None
        if hundreds and tuple(words[hundreds[1] + 1 : hundreds[1] + 2]) == ("hundred",):
            return float(value + hundreds[0] * 100), hundreds[1] + 1
        return float(value), last
    elif not (0 < value < 10):
        after = _under_hundred(words, last + 1) if last + 1 < len(words) else None
        if after is not None and value >= 10 and after[0] >= 10:
            return round(value + after[0] / 100.0, 2), after[1]
        return float(value), last
    rest = last + 2 if tuple(words[last + 1 : last + 2]) == ("and",) else last + 1
    below = _under_hundred(words, rest) if rest < len(words) else None
    if value < 10:
        oh = words[last + 1] == "oh" if last + 1 < len(words) else False
        if below is None or (below[0] < 10 and not oh) or rest != last + 1:
            return float(value), last
        return float(value * 100 + below[0]), below[1]
    return (float(value), last) if below is None else (float(value + below[0]), below[1])


def _under_hundred(words: Sequence[str], place: int) -> tuple[int, int] | None:
    word = words[place]
    if word == "oh" and place + 1 < len(words) and words[place + 1] in _ONES:
        return _ONES[words[place + 1]], place + 1
    if word in _TEENS:
        return _TEENS[word], place
    if word in _TENS:
        ahead = words[place + 1] if place + 1 < len(words) else ""
        unit = _ONES.get(ahead, 0)
        return _TENS[word] + unit, place + bool(unit)
    return (_ONES[word], place) if word in _ONES and word != "oh" else None
