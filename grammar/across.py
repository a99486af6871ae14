"""Figures as measurements: what was said of several points of one tyre becomes one reading across it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from grammar.amounts import Spans
from grammar.intent import Measurement, Span

__all__ = ["Figure", "as_measurements"]


@dataclass(slots=True)
class Figure:
    """One number with what belongs to it; `first` and `last` the words it was read from."""

    quantity: str
    values: tuple[float, ...]
    unit: str | None
    tyre: str | None
    condition: str | None
    point: str | None
    against: str | None
    number: tuple[int, int]
    first: int
    last: int


def as_measurements(found: Sequence[Figure], spans: Spans) -> Iterator[Measurement]:
    """Figures as measurements; points of one tyre that belong together as one."""
    done: set[int] = set()
    for n, one in enumerate(found):
        if n in done:
            continue
        same = [m for m in range(n, len(found)) if _one_tyre(one, found[m])] if one.point else [n]
        across = {found[m].point: found[m] for m in same}
        values = _across({str(point): f.values[0] for point, f in across.items()}) if len(same) > 1 else None
        if values:
            done.update(same)
            numbers = [found[m].number for m in same]
            unit = next((f.unit for m in same if (f := found[m]).unit == "C"), one.unit)
            span = spans(min(first for first, _ in numbers), max(last for _, last in numbers))
            yield from _each(replace(one, unit=unit), values, None, span)
        else:
            yield from _each(one, one.values, one.point, spans(*one.number))


def _one_tyre(one: Figure, other: Figure) -> bool:
    return (
        one.quantity == other.quantity
        and one.tyre == other.tyre
        and other.point is not None
        and one.against is None is other.against
    )


def _across(points: dict[str, float]) -> tuple[float, ...] | None:
    """(inside, middle, outside) or (inside, outside), or None when an edge is missing."""
    edges = points.get("edges")
    inside, outside = points.get("inside", edges), points.get("outside", edges)
    if inside is None or outside is None:
        return None
    return (inside, points["middle"], outside) if "middle" in points else (inside, outside)


def _each(one: Figure, values: tuple[float, ...], point: str | None, span: Span) -> Iterator[Measurement]:
    """One measurement a tyre."""
    for tyre in one.tyre.split("_") if one.tyre else (None,):
        yield Measurement(one.quantity, values, one.unit, tyre, one.condition, span, point, one.against)
