"""Reading put together: what is said, where, and how it is asked for, in every combination.

The words are ours; a combination must mean what its parts mean, whatever stands beside it. No source.
"""

from itertools import product

import pytest

from grammar.intent import PHASE_GROUPS
from grammar.reader import read

TROUBLES = {
    "tight": (
        "it's tight", "it pushes", "it won't turn", "the front slides", "the nose washes out", "it plows",
        "I can't get it to rotate", "I need more turn", "it shoves the nose", "the nose won't bite",
        "I'm having trouble getting it to turn", "it's lacking front bite", "there's a lot of understeer",
    ),
    "loose": (
        "it's way too free", "the rear steps out", "it comes around on me", "the back end kicks out",
        "I've got no rear grip", "it gets sideways", "it wants to spin", "I need more rear grip", "it snaps",
        "I can't keep the rear under me", "it over-rotates", "we've got oversteer",
    ),
}  # fmt: skip
PLACES = {
    "entry": ("getting in", "on entry", "into one", "into the corner", "on the brakes"),
    "centre": ("in the middle", "through the center", "mid-corner", "at the apex"),
    "exit": ("coming off", "on exit", "off of two", "when I get back to the gas", "under power"),
}
WISHES = {
    "loose": ("tighter", "snugger"),
    "tight": ("looser", "freer"),
}
WISHED = (
    "need it {} {}", "I'd like to be {} {}", "can you get me {} {}", "could stand to be a little {} {}",
    "get it a bit {} {} for me", "if it was {} {} it'd be perfect", "let's go {} {}", "I wish it was {} {}",
)  # fmt: skip
NAMED = (
    "can we do something about being {} {}", "can't have it this {} {}", "need to quit being {} {}",
    "stop it from being {} {}", "I need it less {} {}", "why is it so {} {}", "no good like this, it's {} {}",
)  # fmt: skip


def _live(text: str) -> list[tuple[str | None, str]]:
    """Direction and group of phases of each live balance symptom."""
    groups = {phase: name for name, phases in PHASE_GROUPS.items() for phase in phases}
    return sorted(
        (s.direction, "+".join(sorted({groups[p] for p in s.phases})) if s.phase_said else "?")
        for s in read(text).live()
        if s.kind == "balance"
    )


@pytest.mark.parametrize("way", TROUBLES)
def test_each_trouble_in_each_place_said_before_or_behind(way: str) -> None:
    wrong = {
        text: found
        for trouble, (group, names) in product(TROUBLES[way], PLACES.items())
        for place in names
        for text in (
            f"{trouble} {place}",
            f"{place} {trouble}",
            f"{trouble} {place}, other than that it's good",
        )
        if (found := _live(text)) != [(way, group)]
    }

    assert wrong == {}


def test_two_troubles_keep_their_own_places() -> None:
    wrong = {
        text: found
        for (tight, loose), joint in product(
            zip(TROUBLES["tight"], TROUBLES["loose"], strict=False), (" and ", ", ", " then ", " but ", ". ")
        )
        for text in (f"{tight} in the middle{joint}{loose} off the corner",)
        if (found := _live(text)) != [("loose", "exit"), ("tight", "centre")]
    }

    assert wrong == {}


@pytest.mark.parametrize("way", WISHES)
def test_a_wish_names_the_opposite_of_the_trouble(way: str) -> None:
    wrong = {
        text: found
        for wish, word, (group, names) in product(WISHED, WISHES[way], PLACES.items())
        for text in (wish.format(word, names[0]), wish.format(word, names[-1]))
        if (found := _live(text)) != [(way, group)]
    }

    assert wrong == {}


@pytest.mark.parametrize("word", ["tight", "loose"])
def test_a_wish_to_be_rid_of_it_names_the_trouble(word: str) -> None:
    wrong = {
        text: found
        for wish, (group, names) in product(NAMED, PLACES.items())
        for text in (wish.format(word, names[0]), wish.format(word, names[-1]))
        if (found := _live(text)) != [(word, group)]
    }

    assert wrong == {}
