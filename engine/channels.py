"""Names of the channels: the numbers the model predicts and the driver feels or the tyres show.

Balance channels are in feel: 1 feel = what one point of cross-weight does to the centre balance of this car
at its
base set-up at half fuel; + = tighter. The rest carry the unit given in `UNITS`.
"""

from grammar.intent import PHASES, STAGES

BALANCE = tuple(f"balance/{phase}/{stage}" for stage in STAGES for phase in PHASES)
"""Stage-major: five phases at the start, five at half, five late. Index = 5 * stage + phase."""
WEAR = ("wear/LF", "wear/RF", "wear/LR", "wear/RR")
"""Share of the tyre worn at the end of the run, %."""
OTHER = (
    "wear-gap/right",  # RF minus RR at the end of the run, % points
    "wear-gap/left",  # LF minus LR
    "water-temperature",  # hottest over the run, degF
    "top-rpm",  # at the end of the longest straight
    "straight-speed",  # mph at the end of the longest straight
    "lockup-margin/front",  # share of front grip left at the hardest braking, %
    "lockup-margin/rear",
    "pressure-window/LF",  # hot pressure minus the tyre's best at its load, psi
    "pressure-window/RF",
    "pressure-window/LR",
    "pressure-window/RR",
    "camber-window/LF",  # camber at the centre minus the tyre's best there, deg
    "camber-window/RF",
)
CHANNELS = BALANCE + WEAR + OTHER
UNITS = (
    dict.fromkeys(BALANCE, "feel")
    | dict.fromkeys(WEAR, "%")
    | dict.fromkeys(("wear-gap/right", "wear-gap/left", "lockup-margin/front", "lockup-margin/rear"), "%")
    | {f"pressure-window/{tyre}": "psi" for tyre in ("LF", "RF", "LR", "RR")}
    | {"camber-window/LF": "deg", "camber-window/RF": "deg"}
    | {"water-temperature": "degF", "top-rpm": "rpm", "straight-speed": "mph"}
)


def balance(phase: str, stage: str) -> str:
    """Channel name of the balance in `phase` at `stage`."""
    return f"balance/{phase}/{stage}"
