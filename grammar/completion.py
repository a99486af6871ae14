"""What may come next: the unfinished last word completed from the vocabulary. Pure."""

from functools import lru_cache

from grammar.vocabulary import vocabulary

_STARTERS = ("loose", "tight", "a little", "pushing", "free", "better", "no change")
_AFTER_BALANCE = (
    "in",
    "off",
    "in the middle",
    "on the brakes",
    "everywhere",
    "at half fuel",
    "late in the run",
)
_OFFERED = (
    "BAL",
    "PHASE",
    "STAGE",
    "SEV",
    "VERDICT",
    "SETTING",
    "LIMIT",
    "ASK",
    "SYM",
    "GOOD",
)
_MOST = 12


@lru_cache(maxsize=1)
def _offers() -> tuple[tuple[str, str], ...]:
    """Every phrase worth offering with its kind, short ones first."""
    table = vocabulary()
    offers = {
        (phrase, row.kind)
        for phrase, row in table.phrases
        if row.kind in _OFFERED and not (row.only_after or row.only_before)
    }
    return tuple(sorted(offers, key=lambda offer: (len(offer[0]), offer[0])))


def complete(text_before_cursor: str) -> list[str]:
    """Replacements for the unfinished last word, best first, at most twelve.

    Empty text or a text ending in a space gives what usually comes next."""
    head, _, last = text_before_cursor.replace("\n", " ").rpartition(" ")
    if not last:
        return _next(head)
    low = last.lower()
    return [phrase for phrase, _ in _offers() if phrase.startswith(low) and phrase != low][:_MOST]


def _next(text: str) -> list[str]:
    words = text.lower().split()
    table = vocabulary()
    for length in (3, 2, 1):
        node = table.tree
        for word in words[-length:]:
            found = node.next.get(word)
            if found is None:
                break
            node = found
        else:
            if words and node.row is not None and node.row.kind in ("BAL", "MOVE"):
                return list(_AFTER_BALANCE)
    return list(_STARTERS)
