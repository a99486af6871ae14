"""Stories: a car, a track, what the driver said, and what the trade would expect of the answer.

A story in `scenarios/*.toml` gives `phrase`, and what must hold: `status`; `any_of` (one of these levers
is on the list); `none_of` (none is); `untouched` (settings that stay); `within` (every change is among
these settings); `most` (changes at most); `clash` (kinds of members that must be in the clash); `note`
(kinds of notes); `alike` (what there is at both wheels of an end moves by the same at both); `kept` (phase
and stage that move less than a slight complaint, 0.5 feel); `cooler` (degF the water falls at least); `by`
(setting = change). A lever is a setting and "up" or "down". `why` gives the source, and `mark` how far it is
trusted: P published, P* weak, C common practice without a source, A arithmetic.
"""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from engine.adviser import advise
from engine.car import Car
from engine.needs import SEVERITY
from engine.sheets import at_track, shipped_cars, shipped_tracks
from engine.task import INDEX
from engine.track import Track
from engine.verdict import Verdict
from grammar.reader import read
from service.answering import reading_out
from service.telling import told

FOLDER = Path(__file__).parent / "scenarios"
STORIES = {
    f"{path.stem}/{name}": story
    for path in sorted(FOLDER.glob("*.toml"))
    for name, story in tomllib.loads(path.read_text("utf-8")).items()
}
ABOUT = {"story", "why", "mark", "car", "track", "setup", "phrase", "status"}
EXPECTED = {
    "any_of",
    "none_of",
    "untouched",
    "within",
    "most",
    "clash",
    "note",
    "alike",
    "kept",
    "cooler",
    "by",
}


def sheets(story: dict[str, Any]) -> tuple[Car, Track]:
    """The car with its base set-up for the track, as every door takes it, and the track."""
    track = shipped_tracks()[story["track"]]
    return at_track(shipped_cars()[story["car"]], track), track


def verdict_of(story: dict[str, Any]) -> Verdict:
    """The engine's answer to a story."""
    car, track = sheets(story)
    return advise(read(story["phrase"]), car, track, car.complete(story.get("setup")))


def one_sided(found: Verdict) -> dict[str, set[int]]:
    """Kinds of setting at the wheels of one end that do not go the same way by the same clicks; the track bar
    has ends of its own."""
    clicks: dict[str, dict[str, int]] = {}
    for change in found.plan.changes if found.plan else ():
        stem, _, side = change.setting.rpartition("_")
        if side in ("lf", "rf", "lr", "rr"):
            clicks.setdefault(f"{stem} {side[1]}", {})[side[0]] = change.clicks
    return {
        kind: set(sides.values())
        for kind, sides in clicks.items()
        if len(sides) < 2 or len(set(sides.values())) > 1
    }


def levers(found: Verdict) -> set[tuple[str, str]]:
    """Settings on the list and which way they go."""
    return {(c.setting, "up" if c.clicks > 0 else "down") for c in (found.plan.changes if found.plan else ())}


@pytest.mark.parametrize("name", STORIES)
def test_story(name: str) -> None:
    story = STORIES[name]
    found = verdict_of(story)
    moved, said = levers(found), f"{story['story']} Why: {story['why']}"
    assert found.status == story["status"], said
    if "any_of" in story:
        assert moved & {(key, way) for key, way in story["any_of"]}, (said, moved)
    assert not moved & {(key, way) for key, way in story.get("none_of", ())}, (said, moved)
    assert not {key for key, _ in moved} & set(story.get("untouched", ())), (said, moved)
    if "within" in story:
        assert {key for key, _ in moved} <= set(story["within"]), (said, moved)
    if "most" in story:
        assert len({c.move for c in found.plan.changes} if found.plan else ()) <= story["most"], (said, moved)
    for place in story.get("kept", ()):
        assert found.plan is not None, said
        assert abs(found.plan.deltas[INDEX[f"balance/{place}"]]) < SEVERITY["slight"], (said, place)
    for key, amount in story.get("by", {}).items():
        assert found.plan is not None, said
        assert [c.after - c.before for c in found.plan.changes if c.setting == key] == [amount], (said, moved)
    if "cooler" in story:
        assert found.plan is not None, said
        assert found.plan.deltas[INDEX["water-temperature"]] <= -story["cooler"], said
    if story.get("alike"):
        assert not one_sided(found), (said, moved)
    if "clash" in story:
        assert found.clash is not None, said
        assert set(story["clash"]) <= {f.kind for f in found.clash.members}, (said, found.clash.members)
    assert set(story.get("note", ())) <= {f.kind for f in found.notes}, (said, found.notes)


@pytest.mark.parametrize("name", STORIES)
def test_every_story_can_be_told_and_stays_on_the_sheet(name: str) -> None:
    story = STORIES[name]
    car, track = sheets(story)
    found = verdict_of(story)
    answer = told(found, reading_out(read(story["phrase"])), car, track, None)
    assert answer.summary
    for plan in (found.plan, *found.alternatives):
        for change in plan.changes if plan else ():
            setting = car.setting(change.setting)
            assert setting.click_of(change.after) - setting.click_of(change.before) == change.clicks


def test_stories_say_what_they_rest_on() -> None:
    assert len(STORIES) >= 40
    for name, story in STORIES.items():
        assert set(story) <= ABOUT | EXPECTED, name
        assert story["mark"] in ("P", "P*", "P>", "C", "A"), name
        assert story["story"] and story["why"], name
