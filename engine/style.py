"""How the driver wants the car: shifts the targets of the same solver, nothing else."""

from collections.abc import Mapping
from dataclasses import dataclass

from engine.errors import UnknownName

CHOICES = {
    "session": ("race", "qualifying", "test"),
    "balance": ("neutral", "safer", "freer"),
    "wear": ("as-track", "gentle", "normal", "harsh"),
}
"""Style key → what it may be; the first is the default."""
LEAN = 0.25
"""Feel by which "safer" leans to tight and "freer" to loose on what is complained of (common practice, no
source)."""


@dataclass(frozen=True, slots=True)
class Style:
    """`session`: race (half fuel counts unless a stage is said), qualifying (fresh tyres count, the wear
    gap does not), test (levers whose answer is little known are welcome). `balance` leans the targets;
    `wear` overrides the track's harshness."""

    session: str = "race"
    balance: str = "neutral"
    wear: str = "as-track"

    @property
    def lean(self) -> float:
        """Feel added to every balance target: + = tighter."""
        return {"safer": LEAN, "freer": -LEAN}.get(self.balance, 0.0)

    @property
    def stage(self) -> str:
        """The run stage a complaint is about when none is said."""
        return "start" if self.session == "qualifying" else "half"


RACE = Style()


def style_from(data: Mapping[str, str] | None) -> Style:
    """A style from plain words; UnknownName for a key or choice that is not in `CHOICES`."""
    for key, value in (data or {}).items():
        if key not in CHOICES:
            raise UnknownName("style", key, CHOICES)
        if value not in CHOICES[key]:
            raise UnknownName(f"{key} style", value, CHOICES[key])
    return Style(**dict(data or {}))
