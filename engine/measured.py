"""Numbers read off the car, as needs: a wear gap, water too hot, the limiter, a pyrometer pattern, hot
pressures.

Inside: wear in %, temperatures in degF, pressures in psi, rpm.
"""

from collections.abc import Callable, Iterable, Mapping

from engine.car import Limits
from engine.channels import balance
from engine.wanted import HEAT, REST, Measured, Need, Try, level_of
from grammar.intent import PHASES, Measurement

WIDE_GAP, GROSS_GAP = 4.0, 8.0
"""A right-side wear gap wider than `WIDE_GAP` % points asks for a slight change of balance, from `GROSS_GAP`
on for a plain one: within 2 to 4 % counts as even (common practice, no source)."""
GAP_WANT = (0.5, 1.0)
"""The two changes, feel: those of a slight and of a plain complaint."""
EVERYWHERE = tuple((balance(phase, "half"), 1.0 / len(PHASES)) for phase in PHASES)
MIDDLE = 10.0
"""Middle against the mean of the edges that calls for air, degF: within 5-10 F the pressure is about
right (S56)."""
LEAN_OUT, LEAN_IN = 5.0, 20.0
"""Outer edge hotter by this, or inner by this, calls for camber, degF (S52, S56 for the sense; sizes
common practice)."""
WATER_ROOM, RPM_ROOM = 5.0, 50.0
"""How far inside a limit to come back to, degF and rpm (common practice, no source)."""
OIL_FRESH, OIL_LOSS, OIL_HALF, OIL_WANT = 220.0, 25.0 / 20.0, 50.0, -15.0
"""Above 220 degF every 20 cost 25 % of the oil's life (S85); half of it lost is too hot, and asks for what
hot oil told in words does, degF of water (common practice, no source)."""
HOT_ROOM = 1.0
"""How far a hot pressure may be from the tyre's best before it is changed, psi (makers ask for half a
pound, common practice)."""
HOT_FAR, HOT_ROUND = 3.0, 2.0
"""Further off than `HOT_FAR` a hot pressure is put right `HOT_ROUND` at a time, psi: 2 psi when correcting a
pattern (S52)."""
Told = tuple[str, dict[str, float], dict[str, str]]


def fahrenheit(value: float, unit: str | None) -> float:
    """A temperature in degF."""
    return value * 1.8 + 32.0 if unit == "C" else value


def psi(value: float, unit: str | None) -> float:
    """A pressure in psi."""
    return value * {"kPa": 0.1450377, "bar": 14.50377}.get(unit or "psi", 1.0)


def weigh(
    measurements: Iterable[Measurement],
    base: Mapping[str, float],
    limits: Limits,
    best: Callable[[], Mapping[str, float]],
) -> Measured:
    """What the measurements ask for. `base` is every channel of the model now; `best` gives the hot
    pressure each tyre likes, psi (called only when a hot pressure was measured)."""
    given = tuple(measurements)
    needs: list[Need] = []
    tries: list[Try] = []
    values: dict[str, float] = {}
    told: list[Told] = []
    _wear(given, values, needs, told)
    _over(given, "water-temperature", limits.water_temperature, WATER_ROOM, values, needs, told)
    _over(given, "rpm", limits.top_rpm, RPM_ROOM, values, needs, told)
    for one in given:
        if one.against is not None:
            continue
        if one.quantity == "oil-temperature":
            _oil(fahrenheit(one.values[0], one.unit), needs, told)
        if one.quantity == "tyre-temperature" and len(one.values) in (2, 3) and one.tyre:
            _pyrometer(one, tries, told)
        if one.quantity == "tyre-pressure" and one.condition == "hot" and one.tyre:
            _hot(one, best(), values, needs, told)
    told += _noted(given, values)
    return Measured(values, tuple(needs), tuple(tries), tuple(told))


_UNJUDGED = frozenset({"tyre-temperature", "tyre-pressure", "tyre-wear", "lap-time"})
"""Quantities of which some figures say nothing by themselves."""


def _noted(given: Iterable[Measurement], values: Mapping[str, float]) -> list[Told]:
    """What was said and nothing is computed from: a figure alone, or a difference."""
    left = [m.quantity for m in given if m.quantity in _UNJUDGED and not _judged(m, values)]
    return [(f"measured-noted-{quantity}", {}, {}) for quantity in dict.fromkeys(left)]


def _judged(one: Measurement, values: Mapping[str, float]) -> bool:
    if one.quantity == "tyre-wear":
        return "wear-gap/right" in values
    if one.quantity == "tyre-temperature":
        return one.against is None and len(one.values) > 1 and one.tyre is not None
    return one.quantity == "tyre-pressure" and f"pressure-window/{one.tyre}" in values


def _wear(
    given: Iterable[Measurement], values: dict[str, float], needs: list[Need], told: list[Told]
) -> None:
    """The tyre worn more is the one at the end that slides: too tight works the right front, too loose the
    right rear (tight heats the right front: S63; the rest is common practice, no source)."""
    of_tyres = [m for m in given if m.quantity == "tyre-wear" and m.tyre]
    worn = {m.tyre: m.values[0] for m in of_tyres if m.against is None}
    apart = {(m.tyre, m.against): m.values[0] for m in of_tyres if m.against in ("RF", "RR")}
    if "RF" in worn and "RR" in worn:
        gap = worn["RF"] - worn["RR"]
    elif ("RF", "RR") in apart or ("RR", "RF") in apart:
        gap = apart.get(("RF", "RR"), -apart.get(("RR", "RF"), 0.0))
    else:
        return
    values["wear-gap/right"] = gap
    verdict = "even" if abs(gap) <= WIDE_GAP else "front" if gap > 0 else "rear"
    if "RF" in worn and "RR" in worn:
        told.append((f"measured-gap-{verdict}", {"rf": worn["RF"], "rr": worn["RR"], "gap": abs(gap)}, {}))
    else:
        told.append((f"measured-gap-{verdict}-only", {"gap": abs(gap)}, {}))
    if verdict != "even":
        size = GAP_WANT[abs(gap) >= GROSS_GAP]
        target = -size if verdict == "front" else size
        needs.append(Need("everywhere/half", "balance", EVERYWHERE, target, 0, group="everywhere"))


def _over(
    given: Iterable[Measurement],
    quantity: str,
    limit: float | None,
    room: float,
    values: dict[str, float],
    needs: list[Need],
    told: list[Told],
) -> None:
    """A need to come back inside a limit of the car, with room; less than the limit itself is no cure."""
    channel = {"rpm": "top-rpm"}.get(quantity, quantity)
    for one in given:
        if one.quantity != quantity or limit is None or one.against is not None:
            continue
        value = fahrenheit(one.values[0], one.unit) if quantity != "rpm" else one.values[0]
        values[channel] = value
        over = value >= limit
        told.append(
            (f"measured-{quantity}-{'over' if over else 'inside'}", {"value": value, "limit": limit}, {})
        )
        if over:
            target = limit - room - value
            slack = min(0.5, room / abs(target))
            parts = ((channel, 1.0),)
            needs.append(
                Need(channel, quantity, parts, target, level_of(channel), tolerance=slack, floor=0.5)
            )


def _oil(value: float, needs: list[Need], told: list[Told]) -> None:
    """Oil that has lost half its life by the heat is brought down as hot water is (tape: S75, S76)."""
    lost = max(0.0, (value - OIL_FRESH) * OIL_LOSS)
    hot = lost >= OIL_HALF
    kind = "measured-oil-temperature-over" if hot else "measured-oil-temperature"
    told.append((kind, {"value": value, "lost": min(100.0, lost)}, {}))
    if hot:
        needs.append(
            Need(
                "oil-hot",
                "oil-hot",
                (("water-temperature", 1.0),),
                OIL_WANT,
                HEAT,
                tolerance=0.5,
                source="S85",
            )
        )


def _hot(
    one: Measurement,
    best: Mapping[str, float],
    values: dict[str, float],
    needs: list[Need],
    told: list[Told],
) -> None:
    """A hot pressure further from the tyre's best than `HOT_ROOM` is brought there, in rounds where it
    is far off."""
    tyre, value = one.tyre or "", psi(one.values[0], one.unit)
    channel, off = f"pressure-window/{tyre}", value - best[tyre]
    values[channel] = off
    far = abs(off) > HOT_FAR
    part = -off if not far else HOT_ROUND if off < 0 else -HOT_ROUND
    kind = "measured-hot-far" if far else "measured-hot"
    told.append((kind, {"value": value, "best": best[tyre], "part": abs(part)}, {"tyre": tyre}))
    if abs(off) > HOT_ROOM:
        needs.append(
            Need(
                channel,
                "tyre-pressure",
                ((channel, 1.0),),
                part,
                REST,
                tolerance=0.3,
                floor=0.5,
                source="S56",
            )
        )


def _pyrometer(one: Measurement, tries: list[Try], told: list[Told]) -> None:
    """Middle against edges asks for air, edge against edge for camber; the bigger finding first, one try
    a tyre. Of two values the middle was not measured, so nothing is said of the air."""
    points = [fahrenheit(v, one.unit) for v in one.values]
    inside, outside = points[0], points[-1]
    middle = points[1] if len(points) == 3 else (inside + outside) / 2.0
    tyre = one.tyre or ""
    crown, lean = middle - (inside + outside) / 2.0, inside - outside
    numbers = {"inside": inside, "middle": middle, "outside": outside, "crown": abs(crown), "lean": abs(lean)}
    if tyre == "LF":
        lean = -lean
    if abs(crown) > MIDDLE:
        kind = "too-much-air" if crown > 0 else "too-little-air"
        tries.append(Try(kind, ((f"pressure_{tyre.lower()}", -1 if crown > 0 else 1),), "S52"))
    elif tyre in ("LF", "RF") and (lean < -LEAN_OUT or lean > LEAN_IN):
        kind = "too-little-lean" if lean < 0 else "too-much-lean"
        up = 1 if (lean > 0) == (tyre == "RF") else -1
        tries.append(Try(kind, ((f"camber_{tyre.lower()}", up),), "S56"))
    else:
        kind = "even-tyre" if len(points) == 3 else "even-edges"
    told.append((f"pyrometer-{kind}", numbers, {"tyre": tyre}))
