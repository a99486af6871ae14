"""What the tyres show, as measurements; and the cold pressures for hot ones that are wanted."""

from collections.abc import Iterator, Sequence

from engine.errors import UnknownName
from engine.physics.gas import cold_gauge
from engine.units import from_si, to_si
from engine.verdict import Fact
from grammar.intent import TYRES, Measurement, Span
from service.contract_tools import TyresRequest
from service.words import TYRE, in_a_row

__all__ = ["cold_pressures", "measurements", "missing"]

HERE = Span(0, 0, "")
"""These numbers stand in no text."""


def measurements(request: TyresRequest) -> tuple[Measurement, ...]:
    """The numbers of a request as the reader would have given them. UnknownName for a tyre there is not."""
    for tyre in {**request.wear, **request.temperatures, **request.pressures, **request.targets}:
        if tyre not in TYRES:
            raise UnknownName("tyre", tyre, TYRES)
    found = [Measurement("tyre-wear", (v,), "%", t, None, HERE) for t, v in request.wear.items()]
    found += [
        Measurement("tyre-temperature", tuple(v), "F", t, None, HERE) for t, v in request.temperatures.items()
    ]
    found += [Measurement("tyre-pressure", (v,), "psi", t, "hot", HERE) for t, v in request.pressures.items()]
    return tuple(sorted(found, key=lambda m: (m.quantity, TYRES.index(m.tyre or "LF"))))


def missing(request: TyresRequest) -> Iterator[Fact]:
    """The readings that would complete the verdict of those given: the other right-side wear, and the tyres
    whose temperatures or hot pressures are not there while those of others are."""
    worn = [t for t in ("RF", "RR") if t not in request.wear]
    if worn:
        yield Fact("missing-wear", {}, {"tyres": _named(worn)})
    for kind, given in (("temperatures", request.temperatures), ("pressures", request.pressures)):
        left = [t for t in TYRES if t not in given]
        if given and left:
            yield Fact(f"missing-{kind}", {}, {"tyres": _named(left)})


def _named(tyres: Sequence[str]) -> str:
    return in_a_row([TYRE[t] for t in tyres])


def cold_pressures(request: TyresRequest) -> Iterator[Fact]:
    """For each hot target the pressure to start with, by the gas law (absolute pressure and temperature)."""
    air, hot = to_si(request.air, "degF"), to_si(request.hot, "degF")
    for tyre, target in request.targets.items():
        cold = from_si(float(cold_gauge(to_si(target, "psi"), air, hot)), "psi")
        numbers = {"target": target, "cold": cold, "air": request.air, "hot": request.hot}
        yield Fact("cold-for-hot", numbers, {"tyre": tyre})
