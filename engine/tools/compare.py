"""Two set-ups of one car: what differs, what each difference does, what pays for what, and the net.

A difference's own effect is the mean of making it first (from A) and making it last (towards B). That
shares out between two differences whatever they do together, as long as they do the same together at A's
end as at B's: then the own effects add up to the net. Where they do more at one end, a sixth of the gap is
missing from the own effects (each three differences that work on each other are seen in three pairs, and
the own effects count them one and a half times); it is named with the pair. What is missing after that is
`left`, said and not hidden.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.car import Car, Setup
from engine.channels import BALANCE
from engine.model import Pace
from engine.response import Array
from engine.tools.effects import Effects
from engine.track import Track
from grammar.intent import PHASE_GROUPS, PHASES

__all__ = ["Comparison", "Difference", "Payment", "Together", "compare"]

FELT = slice(0, len(BALANCE))
NOTICED = 0.1
"""Feel below which an effect is not worth a line (judgement)."""
NAMED = 5
"""Most pairs named as working on each other."""
TRIED = 12
"""Differences whose pairs are tried: those that bend most."""


@dataclass(frozen=True, slots=True, eq=False)
class Difference:
    """One setting that differs. `own` is its share of the change of every channel; `first` and `last` what it
    does when made before, or after, all the others."""

    setting: str
    before: float
    after: float
    clicks: int
    own: Array
    first: Array
    last: Array


@dataclass(frozen=True, slots=True, eq=False)
class Together:
    """Two differences that work on each other: `extra` is what both do beyond what each does alone from A,
    where it is largest (`channel`); `beyond` [channels] what of it is not in the own effects."""

    first: str
    second: str
    channel: str
    extra: float
    beyond: Array


@dataclass(frozen=True, slots=True)
class Payment:
    """A package: `lever` pushes the balance of a group of phases at half fuel by `push` feel, `payers`
    (setting, feel) push back; `net` is what the whole comparison leaves there."""

    group: str
    lever: str
    push: float
    payers: tuple[tuple[str, float], ...]
    net: float


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """A → B. `before`, `net` and `left` are per channel; `explained` is the share of the net balance
    difference that the own effects and the named pairs account for (1 = all; by the sum of sizes over the
    balance channels)."""

    differences: tuple[Difference, ...]
    together: tuple[Together, ...]
    payments: tuple[Payment, ...]
    before: Array
    net: Array
    left: Array
    explained: float


def compare(car: Car, track: Track, a: Setup, b: Setup, pace: Pace | None = None) -> Comparison:
    """Compare two whole set-ups of `car` at `track`, at the pace of its base set-up."""
    effects = Effects(car, track, a, pace)
    keys = [s.key for s in car.settings if s.click_of(a[s.key]) != s.click_of(b[s.key])]
    changes = effects.of([b, *({**a, k: b[k]} for k in keys), *({**b, k: a[k]} for k in keys)])
    net, firsts, lasts = changes[0], changes[1 : 1 + len(keys)], changes[0] - changes[1 + len(keys) :]
    clicks = dict(zip([s.key for s in car.settings], effects.clicks(b), strict=True))
    differences = [
        Difference(k, a[k], b[k], int(clicks[k]), (first + last) / 2, first, last)
        for k, first, last in zip(keys, firsts, lasts, strict=True)
    ]
    ordered = tuple(sorted(differences, key=lambda d: (-float(np.abs(d.own[FELT]).sum()), d.setting)))
    pairs = _together(effects, ordered, a, b, net)
    left = net - sum((part for part in (*(d.own for d in ordered), *(t.beyond for t in pairs))), 0.0 * net)
    paid = _payments(ordered, net)
    return Comparison(ordered, pairs, paid, effects.base, net, left, _explained(net, left))


def _explained(net: Array, left: Array) -> float:
    size = float(np.abs(net[FELT]).sum())
    return 1.0 if size < 1e-9 else 1.0 - float(np.abs(left[FELT]).sum()) / size


def _together(
    effects: Effects, differences: Sequence[Difference], a: Setup, b: Setup, net: Array
) -> tuple[Together, ...]:
    """The pairs whose joint effect is furthest from the sum of the two, among those that bend most."""
    bent = sorted(differences, key=lambda d: (-float(np.abs((d.first - d.last)[FELT]).max()), d.setting))
    pairs = [(x, y) for i, x in enumerate(bent[:TRIED]) for y in bent[i + 1 : TRIED]]
    if not pairs:
        return ()
    at_a = [{**a, x.setting: b[x.setting], y.setting: b[y.setting]} for x, y in pairs]
    at_b = [{**b, x.setting: a[x.setting], y.setting: a[y.setting]} for x, y in pairs]
    joint = effects.of([*at_a, *at_b])
    found = []
    for (x, y), here, there in zip(pairs, joint[: len(pairs)], joint[len(pairs) :], strict=True):
        extra, extra_late = here - x.first - y.first, x.last + y.last - (net - there)
        at = int(np.abs(extra[FELT]).argmax())
        if abs(extra[at]) >= NOTICED:
            beyond = (extra - extra_late) / 6
            found.append(Together(x.setting, y.setting, BALANCE[at], float(extra[at]), beyond))
    return tuple(sorted(found, key=lambda t: (-abs(t.extra), t.first, t.second))[:NAMED])


def _payments(differences: Sequence[Difference], net: Array) -> tuple[Payment, ...]:
    """Per group of phases: the strongest push and who pushes back, when that takes back at least a third."""
    found = []
    for group, phases in PHASE_GROUPS.items():
        at = [len(PHASES) + PHASES.index(p) for p in phases]
        pushes = [(d.setting, float(d.own[at].mean())) for d in differences]
        if not pushes:
            continue
        lever, push = max(pushes, key=lambda pair: abs(pair[1]))
        payers = tuple((k, v) for k, v in pushes if v * push < 0 and abs(v) >= NOTICED)
        if abs(push) >= NOTICED and sum(abs(v) for _, v in payers) >= abs(push) / 3:
            found.append(Payment(group, lever, push, payers, float(net[at].mean())))
    return tuple(found)
