"""Units at the edge: everything inside the model is SI, sheets may use any unit listed here."""

from dataclasses import dataclass

G = 9.80665
"""Standard gravity, m/s2 (CODATA)."""
LB = 0.45359237  # kg, exact by definition
INCH = 0.0254  # m, exact by definition
LBF = LB * G  # N


@dataclass(frozen=True, slots=True)
class Unit:
    """`si = value * factor + offset`; two units convert only when their kind is the same."""

    kind: str
    factor: float
    offset: float = 0.0


UNITS: dict[str, Unit] = {
    "%": Unit("share", 0.01),
    "share": Unit("share", 1.0),
    "in": Unit("length", INCH),
    "mm": Unit("length", 0.001),
    "cm": Unit("length", 0.01),
    "m": Unit("length", 1.0),
    "ft": Unit("length", 12 * INCH),
    "mi": Unit("length", 1609.344),
    "km": Unit("length", 1000.0),
    "lb": Unit("mass", LB),
    "kg": Unit("mass", 1.0),
    "lbf": Unit("force", LBF),
    "N": Unit("force", 1.0),
    "lb/in": Unit("rate", LBF / INCH),
    "N/mm": Unit("rate", 1000.0),
    "N/m": Unit("rate", 1.0),
    "psi": Unit("pressure", LBF / INCH**2),
    "kPa": Unit("pressure", 1000.0),
    "bar": Unit("pressure", 1e5),
    "deg": Unit("angle", 0.017453292519943295),
    "rad": Unit("angle", 1.0),
    "clicks": Unit("clicks", 1.0),
    "turns": Unit("clicks", 1.0),
    ":1": Unit("ratio", 1.0),
    "ratio": Unit("ratio", 1.0),
    "gal": Unit("volume", 3.785411784e-3),
    "l": Unit("volume", 1e-3),
    "degF": Unit("temperature", 5 / 9, 459.67 * 5 / 9),
    "degC": Unit("temperature", 1.0, 273.15),
    "K": Unit("temperature", 1.0),
    "mph": Unit("speed", 0.44704),
    "km/h": Unit("speed", 1 / 3.6),
    "m/s": Unit("speed", 1.0),
    "in/s": Unit("speed", INCH),
    "hp": Unit("power", 745.6998715822702),
    "kW": Unit("power", 1000.0),
    "rpm": Unit("rpm", 1.0),
    "m2": Unit("area", 1.0),
    "ft2": Unit("area", (12 * INCH) ** 2),
    "lb/gal": Unit("density", LB / 3.785411784e-3),
    "kg/m3": Unit("density", 1.0),
    "mi/gal": Unit("economy", 1609.344 / 3.785411784e-3),
    "km/l": Unit("economy", 1e6),
    "lbf/(in/s)": Unit("damping", LBF / INCH),
    "N/(m/s)": Unit("damping", 1.0),
    "kg.m2": Unit("inertia", 1.0),
    "": Unit("number", 1.0),
}
"""Unit by the name a sheet uses. Temperatures are absolute: a difference of temperatures takes the factor
only."""


def kind_of(unit: str) -> str:
    """Kind of a unit ("length", "rate", ...); KeyError if there is no such unit."""
    return UNITS[unit].kind


def to_si(value: float, unit: str) -> float:
    """`value` in `unit` → SI."""
    row = UNITS[unit]
    return value * row.factor + row.offset


def from_si(value: float, unit: str) -> float:
    """SI → `unit`."""
    row = UNITS[unit]
    return (value - row.offset) / row.factor


def convert(value: float, unit: str, to: str) -> float:
    """`value` in `unit` → `to`; ValueError when the two are not of one kind."""
    if UNITS[unit].kind != UNITS[to].kind:
        raise ValueError(f"{unit} is a {UNITS[unit].kind}, {to} is a {UNITS[to].kind}")
    return from_si(to_si(value, unit), to)


def units_of(kind: str) -> tuple[str, ...]:
    """All names of units of a kind."""
    return tuple(name for name, unit in UNITS.items() if unit.kind == kind and name)
