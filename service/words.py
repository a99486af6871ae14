"""Plain words for what the engine names by key: phases, stages, channels, tyres, needs, complaints."""

from collections.abc import Sequence

from engine.car import Car
from engine.channels import UNITS

PHASE = {
    "entry-braking": "in, on the brakes",
    "entry-rolling": "in, off the brakes",
    "centre": "in the middle",
    "exit-first-throttle": "off, picking up the throttle",
    "exit-full-throttle": "off, at full throttle",
    "entry": "getting in",
    "exit": "coming off",
    "everywhere": "all the way round",
}
STAGE = {
    "start": "on fresh tyres",
    "half": "at half fuel",
    "late": "late in the run",
    "whole": "over the whole run",
}
TYRE = {"LF": "left front", "RF": "right front", "LR": "left rear", "RR": "right rear"}
UNIT = {"degF": "°F", "deg": "deg", "feel": "feel"}
CHANNEL = {
    "wear-gap/right": "wear gap, right front minus right rear",
    "wear-gap/left": "wear gap, left front minus left rear",
    "water-temperature": "water temperature",
    "top-rpm": "top rpm",
    "straight-speed": "straight speed",
    "lockup-margin/front": "front grip left at the hardest braking",
    "lockup-margin/rear": "rear grip left at the hardest braking",
}
MARK = {
    "P": "published in the trade",
    "P*": "published, but a weak source or another kind of car",
    "book": "textbook",
    "practice": "common practice, no source",
}
"""How far a source is trusted (`engine.sources`)."""
COMPLAINT = {
    "wheelspin": "wheelspin",
    "no-drive": "no drive off",
    "engine-hot": "running hot",
    "oil-hot": "hot oil",
    "limiter": "hitting the limiter",
    "short-gearing": "gearing too short",
    "long-gearing": "gearing too long",
    "front-lock": "locking the fronts",
    "rear-lock": "locking the rears",
    "tyre-wear": "tyre wear",
    "tyre-hot": "a hot tyre",
    "slow-response": "slow response",
    "nervous": "a nervous car",
    "bottoming": "bottoming",
    "wheel-hop": "wheel hop",
    "pull-left": "pulling left",
    "pull-right": "pulling right",
    "vibration": "a vibration",
    "no-grip": "no grip anywhere",
    "body-roll": "too much roll",
    "bumps": "trouble over the bumps",
    "brake-lock": "locking wheels",
    "brake-fade": "fading brakes",
    "no-power": "no power",
    "traffic": "trouble in traffic",
    "tyre-cold": "cold tyres",
    "water-temperature": "water temperature",
    "rpm": "top rpm",
    "too-much-air": "a middle hotter than the edges",
    "too-little-air": "edges hotter than the middle",
    "too-little-lean": "a hot outer edge",
    "too-much-lean": "a hot inner edge",
}


def place(channel: str) -> str:
    """Where and when a balance channel is felt: "in, on the brakes at half fuel"."""
    _, phase, stage = channel.split("/")
    return f"{PHASE[phase]} {STAGE[stage]}"


def channel_words(channel: str) -> str:
    """A channel in words."""
    if channel.startswith("balance/"):
        return place(channel)
    if channel in CHANNEL:
        return CHANNEL[channel]
    kind, _, tyre = channel.partition("/")
    words = {
        "wear": "wear",
        "pressure-window": "hot pressure against its best",
        "camber-window": "camber against its best",
    }
    return f"{TYRE[tyre]} {words[kind]}"


def unit_of(channel: str) -> str:
    """The unit a channel is shown in."""
    unit = UNITS[channel]
    return UNIT.get(unit, unit)


def need_words(need: str, kind: str = "balance") -> str:
    """A need in words: "getting in at half fuel", "running hot", "right front tyre wear"."""
    first, _, rest = need.partition("/")
    if first in PHASE and rest in STAGE:
        return f"{PHASE[first]} {STAGE[rest]}"
    if first == "wear-gap":
        return "the wear gap on the right side"
    if first == "pressure-window":
        return f"{TYRE[rest]} hot pressure"
    if rest in TYRE:
        return f"{TYRE[rest]} {COMPLAINT.get(first, first)}"
    return COMPLAINT.get(first, COMPLAINT.get(kind, first.replace("-", " ")))


def label_of(car: Car, key: str) -> str:
    """The label of a setting or a move of this car; the key itself in plain words if the car has neither."""
    for move in car.moves:
        if move.key == key:
            return move.label
    setting = car.by_key.get(key)
    return setting.label if setting else key.replace("_", " ")


def lowered(label: str) -> str:
    """A label inside a sentence: "cross-weight", but names of two capitals stay."""
    return label[:1].lower() + label[1:] if label[1:2].islower() else label


def in_a_row(words: Sequence[str]) -> str:
    """Words in a sentence: "a", "a and b", "a, b and c"."""
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)
