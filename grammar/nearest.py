"""Known words near an unknown one, to offer, never to assume."""

from difflib import get_close_matches
from functools import lru_cache

from grammar.vocabulary import vocabulary

_OFFERED = ("BAL", "PHASE", "STAGE", "SYM", "SETTING", "VERDICT")


@lru_cache(maxsize=1)
def _offered() -> tuple[str, ...]:
    phrases = {
        phrase for phrase, row in vocabulary().phrases if row.kind in _OFFERED and phrase.count(" ") < 3
    }
    return tuple(sorted(phrases))


@lru_cache(maxsize=512)
def known_words_near(text: str) -> tuple[str, ...]:
    """Up to three phrases like `text`, nearest first."""
    return tuple(get_close_matches(text.lower()[:40], _offered(), n=3, cutoff=0.75))
