"""Known words near an unknown one, to offer, never to assume."""

from collections.abc import Iterator
from difflib import get_close_matches
from functools import lru_cache

from grammar.spelling import letters
from grammar.vocabulary import vocabulary

_CUTOFF = 0.75
"""Least likeness: twice the letters in common, by the letters of both."""
_OFFERED = ("BAL", "PHASE", "STAGE", "SYM", "SETTING", "VERDICT")


@lru_cache(maxsize=1)
def _offered() -> dict[int, list[tuple[str, int]]]:
    """Every phrase that may be offered, by its length, with its letters."""
    phrases = {
        phrase for phrase, row in vocabulary().phrases if row.kind in _OFFERED and phrase.count(" ") < 3
    }
    groups: dict[int, list[tuple[str, int]]] = {}
    for phrase in phrases:
        groups.setdefault(len(phrase), []).append((phrase, letters(phrase)))
    return groups


@lru_cache(maxsize=512)
def known_words_near(text: str) -> tuple[str, ...]:
    """Up to three phrases like `text`, nearest first."""
    said = text.lower()[:40]
    return tuple(get_close_matches(said, _likely(said), n=3, cutoff=_CUTOFF))


def _likely(said: str) -> Iterator[str]:
    """The phrases that can be near enough, by the letters that only one of the two has."""
    own = letters(said)
    for length, phrases in _offered().items():
        common = _CUTOFF * (len(said) + length) / 2
        spare, theirs_spare = len(said) - common, length - common
        if spare >= 0 and theirs_spare >= 0:
            for phrase, theirs in phrases:
                if (own & ~theirs).bit_count() <= spare and (theirs & ~own).bit_count() <= theirs_spare:
                    yield phrase
