"""Numbers read off the car in words: "225 in the middle and 200 on the edges", "left side built 4 and the
right side 8".

The words of a sentence become marks (`marks`). Each number takes the tyre and the point that stand before it
and are not another number's, else those behind it. A number that counts something else (laps, rounds) or
belongs to a change is left alone.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from grammar.across import Figure, as_measurements
from grammar.amounts import Spans
from grammar.beside import SOFT, clause, compared, comparison, of_points, since_and, stretch, until
from grammar.intent import Measurement
from grammar.lexing import Cut
from grammar.marks import TENTHS, Mark, marks, table
from grammar.quantities import Asked, Memory, quantity_of

__all__ = ["Figures", "figures"]

_BETWEEN = frozenset({"POINT", "LEFT", "MORE", "LESS", "WORN", "TYRE", "THAN"})
"""What else may stand between a number and its tyre behind it."""
_SECONDS = frozenset({"s", "tenth", "hundredth"})
_NEVER_ACROSS = frozenset({"%", "lb", "psi", "kPa", "bar", "rpm", "s"})
"""Units of what is not measured at points across a tyre."""
_USED = frozenset({"COND", "WORN", "BUILT", "FALL", "QUANTITY", "LEFT", "ACROSS", "WHEN"})
"""Kinds of marks beside a number that belong to it."""


@dataclass(slots=True)
class Figures:
    """`measurements`, and the places of the words they were read from."""

    measurements: list[Measurement] = field(default_factory=list)
    places: list[tuple[int, int]] = field(default_factory=list)
    left: list[tuple[int, int]] = field(default_factory=list)
    """Numbers of the car that nothing was made of."""
    asked: list[tuple[int, int]] = field(default_factory=list)
    """Those of them that a tyre stands beside, with it."""
    units: list[tuple[int, int]] = field(default_factory=list)
    """Those of them that a unit stands behind, with it."""


def figures(cut: Cut, spans: Spans, heard: frozenset[int] = frozenset()) -> Figures:
    """All measurements of a text. `heard` are places of words that were read otherwise already."""
    found = Figures()
    if "NUM" not in [piece.kind for piece in cut.pieces] and TENTHS.isdisjoint(cut.plain):
        return found
    kinds = {n: piece.kind for piece in cut.pieces for n in range(piece.first, piece.last + 1)}
    for n in heard:
        kinds[n] = "HEARD"
    tyre: str | None = None
    for first, last in _sentences(cut):
        said = marks(cut, kinds, first, last)
        if not any(mark.kind == "NUM" for mark in said):
            continue
        sentence = _Sentence(said, cut, tyre)
        sentence.read(None)
        if sentence.left and (same := sentence.of_tyres()):
            for mark in said:
                mark.taken = False
            sentence = _Sentence(said, cut, tyre)
            sentence.memory.condition = same.condition
            sentence.read(same.quantity)
        tyre = sentence.memory.tyre
        found.measurements += as_measurements(sentence.figures, spans)
        found.places += [(f.first, f.last) for f in sentence.figures]
        found.left += [(mark.first, mark.last) for mark in sentence.left]
        found.asked += sentence.asked
        found.units += sentence.units
    return found


def _sentences(cut: Cut) -> Iterator[tuple[int, int]]:
    first = 0
    for piece in cut.pieces:
        if piece.kind == "MARK" and piece.means == "stop":
            if piece.first > first:
                yield first, piece.first - 1
            first = piece.last + 1
    if first < len(cut.plain):
        yield first, len(cut.plain) - 1


class _Sentence:
    """The marks of one sentence, and what its numbers said so far."""

    def __init__(self, found: Sequence[Mark], cut: Cut, tyre: str | None) -> None:
        self.marks, self.cut = found, cut
        self.memory = Memory.of(found, cut.plain, tyre)
        start, end = found[0].first, found[-1].last
        self.others = [
            piece
            for piece in cut.pieces
            if start <= piece.first <= end
            and (piece.kind == "SETTING" or (piece.kind == "ASK" and piece.means == "what-if"))
        ]
        """What else a number may be of: settings spoken of, and asking "what if"."""
        self.remaining = any(m.kind == "LEFT" for m in found)
        self.figures: list[Figure] = []
        self.left: list[Mark] = []
        self.asked: list[tuple[int, int]] = []
        self.units: list[tuple[int, int]] = []

    def of_tyres(self) -> Figure | None:
        """The first figure of a tyre: those before it that named no quantity are of the same."""
        return next((f for f in self.figures if f.tyre and f.against is None), None)

    def read(self, quantity: str | None) -> None:
        """Read every number; `quantity` is what one that does not say is of."""
        self.memory.quantity = quantity
        named = {m.means for m in self.marks if m.kind == "TYRE"}
        if len(named) == 1 and any(m.kind == "POINT" for m in self.marks):
            self.memory.tyre = next(iter(named))
        at = [n for n, mark in enumerate(self.marks) if mark.kind == "NUM"]
        ends = [m.means for m in self.marks[-3:] if m.kind in ("COMMA", "COND") or m.means == "all"]
        if len(at) > 1 and self.marks[-1].kind == "COND" and len(ends) > 1:
            self.memory.condition = self.marks[-1].means
        for n, place in enumerate(at):
            start = at[n - 1] + 1 if n else 0
            end = at[n + 1] if n + 1 < len(at) else len(self.marks)
            if self._counts(place):
                continue
            figure = self._figure(self.marks[start:place], self.marks[place], self.marks[place + 1 : end])
            if figure is None:
                if self._stands_out(place):
                    self.left.append(self.marks[place])
                    self._ask(self.marks[start:place], self.marks[place], self.marks[place + 1 : end])
            else:
                self.figures.append(figure)

    def _counts(self, place: int) -> bool:
        """Whether the number counts something else or is of a change."""
        words, mark, rules = self.cut.plain, self.marks[place], table()
        ahead, behind = words[mark.last + 1 : mark.last + 2], words[mark.first - 1 : mark.first]
        of_ten = ("out", "of") in (words[mark.first - 2 : mark.first], words[mark.last + 1 : mark.last + 3])
        corner = not rules.behind.isdisjoint(behind) and max(mark.values) < 500
        if of_ten or corner or not rules.before.isdisjoint(ahead):
            return True
        unit = next((m for m in self.marks[place + 1 : place + 2] if m.kind == "UNIT"), None)
        if unit is not None and not rules.after_unit.isdisjoint(words[unit.last + 1 : unit.last + 3]):
            return True
        wished = unit is not None and unit.means == "lb" and self.marks[place + 2 : place + 3]
        if wished and wished[0].means in ("more", "less") and not any(m.kind == "THAN" for m in self.marks):
            return True
        if any(m.means == "hot" for m in until(self.marks[place + 1 : place + 3], ("COMMA", "OTHER"))):
            return False
        changing = any(m.kind == "OTHER" and m.means in rules.change for m in self.marks[:place])
        return changing or self._asked_about(place)

    def _asked_about(self, place: int) -> bool:
        """Whether the number is of a setting that is spoken of, or of something asked for ("what if")."""
        if not self.others:
            return False
        at = self.marks[place].first
        commas = [m.first for m in self.marks if m.kind == "COMMA"]
        for piece in self.others:
            if piece.kind == "ASK" and piece.first < at:
                return True
            apart = any(min(at, piece.first) < c < max(at, piece.first) for c in commas)
            named = any(m.kind == "OTHER" and m.last == piece.last for m in self.marks)
            if piece.kind == "SETTING" and named and not apart:
                return True
        return False

    def _stands_out(self, place: int) -> bool:
        """Whether a number that nothing was made of can only have been read off something: a small one, a
        part or one that
        counts a thing no table knows ("a half mile") is talk."""
        mark, words = self.marks[place], self.cut.plain
        behind = self.marks[place + 1 : place + 2]
        beside = self.marks[max(0, place - 2) : place + 2]
        if (behind and behind[0].kind == "UNIT") or (
            mark.means.isdigit() and any(m.kind == "TYRE" for m in beside)
        ):
            return True
        ahead = mark.last + 1
        known = ahead >= len(words) or ahead not in self.cut.unknown
        large = max(mark.values) >= 20 or (mark.means[-1].isdigit() and len(mark.means) > 1)
        return known and large and mark.means not in ("hundred", "a", "thousand")

    def _ask(self, before: Sequence[Mark], number: Mark, after: Sequence[Mark]) -> None:
        """Note a number that a tyre or a unit stands beside."""
        tyre = next((m for m in reversed(before) if m.kind == "TYRE"), None)
        near = next((m for m in until(after, ("COMMA", "OTHER")) if m.kind == "TYRE"), None)
        if after and after[0].kind == "UNIT":
            self.units.append((number.first, after[0].last))
        if tyre or near:
            first = tyre.first if tyre else number.first
            self.asked.append((first, near.last if near and not tyre else number.last))

    def _figure(self, before: Sequence[Mark], number: Mark, after: Sequence[Mark]) -> Figure | None:
        near = until(after, ("COMMA", "OTHER"), stop_at_and=True)
        used = [number]
        unit = near[0].means if near and near[0].kind == "UNIT" else None
        more = comparison(before, until(after, ("COMMA",), stop_at_and=True))
        wearing = any(m.kind == "WORN" for m in before)
        if more is not None and more.means in ("off", "slower", "quicker") and unit not in _SECONDS:
            more = more if wearing else None
        word = self.cut.plain[number.first - 1] if number.first else ""
        against, subject = compared(more, self.marks, used) if more is not None else (None, None)
        tyre = subject or self._owner(before, near, "TYRE", used)
        point = None if unit in _NEVER_ACROSS else self._owner(before, near, "POINT", used)
        if not (tyre or self.memory.tyre):
            point = None
        around = frozenset(m.kind for m in (*before, *near))
        around |= {"COND"} if self.memory.condition else frozenset()
        named = next((m for m in (*reversed(before), *near) if m.kind == "QUANTITY" and not m.taken), None)
        said = named.means if named else None
        if named and named.first > number.last:
            named.taken = True
        told = quantity_of(
            Asked(number, around, unit, tyre, point, said, more, word in ("from", "to")), self.memory
        )
        if told is None:
            return None
        if not told.quantity.startswith("tyre-"):
            tyre, point = None, None
        elif told.quantity != "tyre-pressure" or point or self.memory.here:
            tyre = tyre or self.memory.tyre
        if word == "from" and tyre is None:
            tyre = next((m.means for m in self.marks if m.kind == "TYRE" and m.first > number.last), None)
        self.memory.tyre, self.memory.here = tyre or self.memory.tyre, tyre is not None or self.memory.here
        tyre = _on_side(tyre, near)
        self.memory.quantity = told.quantity
        against = against or told.against
        values = tuple(round(v * told.scale, 4) for v in number.values)
        if told.quantity == "tyre-wear" and against is None and self._remains(before, near):
            values = tuple(round(100.0 - v, 4) for v in values)
        if more is not None and more.kind == "LESS" and not (wearing and more.means == "quicker"):
            values = tuple(-v for v in values)
        condition = self._condition(before, near, tyre)
        if told.quantity != "tyre-pressure" or against is not None:
            condition = None
        kinds = _USED - {"BUILT"} if told.quantity == "lap-time" else _USED
        used += [m for m in (*since_and(clause(before)), *near) if m.kind in kinds]
        used += [near[0]] if unit else []
        places = (number.first, near[0].last if unit else number.last)
        first, last = stretch(used, before)
        return Figure(told.quantity, values, told.unit, tyre, condition, point, against, places, first, last)

    def _owner(self, before: Sequence[Mark], near: Sequence[Mark], kind: str, used: list[Mark]) -> str | None:
        """The tyre or point of a number: the nearest before it that no other number has, else one right
        behind."""
        back = before if kind == "TYRE" else of_points(since_and(clause(before)))
        found = next((m for m in reversed(back) if m.kind == kind and not m.taken), None)
        ahead = None
        for mark in near:
            if mark.kind == kind and not mark.taken:
                ahead = mark
                break
            if mark.kind not in SOFT and mark.kind not in _BETWEEN:
                break
        one = found or ahead
        if one is None:
            return None
        one.taken = True
        used.append(one)
        return one.means

    def _condition(self, before: Sequence[Mark], near: Sequence[Mark], tyre: str | None) -> str | None:
        """Hot or cold; said before the first number it holds for all, said of one tyre for the next one
        too."""
        mark = next((m for m in (*near, *reversed(before)) if m.kind == "COND" and not m.taken), None)
        if mark is not None:
            mark.taken = True
            if mark in before and not self.figures:
                self.memory.condition = mark.means
        last = self.figures[-1] if self.figures else None
        if mark is None and last is not None and tyre != last.tyre and last.quantity == "tyre-pressure":
            return last.condition
        return mark.means if mark else self.memory.condition

    def _remains(self, before: Sequence[Mark], near: Sequence[Mark]) -> bool:
        """Whether a share of a tyre is what is left of it."""
        for mark in (*near, *reversed(before)):
            if mark.kind in ("LEFT", "WORN"):
                return mark.kind == "LEFT"
        return self.remaining and not any(m.kind == "WORN" for m in self.marks)


def _on_side(tyre: str | None, near: Sequence[Mark]) -> str | None:
    """One of two tyres where the side stands behind the number: "both fronts, 230 left and 245 right"."""
    side = near[0].means[:1].upper() if near and near[0].means in ("left", "right") else ""
    named = [one for one in (tyre or "").split("_") if side and one.startswith(side)]
    return named[0] if len(named) == 1 and tyre and "_" in tyre else tyre
