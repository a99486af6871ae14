"""How far what nobody complained of may move: bands on the balance, and the car's limits as room left from
here. Amounts are changes from now, in the channel's unit; balance in feel, + = tighter.
"""

from collections.abc import Iterable, Mapping
from math import inf

from engine.car import Limits
from engine.channels import BALANCE
from engine.style import Style
from engine.wanted import Guard, Measured, Need
from grammar.intent import PHASE_GROUPS, PHASES, TYRES, Reading

__all__ = ["guards_of"]

SIDE, GOOD, OTHER_STAGE, ALONE = 0.35, 0.15, 0.5, 0.6
"""How far a balance channel may move, feel: not complained of, called good (beside a complaint about the same
part of the corner as if not complained of), at another run stage, when no balance at all is complained of."""
SPARE = 0.75
"""The most a phase nobody complained of may move at the stage of a complaint, feel: however bad the
complaint, its cure leaves no new plain one (common practice, no source)."""
LOCK = {"lockup-margin/front": -1.5, "lockup-margin/rear": 1.5}
"""How far the car under braking may go along with the cure of a locking end, feel: an end that locks slides
there, and the bias is felt under braking only (S7; the size is judgement)."""
HARM = 0.1
"""How far a list may leave one complaint worse to cure another, feel: less than is worth a sentence (common
practice, no source)."""


def guards_of(
    needs: Iterable[Need],
    reading: Reading,
    base: Mapping[str, float],
    limits: Limits,
    measured: Measured,
    style: Style,
) -> list[Guard]:
    """Bands on all that is not asked for, and against harm to what is. `base` is every channel now; of the
    reading counts what it calls good."""
    wanted = {channel: need for need in needs for channel, _ in need.parts}
    good = _called_good(wanted, set(reading.good))
    return [
        *_balance_guards(wanted, good, set(reading.good_stages)),
        *_harm_guards(wanted),
        *(g for g in _limit_guards(base, limits, measured, style) if g.channel not in wanted),
    ]


def _called_good(wanted: Mapping[str, Need], good: set[str]) -> set[str]:
    """The phases that deserve a tight band: those named good on their own. "Fine everywhere else" says no
    more than silence does."""
    complained = {channel.split("/")[1] for channel in wanted if channel.startswith("balance/")}
    return set() if good | complained >= set(PHASES) else good


def _balance_guards(wanted: Mapping[str, Need], good: set[str], good_stages: set[str]) -> list[Guard]:
    """Bands on every balance channel nobody complained of; wider for severe complaints and along the run
    of a complaint (not at a stage called good), but never so wide that a new complaint comes of it."""
    about = {need.stage for need in wanted.values() if need.unit_feel} or {"half"}
    size = max([abs(n.target) for n in wanted.values() if n.unit_feel], default=ALONE / SIDE)
    found = []
    for channel in BALANCE:
        if channel in wanted:
            continue
        _, phase, stage = channel.split("/")
        side = min(SPARE, SIDE * max(1.0, size))
        low, high, kind = -side, side, "side"
        along = [n.target for c, n in wanted.items() if c.startswith(f"balance/{phase}/")]
        group = _beside(wanted, phase, stage if about & {stage, "whole"} else "")
        if along and stage in good_stages:
            low, high, kind = -SIDE, SIDE, "good"
        elif along:
            low, high, kind = min(0.0, 1.5 * min(along)) - side, max(0.0, 1.5 * max(along)) + side, "stage"
        elif phase in good and (stage in about or "whole" in about):
            near = SIDE if group else GOOD
            low, high, kind = -near, near, "good"
        elif between := _between(wanted, phase, stage):
            low, high = (-SPARE, side) if between < 0 else (-side, SPARE)
        elif phase == PHASES[0] and (locks := [LOCK[c] for c in LOCK if c in wanted]):
            low, high, kind = min(low, *locks), max(high, *locks), "stage"
        elif group:
            low, high = max(-SPARE, min(low, 0.75 * min(group))), min(SPARE, max(high, 0.75 * max(group)))
        elif stage not in about and "whole" not in about:
            low, high, kind = low * OTHER_STAGE / SIDE, high * OTHER_STAGE / SIDE, "stage"
        found.append(Guard(channel, channel, low, high, kind, 1.0 if kind in ("side", "good") else 0.0))
    return found


def _beside(wanted: Mapping[str, Need], phase: str, stage: str) -> list[float]:
    """What is wanted of the other half of a phase's part of the corner, at a stage ("" = at any)."""
    there = (c for c, n in wanted.items() if n.unit_feel and c.endswith(stage))
    return [wanted[c].target for c in there if _same_group(c, phase)]


def _between(wanted: Mapping[str, Need], phase: str, stage: str) -> float:
    """The way two complaints of one kind on either side of the middle ask for, 0 when there are no such two:
    the middle may then go along."""
    if phase != "centre":
        return 0.0
    at = {c.split("/")[1]: n.target for c, n in wanted.items() if c.endswith(f"/{stage}") and n.unit_feel}
    ends = [[t for p, t in at.items() if p in PHASE_GROUPS[end]] for end in ("entry", "exit")]
    if not all(ends):
        return 0.0
    signs = {t > 0 for end in ends for t in end}
    return ends[0][0] if len(signs) == 1 else 0.0


def _harm_guards(wanted: Mapping[str, Need]) -> Iterable[Guard]:
    """Where there are several complaints about balance, none may be left worse to cure another."""
    felt = {channel: need for channel, need in wanted.items() if need.unit_feel}
    if len({need.key for need in felt.values()}) > 1:
        for channel, need in felt.items():
            low, high = (-HARM, inf) if need.target > 0 else (-inf, HARM)
            yield Guard(channel, channel, low, high, "harm", 0.0)


def _same_group(channel: str, phase: str) -> bool:
    other = channel.split("/")[1]
    return any(phase in members and other in members for members in PHASE_GROUPS.values())


def _limit_guards(
    base: Mapping[str, float], limits: Limits, measured: Measured, style: Style
) -> Iterable[Guard]:
    """The car's limits as room left from here; a car already outside may not get worse."""
    now = {**base, **measured.values}
    if limits.water_temperature is not None:
        yield _room("water-temperature", now, None, limits.water_temperature, 0.01)
    if limits.top_rpm is not None:
        yield _room("top-rpm", now, None, limits.top_rpm, 0.001)
    if style.session != "qualifying":
        yield _room("wear-gap/right", now, -limits.wear_gap, limits.wear_gap, 0.05)
    for axle in ("front", "rear"):
        yield _room(f"lockup-margin/{axle}", now, limits.lockup_margin, None, 0.01)
    for tyre in TYRES:
        yield _room(f"pressure-window/{tyre}", now, -limits.pressure_window, limits.pressure_window, 0.05)
    for tyre in ("LF", "RF"):
        yield _room(f"camber-window/{tyre}", now, -limits.camber_window, limits.camber_window, 0.05)


SLACK = {
    "water-temperature": 2.0,
    "top-rpm": 15.0,
    "wear-gap/right": 0.25,
    "lockup-margin": 0.5,
    "pressure-window": 0.5,
    "camber-window": 0.25,
}
"""What counts as "not worse" where the car is already outside a limit, in the channel's unit (common
practice, no source)."""


def _room(
    channel: str, now: Mapping[str, float], low: float | None, high: float | None, price: float
) -> Guard:
    value = now[channel]
    slack = SLACK.get(channel, SLACK.get(channel.split("/")[0], 0.0))
    down = -1e6 if low is None else min(low - value, -slack if value <= low else 0.0)
    up = 1e6 if high is None else max(high - value, slack if value >= high else 0.0)
    nearer = high if low is None or (high is not None and abs(high - value) < abs(value - low)) else low
    return Guard(channel, channel, min(down, 0.0), max(up, 0.0), "limit", price, bound=nearer or 0.0)
