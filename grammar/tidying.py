"""Text before reading: words and marks in lower case, each with its place in the typed text."""

import re
from dataclasses import dataclass

from grammar.errors import EmptyText, TextTooLong

MAX_CHARACTERS = 2000
_SHORTENED = {
    "we're": "weare",
    "we'll": "wewill",
    "we'd": "wewould",
    "he'll": "hewill",
    "she'll": "shewill",
    "i'll": "iwill",
    "it'll": "itwill",
}
"""Short forms that would look like another word without their apostrophe ("we'll" is not "well")."""
MAX_WORDS = 200

_WORD = re.compile(
    r"(?! )(?:(?P<word>[^\W\d_]+(?:['’`´][^\W\d_]+)*)"
    r"|(?P<number>\d{1,2}:[0-5]\d(?:[.]\d+)?(?![\d:])|[-−+]?(?:\d{1,2}\s*/\s*(?:16|2|3|4|8)\b|\d+(?:[.,]\d+)?|[.]\d+)(?:st|nd|rd|th)?)"
    r"|(?P<mark>[.,;!?\n]+|…|--+|[—–])"
    r"|(?P<sign>[%°/&+=])"
    r"|(?P<other>(?<=\d):(?=\d)|[^\s:\-\"'’‘“”`´()\[\]{}*_|~<>@#^\\]))"
)
_APOSTROPHES = re.compile(r"['’`´]")


@dataclass(slots=True)
class Word:
    """One word, number or mark. `kind`: word, number, mark, sign, other; `plain` is lower case without
    apostrophes."""

    start: int
    end: int
    plain: str
    kind: str


def tidy(text: str) -> list[Word]:
    """Words of `text` in order. Raises EmptyText, TextTooLong (over 2,000 characters or 200 words)."""
    if len(text) > MAX_CHARACTERS:
        raise TextTooLong(len(text), MAX_CHARACTERS, "characters")
    if not text.strip():
        raise EmptyText
    words: list[Word] = []
    for match in _WORD.finditer(text):
        plain = match[0].lower()
        if plain.isalpha():
            words.append(Word(*match.span(), plain, "word"))
        else:
            words.append(_word(match, text))
    if len(words) > MAX_WORDS and (count := sum(w.kind in ("word", "number") for w in words)) > MAX_WORDS:
        raise TextTooLong(count, MAX_WORDS, "words")
    return words


def _word(match: re.Match[str], text: str) -> Word:
    """A number, a mark, a sign, or a word that is not all letters."""
    kind = match.lastgroup or "other"
    start, plain = match.start(), match.group()
    if kind == "number" and plain[0] in "-−+" and start and text[start - 1].isalnum():
        start, plain = start + 1, plain[1:]
    if kind == "word":
        plain = _APOSTROPHES.sub("'", plain.lower())
        plain = _SHORTENED.get(plain) or plain.replace("'", "")
    elif kind == "number":
        plain = _digits(plain.lower())
    return Word(start, match.end(), plain, kind)


def _digits(plain: str) -> str:
    """A number with a plain minus and a decimal point; "1,250" is a thousand and a quarter thousand."""
    plain = plain.replace("−", "-").replace(" ", "")
    head, _, tail = plain.partition(",")
    if tail:
        return head + tail if len(tail) == 3 else f"{head}.{tail}"
    return plain
