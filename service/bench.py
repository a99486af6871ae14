"""What the builder's tools share: a request with its sheets looked up, and how an answer is put together."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from engine.car import Car, Setup
from engine.channels import BALANCE, CHANNELS, UNITS
from engine.errors import EngineError
from engine.outlook import NOTICE
from engine.response import Array
from engine.sheets import at_track
from engine.style import Style, style_from
from engine.tools.aim import BAND, STAGE_BAND
from engine.tools.effects import Effects
from engine.tools.holding import Held
from engine.tools.sweeps import Choice
from engine.track import Track
from engine.verdict import Fact
from grammar.intent import PHASE_GROUPS, PHASES, STAGES
from service.contract import BeforeAfter
from service.contract_tools import LineOut, OffOut, StepOut, Subject, ToolAnswer
from service.library import Library
from service.sentences import say
from service.words import PHASE, STAGE, in_a_row, label_of, lowered

__all__ = [
    "Bench", "NoSetting", "answer_of", "chosen_answer", "expected_of", "held_answer", "limit_of", "listed",
    "need_setting", "one_answer", "open_bench", "step_of",
]  # fmt: skip


class NoSetting(EngineError):
    """The car has no such setting or limit, so the tool has nothing to work on."""


@dataclass(frozen=True)
class Bench:
    """A request with its sheets looked up: the car as it is set at the track."""

    tool: str
    car: Car
    track: Track
    setup: Setup
    style: Style
    lines: list[Fact] = field(default_factory=list)

    def say(self, kind: str, numbers: Mapping[str, float] | None = None, **names: str) -> None:
        """Add a line."""
        self.lines.append(Fact(kind, dict(numbers or {}), names))


def open_bench(tool: str, request: Subject, library: Library) -> Bench:
    """The sheets and the set-up of a request; UnknownName, SheetError, ValueOutside."""
    style = style_from(request.style)
    track = library.track(request.track)
    if style.wear != "as-track":
        track = track.model_copy(update={"wear": style.wear})
    car = at_track(library.car(request.car), track)
    return Bench(tool, car, track, car.complete(request.setup), style)


def held_answer(bench: Bench, start: Setup, held: Held) -> ToolAnswer:
    """The answer of a tool that brings the balance to a goal."""
    effects = Effects(bench.car, bench.track, start)
    keys = [k for k in start if held.setup[k] != start[k]]
    own = effects.of([{**start, k: held.setup[k]} for k in keys]) if keys else ()
    steps = [step_of(bench.car, k, start[k], held.setup[k], o) for k, o in zip(keys, own, strict=True)]
    counts = [(c, v) for c, v in held.off if c.endswith(f"/{bench.style.stage}")]
    if counts:
        channel, worst = max(counts, key=lambda pair: abs(pair[1]))
        numbers = {"off": float(len(counts)), "worst": worst}
        bench.say("held-partly", numbers, channel=channel)
    else:
        bench.say(
            "held" if held.met else "held-there",
            {"band": BAND, "wide": BAND * STAGE_BAND},
            stage=STAGE[bench.style.stage],
        )
    for stage in STAGES:
        if places := [PHASE[c.split("/")[1]] for c, _ in held.off if c.endswith(f"/{stage}")]:
            bench.say("held-outside", places="; ".join(places), stage=STAGE[stage])
    if len(held.off) > len(counts):
        bench.say("run-drift", _drift(held.after))
    if keys and not held.proved:
        bench.say("not-proved", {"count": float(len(keys))})
    expected = expected_of(held.before, held.after)
    off = [OffOut(channel=c, by=round(v, 3), unit="feel") for c, v in held.off]
    return answer_of(bench, steps, expected, held.setup, held.met, off)


def _drift(channels: Array) -> dict[str, float]:
    """How far each part of the corner moves from fresh tyres to the end of the run, feel."""
    run = channels[: len(BALANCE)].reshape(len(STAGES), len(PHASES))
    parts = {group: [PHASES.index(p) for p in phases] for group, phases in PHASE_GROUPS.items()}
    return {group: float((run[-1, at] - run[0, at]).mean()) for group, at in parts.items()}


def chosen_answer(bench: Bench, choice: Choice) -> ToolAnswer:
    kind = "chosen" if choice.met else "not-reached"
    numbers = {"wanted": choice.wanted, "value": choice.value, "reached": choice.reached, "was": choice.was}
    bench.say(kind, numbers, setting=choice.setting, channel=choice.channel)
    return one_answer(bench, choice.setting, choice.value, choice.met)


def one_answer(bench: Bench, key: str, value: float, met: bool) -> ToolAnswer:
    """The answer of a tool that sets one setting, with what that does to the rest."""
    after = {**bench.setup, key: value}
    effects = Effects(bench.car, bench.track, bench.setup)
    change = effects.of([after])[0]
    steps = [step_of(bench.car, key, bench.setup[key], value, change)] if after != bench.setup else []
    return answer_of(bench, steps, expected_of(effects.base, effects.base + change), after, met)


def step_of(car: Car, key: str, before: float, after: float, own: Array) -> StepOut:
    setting = car.setting(key)
    noticed = {c: round(float(v), 3) for c, v in zip(CHANNELS, own, strict=True) if abs(v) >= _notice(c) / 2}
    clicks = setting.click_of(after) - setting.click_of(before)
    shape: dict[str, Any] = {"from": before, "to": after, "clicks": clicks, "own": noticed}
    return StepOut(setting=key, label=setting.label, unit=setting.unit, **shape)


def _notice(channel: str) -> float:
    return NOTICE[channel.split("/")[0]]


def expected_of(before: Array, after: Array) -> dict[str, BeforeAfter]:
    """The balance always; every other channel that changes noticeably."""
    found = {}
    for channel, was, now in zip(CHANNELS, before, after, strict=True):
        if channel in BALANCE or abs(now - was) >= _notice(channel):
            found[channel] = BeforeAfter(
                before=round(float(was), 3), after=round(float(now), 3), unit=UNITS[channel]
            )
    return found


def answer_of(
    bench: Bench,
    steps: list[StepOut],
    expected: dict[str, BeforeAfter],
    setup: Setup,
    met: bool,
    off: Iterable[OffOut] = (),
) -> ToolAnswer:
    lines = [LineOut(kind=f.kind, text=say(f, bench.car), numbers=f.numbers) for f in bench.lines]
    caution = Fact("caution-real" if bench.car.real else "caution-simulation")
    return ToolAnswer(
        tool=bench.tool,
        summary=_summary(steps, lines),
        met=met,
        lines=lines,
        changes=steps,
        setup=setup,
        expected=expected,
        off=list(off),
        cautions=[say(caution, bench.car)],
        sources=[],
        car=bench.car.id,
        track=bench.track.id,
    )


def _summary(steps: list[StepOut], lines: list[LineOut]) -> str:
    if not steps:
        return lines[0].text if lines else "No change."
    word = "setting" if len(steps) == 1 else "settings"
    moves = (f"{lowered(s.label)} {s.from_:g} → {s.to:g} {s.unit}" for s in steps)
    return f"{len(steps)} {word}: {', '.join(moves)}."


def listed(car: Car, keys: Iterable[str]) -> str:
    names = [lowered(label_of(car, key)) for key in keys]
    return in_a_row(names)


def need_setting(car: Car, key: str) -> None:
    car.setting(key)


def limit_of(car: Car, value: float | None, name: str) -> float:
    if value is None:
        raise NoSetting(f"{car.id} has no limit {name}; say the number you want")
    return value
