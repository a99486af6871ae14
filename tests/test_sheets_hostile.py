"""Sheets a client wrote badly: whatever stands in them, the refusal is a sheet's, never a defect of ours.

A failure of any other kind is told as one (`broken`), so these hold what `service.app` relies on.
"""

import copy
import json
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.errors import EngineError, SheetError
from engine.sheets import parse_car, parse_track

CAR: dict[str, Any] = {
    "id": "own",
    "settings": {
        "cross_weight": {"min": 45, "max": 60, "step": 0.5, "base": 50},
        "spring_lr": {"unit": "lb/in", "min": 150, "max": 400, "step": 25, "base": 200},
        "spring_rr": {"unit": "lb/in", "min": 150, "max": 400, "step": 25, "base": 200},
        "stagger": {"min": 0, "max": 3, "choices": [0, 1, 2, 3]},
    },
    "moves": [{"key": "both", "label": "Both", "parts": {"spring_lr": 1, "spring_rr": 1}, "reach": 1}],
    "limits": {
        "water_temperature_degF": 240,
        "links": [{"label": "split", "first": "spring_lr", "second": "spring_rr", "low": -50, "high": 50}],
    },
    "physics": {"wheelbase_in": 110, "mass_lb": 3400},
}
TRACK: dict[str, Any] = {
    "id": "own",
    "name": "Own",
    "kind": "oval",
    "wear": "normal",
    "length_mi": 0.5,
    "straight_ft": 600,
    "corners": [
        {"name": "1-2", "turn": "left", "radius_ft": [300] * 5, "banking_deg": [12] * 5, "weight": 1.0}
    ],
    "fit": {"own": {"cross_weight": 51}},
}
SCRAPS: st.SearchStrategy[Any] = st.sampled_from(
    [
        None,
        True,
        0,
        -1,
        0.5,
        1e15,
        "",
        "x",
        "60",
        [],
        [1],
        [None],
        {},
        {"a": 1},
        [[1]],
        [{}],
        ["x"],
        [1, 2, 3],
    ]
)


def places(data: Any, before: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The path of every part of a sheet."""
    parts = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in parts:
        yield (*before, key)
        yield from places(value, (*before, key))


def with_part(data: dict[str, Any], path: tuple[Any, ...], value: Any) -> dict[str, Any]:
    """The sheet with another part at a path."""
    made = copy.deepcopy(data)
    at: Any = made
    for key in path[:-1]:
        at = at[key]
    at[path[-1]] = value
    return made


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(path=st.sampled_from(list(places(CAR))), scrap=SCRAPS)
def test_a_car_sheet_with_any_part_spoilt_is_read_or_refused(path: tuple[Any, ...], scrap: Any) -> None:
    try:
        parse_car(with_part(CAR, path, scrap), "car")
    except EngineError as error:
        assert str(error)


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(path=st.sampled_from(list(places(TRACK))), scrap=SCRAPS)
def test_a_track_sheet_with_any_part_spoilt_is_read_or_refused(path: tuple[Any, ...], scrap: Any) -> None:
    try:
        parse_track(with_part(TRACK, path, scrap), "track")
    except EngineError as error:
        assert str(error)


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("settings", "cross_weight", "unit"), ["%"], "settings.cross_weight.unit"),
        (("settings", "stagger", "choices"), "0123", "settings.stagger.choices"),
        (("settings", "cross_weight", "step"), {"a": 1}, "step"),
        (("moves",), 3, "moves"),
        (("moves", 0, "key"), [], "moves.key"),
        (("moves", 0, "parts"), 4, "moves.both.parts"),
        (("moves", 0, "parts", "spring_lr"), "one", "moves.both.parts.spring_lr"),
        (("limits", "links"), [[1]], "limits.links"),
        (("limits", "water_temperature_degF"), {}, "limits.water_temperature_degF"),
    ],
)
def test_the_spoilt_part_is_named_with_its_value(path: tuple[Any, ...], value: Any, said: str) -> None:
    with pytest.raises(SheetError) as caught:
        parse_car(with_part(CAR, path, value), "car")

    assert said in str(caught.value) and repr(value) in str(caught.value), str(caught.value)


def test_the_sheets_they_start_from_are_sound() -> None:
    assert parse_car(json.loads(json.dumps(CAR)), "car").id == "own"
    assert parse_track(json.loads(json.dumps(TRACK)), "track").id == "own"
