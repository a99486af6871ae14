"""Every rule row and setting against the phases: what model, rule and both together say, beside the
trade's sign.

`python -m engine.signs [CAR] [TRACK]` prints the table.
"""

import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from engine.both_ways import turns_both_ways
from engine.car import Car
from engine.channels import BALANCE
from engine.rules import Rule, clicks_unit, effects, rules
from engine.sensitivity import combine, slopes
from engine.sheets import DEFAULT_CAR, DEFAULT_TRACK, shipped_cars, shipped_tracks
from engine.track import Track
from grammar.intent import PHASES

SILENT = 0.005
"""Effects smaller than this many feel per trade step are shown as none."""
PUBLISHED = ("P", "P>", "P*")


@dataclass(frozen=True, slots=True)
class Cell:
    """One row in one phase, feel per trade step at half fuel. `mark` is "" where the trade says nothing."""

    row: str
    phase: str
    model: float
    rule: float | None
    both: float
    trade: float
    mark: str
    odd: str | None

    @property
    def agrees(self) -> bool | None:
        """Whether the combined sign is the trade's; None where the trade gives no direction."""
        if not self.mark or self.trade == 0:
            return None
        return bool(np.sign(self.both) == np.sign(self.trade)) and abs(self.both) >= SILENT


def cells(car: Car, track: Track) -> Iterator[Cell]:
    """All cells, in the order of the rule file; a row whose settings the car lacks, or that does not hold at
    this track, is left out."""
    _, slope = slopes(car, track, car.base_setup())
    said = effects(car, track)
    both, _ = combine(slope, said)
    at = [BALANCE.index(f"balance/{phase}/half") for phase in PHASES]
    index = {s.key: i for i, s in enumerate(car.settings)}
    for rule in rules():
        if all(key in index for key in rule.parts) and (not rule.both_ways or turns_both_ways(track)):
            clicks = _clicks(car, rule, index)
            spoken = np.array([said.step[i] for i in clicks])
            amount = np.array(list(clicks.values()))
            model, mean = amount @ slope[list(clicks)][:, at], amount @ both[list(clicks)][:, at]
            thumb = amount @ spoken
            for i, phase in enumerate(PHASES):
                own = None if np.isnan(thumb[i]) else float(thumb[i])
                odd = rule.odd.get(phase)
                yield Cell(
                    rule.name, phase, float(model[i]), own, float(mean[i]), rule.feel[i], rule.mark[i], odd
                )


def table(car: Car, track: Track) -> str:
    """The table as text, one line for each row and phase."""
    lines = [
        f"{car.id} at {track.id}, base set-up, half fuel; feel per trade step, + = tighter",
        f"{'row':36s} {'phase':20s} {'model':>6s} {'rule':>6s} {'both':>6s}  trade",
    ]
    for cell in cells(car, track):
        rule = "" if cell.rule is None else f"{cell.rule:+.2f}"
        verdict = {True: "", False: "  AGAINST", None: ""}[cell.agrees]
        why = f": {cell.odd}" if cell.odd and verdict else ""
        lines.append(
            f"{cell.row:36s} {cell.phase:20s} {cell.model:+6.2f} {rule:>6s} {cell.both:+6.2f}  "
            f"{_letter(cell):2s} {cell.mark:2s}{verdict}{why}".rstrip()
        )
    return "\n".join(lines) + "\n"


def _letter(cell: Cell) -> str:
    if not cell.mark:
        return "?"
    return "0" if cell.trade == 0 else "T" if cell.trade > 0 else "L"


def _clicks(car: Car, rule: Rule, index: dict[str, int]) -> dict[int, float]:
    """Setting index → clicks in one trade step."""
    found = {}
    for key, amount in rule.parts.items():
        setting = car.settings[index[key]]
        found[index[key]] = amount / clicks_unit(key, setting.unit, setting.pitch)
    return found


if __name__ == "__main__":
    names = [*sys.argv[1:], *(DEFAULT_CAR, DEFAULT_TRACK)[len(sys.argv) - 1 :]]
    sys.stdout.write(table(shipped_cars()[names[0]], shipped_tracks()[names[1]]))
