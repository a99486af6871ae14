"""Seeded random planning problems, from a handful of items to forty, with every kind of condition in them.

Effects are a few common patterns plus noise, because a car's channels move together; values are invented."""

import numpy as np

from engine.problem import Array, Band, Item, Limit, LinkRow, Part, Problem, Want


def make_problem(
    seed: int, items: int, channels: int, clicks: int, wants: int, max_moves: int = 3
) -> Problem:
    """One problem; the same for the same arguments on every machine."""
    dice = np.random.default_rng([seed, items, channels, clicks, wants, max_moves])
    asked = _wants(dice, channels, wants)
    movers = _items(dice, items, clicks)
    complained = {part.channel for want in asked for part in want.parts}
    return Problem(
        items=movers,
        effects=_effects(dice, items, channels),
        wants=asked,
        bands=_bands(dice, [c for c in range(channels) if c not in complained]),
        links=_links(dice, items),
        limits=_limits(dice, items),
        forbidden=_forbidden(dice, movers),
        max_moves=max_moves,
        wide_moves=max_moves + 1,
        grain=float(dice.choice([1e-4, 0.01, 0.05])),
    )


def _effects(dice: np.random.Generator, items: int, channels: int) -> Array:
    common = dice.normal(0, 1, (items, 3)) @ dice.normal(0, 0.16, (3, channels))
    own = dice.normal(0, 0.08, (items, channels)) * (dice.random((items, channels)) < 0.7)
    effects: Array = common + own
    return effects


def _items(dice: np.random.Generator, items: int, clicks: int) -> tuple[Item, ...]:
    single = max(1, items * 3 // 4)
    found = []
    for i in range(items):
        pair = dice.choice(single, 2) if i >= single else [i]
        low, high = -int(dice.integers(0, clicks + 1)), int(dice.integers(0, clicks + 1))
        reach = float(dice.choice([1, 1.25, 2, 3, 4.5]))
        settings = frozenset(f"setting-{int(p):02}" for p in pair)
        found.append(
            Item(f"item-{int(dice.integers(100)):02}-{i:02}", low, high, reach, 1 / clicks, settings)
        )
    return tuple(found)


def _wants(dice: np.random.Generator, channels: int, wants: int) -> tuple[Want, ...]:
    found, free = [], list(range(channels))
    levelled = dice.random() < 0.4
    for i in range(wants):
        count = int(dice.choice([1, 2])) if len(free) > 2 * (wants - i) else 1
        parts = tuple(Part(free.pop(0), 1.0 / count) for _ in range(count))
        target = float(dice.choice([-1, 1]) * dice.choice([0.3, 0.5, 0.73, 1.0, 2.0]))
        undo = float(dice.choice([0.2, 0.4]))
        found.append(Want(f"want-{i}", parts, target, 0.35, 0.25, undo, i if levelled else 0))
    return tuple(found)


def _bands(dice: np.random.Generator, channels: list[int]) -> tuple[Band, ...]:
    found = []
    room = float(dice.choice([1.0, 1.0, 2.5]))
    for c in channels:
        width = room * float(dice.choice([0.2, 0.35, 0.6]))
        low, high = (-width, width) if dice.random() < 0.8 else (-np.inf, float(dice.choice([0.0, width])))
        penalty = 5.0 if dice.random() < 0.15 else None
        found.append(Band(f"band-{c:02}", c, low, high, float(dice.choice([0.5, 1.0, 3.0])), penalty))
    return tuple(found)


def _links(dice: np.random.Generator, items: int) -> tuple[LinkRow, ...]:
    if items < 3 or dice.random() < 0.5:
        return ()
    first, second = (int(i) for i in dice.choice(items, 2, replace=False))
    return (LinkRow("link", ((first, 25.0), (second, -12.5)), -25.0, 37.5),)


def _limits(dice: np.random.Generator, items: int) -> tuple[Limit, ...]:
    locked = [int(i) for i in dice.choice(items, max(1, items // 8), replace=False)]
    capped = [int(i) for i in dice.choice(items, max(1, items // 4), replace=False)]
    return (
        Limit("locked", tuple((i, 0, 0) for i in locked)),
        Limit("capped", tuple((i, -1, 1) for i in capped)),
    )


def _forbidden(dice: np.random.Generator, items: tuple[Item, ...]) -> tuple[frozenset[str], ...]:
    """Now and then one set of one or two items."""
    if dice.random() < 0.6:
        return ()
    size = min(int(dice.integers(1, 3)), len(items))
    return (frozenset(items[int(i)].key for i in dice.choice(len(items), size, replace=False)),)
