"""The moves of a car at a track that turns both ways: left and right alike, and what loads one side more only
where the driver names it."""

import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from engine.car import Car, Move
from engine.sheet_moves import pair
from engine.track import Track

__all__ = ["NAMED", "loads_one_side", "moves_at", "turns_both_ways"]

NAMED = 50.0
"""Reach from which a lever is one the driver must name."""
SIDES = ("lf", "rf", "lr", "rr", "left", "right")
ONE_SIDED = ("cross_weight", "left_weight", "stagger")
"""Settings that load one side more without saying so in their key."""
FILE = "both_ways.toml"


@cache
def _table() -> Mapping[str, Any]:
    return tomllib.loads(files("engine").joinpath(FILE).read_text("utf-8"))


def turns_both_ways(track: Track) -> bool:
    """True when the track has corners of both hands."""
    return len({corner.turn for corner in track.corners}) > 1


def loads_one_side(move: Move, moves: Iterable[Move]) -> bool:
    """True when a move is left to the driver's word because the track of these moves turns both ways."""
    pairs = {row["key"] for row in _table()["moves"]}
    return move.reach >= NAMED and _one_sided(move) and any(other.key in pairs for other in moves)


def moves_at(car: Car, track: Track) -> tuple[Move, ...]:
    """The car's moves at a track; the same ones where all corners are of one hand."""
    if not turns_both_ways(track):
        return car.moves
    own = tuple(_reached(move) for move in car.moves)
    by_key = {move.key: move for move in car.moves}
    rows = [row for row in _table()["moves"] if row["key"] not in by_key and set(row["parts"]) <= set(by_key)]
    return (*own, *(pair(row, by_key, FILE) for row in rows))


def _reached(move: Move) -> Move:
    """The move as it is reached for where the track turns both ways."""
    said = _table()["reach"].get(move.key)
    if said is None and _one_sided(move):
        said = max(NAMED, move.reach)
    return move if said is None else move.model_copy(update={"reach": said})


def _one_sided(move: Move) -> bool:
    """True when left and right do not move alike."""
    return any(key in ONE_SIDED or _other(key) not in move.parts for key in move.parts) or any(
        move.parts[_other(key)] != clicks for key, clicks in move.parts.items()
    )


def _other(key: str) -> str:
    """The setting of the other side; the setting itself where it has no side."""
    stem, _, side = key.rpartition("_")
    other = dict(zip(SIDES, ("rf", "lf", "rr", "lr", "right", "left"), strict=True)).get(side)
    return f"{stem}_{other}" if other else key
