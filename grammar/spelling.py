"""Spelling slips: the nearest known word by edit distance, or nothing.

Never a word that turns a meaning round (negation), never a guess between two words of different meaning,
never
an English word that only looks like one of ours ("light" is not a slip for "tight"). Distance: insertion,
deletion,
change, or exchange of two neighbours, one each (Damerau 1964); one slip up to six letters, two from eight.
"""

from functools import lru_cache

from grammar.vocabulary import vocabulary

_NEVER = frozenset(
    {
        "NEG",
        "LACK",
        "LESS",
        "FEAR",
        "STOP",
        "TRAP",
        "OTHER",
        "CREW",
        "FILL",
        "SEP",
        "ASK",
        "LIMIT",
        "OLD",
        "NEW",
    }
)
_SHORTEST = 5
_COMMONEST = frozenset({"tight", "loose", "push", "understeer", "oversteer", "center", "middle"})


@lru_cache(maxsize=1)
def _meanings() -> dict[str, set[str]]:
    """Words worth correcting to, each with the meanings it takes part in."""
    table = vocabulary()
    meanings: dict[str, set[str]] = {}
    for phrase, row in table.phrases:
        if row.kind not in _NEVER:
            for word in phrase.split():
                if len(word) >= _SHORTEST - 1 and word.isalpha() and word not in table.protected:
                    meanings.setdefault(word, set()).add(row.means)
    for form, base in table.forms.items():
        if base in meanings and len(form) >= _SHORTEST and form not in table.protected:
            meanings.setdefault(form, set()).update(meanings[base])
    return meanings


@lru_cache(maxsize=1)
def _targets() -> dict[tuple[int, str], tuple[tuple[str, int], ...]]:
    """The same words by length and by each of their first two letters, with their letters as bits."""
    groups: dict[tuple[int, str], list[tuple[str, int]]] = {}
    for word in sorted(_meanings()):
        for letter in dict.fromkeys(word[:2]):
            groups.setdefault((len(word), letter), []).append((word, letters(word)))
    return {key: tuple(group) for key, group in groups.items()}


@lru_cache(maxsize=4096)
def correct(word: str) -> str | None:
    """The known word that `word` is a slip for, or None if there is none or more than one fits."""
    shortest = _SHORTEST - 1 if word[:1] in "tlp" else _SHORTEST
    if len(word) < shortest or len(word) > 20 or not word.isascii() or word in vocabulary().protected:
        return None
    allowed, own = 1 if len(word) < 8 else 2, letters(word)
    best: dict[int, set[str]] = {}
    for length in range(len(word) - allowed, len(word) + allowed + 1):
        for target, theirs in _targets().get((length, word[0]), ()):
            if (own ^ theirs).bit_count() > 2 * allowed:
                continue
            gap = distance(word, target, allowed)
            if gap <= allowed:
                best.setdefault(gap, set()).add(target)
    if not best:
        return None
    nearest = sorted(best[min(best)])
    if len(word) < _SHORTEST:
        nearest = [target for target in nearest if target in _COMMONEST]
        return nearest[0] if len(nearest) == 1 else None
    common = [target for target in nearest if target in _COMMONEST]
    ways = {way for target in nearest for way in _meanings()[target] if way in ("tight", "loose")}
    if len(common) == 1 and len(ways) < 2:
        return common[0]
    if len({vocabulary().base(target) for target in nearest}) == 1:
        return nearest[0]
    meant = {frozenset(_meanings()[target]) for target in nearest}
    return (
        max(nearest, key=lambda word: word in _COMMONEST)
        if len(meant) == 1 and len(min(meant)) == 1
        else None
    )


def distance(a: str, b: str, most: int) -> int:
    """Edit distance with neighbour exchanges; may stop early and give `most` + 1."""
    before: list[int] = []
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        twice, before, row = before, row, [i]
        for j, y in enumerate(b, 1):
            cost = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (x != y))
            if i > 1 and j > 1 and x == b[j - 2] and a[i - 2] == y:
                cost = min(cost, twice[j - 2] + 1)
            row.append(cost)
        if min(row) > most:
            return most + 1
    return row[-1]


def letters(word: str) -> int:
    """The letters of a word as bits. A slip changes two at most: one letter for another."""
    bits = 0
    for letter in word:
        bits |= 1 << (ord(letter) & 31)
    return bits
