"""The builder's tools for both doors: a request in, a `ToolAnswer` out. Raises what the sheets and the engine
raise."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from engine.adviser import advise
from engine.car import Car, Setup
from engine.channels import BALANCE, CHANNELS, UNITS
from engine.errors import EngineError
from engine.outlook import NOTICE
from engine.response import Array
from engine.sheets import at_track
from engine.style import Style, style_from
from engine.tools.carrying import carry_over
from engine.tools.compare import compare
from engine.tools.effects import Effects
from engine.tools.holding import Held
from engine.tools.package import package
from engine.tools.starting import RPM_ROOM, WATER_ROOM, start
from engine.tools.sweeps import Choice, gears, stagger, tape
from engine.tools.teaching import next_runs
from engine.track import Track
from engine.verdict import Fact
from grammar.intent import Reading
from service.contract import BeforeAfter
from service.contract_tools import (
    CarryOverRequest,
    ComparisonRequest,
    GearsRequest,
    LineOut,
    OffOut,
    PackageRequest,
    StaggerRequest,
    StartRequest,
    StepOut,
    Subject,
    TapeRequest,
    TestsRequest,
    ToolAnswer,
    TyresRequest,
)
from service.library import Library
from service.sentences import say
from service.tyres import cold_pressures, measurements
from service.words import PHASE, label_of, lowered

__all__ = [
    "TOOLS",
    "carry_over_setup",
    "compare_setups",
    "judge_tyres",
    "make_package",
    "next_tests",
    "run_tool",
    "set_gears",
    "set_stagger",
    "set_tape",
    "start_setup",
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


def compare_setups(request: ComparisonRequest, library: Library) -> ToolAnswer:
    """What differs between two set-ups, what each difference does, and what pays for what."""
    bench = open_bench("compare", request, library)
    found = compare(bench.car, bench.track, bench.setup, bench.car.complete(request.other))
    if not found.differences:
        bench.say("same-setup")
    for paid in found.payments:
        bench.say(
            "paid-for",
            {"push": paid.push, "back": sum(v for _, v in paid.payers), "net": paid.net},
            setting=paid.lever,
            payers=_listed(bench.car, [k for k, _ in paid.payers]),
            group=PHASE[paid.group],
        )
    for pair in found.together:
        bench.say("bend", {"extra": pair.extra}, first=pair.first, second=pair.second, channel=pair.channel)
    if found.differences:
        bench.say("explained", {"share": 100.0 * found.explained})
    steps = [_step(bench.car, d.setting, d.before, d.after, d.own) for d in found.differences]
    return _answer(bench, steps, _expected(found.before, found.before + found.net), _b(bench, request), True)


def make_package(request: PackageRequest, library: Library) -> ToolAnswer:
    """Run a setting at a value: the fewest other changes that keep the balance."""
    bench = open_bench("package", request, library)
    locked = frozenset(bench.car.setting(k).key for k in request.locked)
    held = package(bench.car, bench.track, bench.setup, request.run, locked, bench.style)
    return _held(bench, bench.setup, held)


def carry_over_setup(request: CarryOverRequest, library: Library) -> ToolAnswer:
    """A set-up carried over to another class: what had to give, and the fewest changes that keep the
    balance."""
    bench = open_bench("carry-over", request, library)
    other = at_track(library.car(request.to), bench.track)
    locked = frozenset(other.setting(k).key for k in request.locked)
    found = carry_over(bench.car, bench.setup, other, bench.track, locked, bench.style)
    there = Bench(bench.tool, other, bench.track, found.start, bench.style)
    for one in found.clipped:
        numbers = {"got": one.got} | ({} if one.wanted is None else {"wanted": one.wanted})
        there.say(f"carried-{one.why}", numbers, setting=one.setting)
    return _held(there, found.start, found.held)


def start_setup(request: StartRequest, library: Library) -> ToolAnswer:
    """A base set-up for a car at a track, from nothing."""
    bench = open_bench("start", request, library)
    return _held(bench, bench.car.base_setup(), start(bench.car, bench.track, bench.style))


def set_gears(request: GearsRequest, library: Library) -> ToolAnswer:
    """The final drive for a top rpm."""
    bench = open_bench("gears", request, library)
    _has(bench.car, "final_drive")
    rpm = request.rpm or _limit(bench.car, bench.car.limits.top_rpm, "top_rpm") - RPM_ROOM
    return _chosen(bench, gears(bench.car, bench.track, bench.setup, rpm))


def set_tape(request: TapeRequest, library: Library) -> ToolAnswer:
    """The most grille tape for a water temperature."""
    bench = open_bench("tape", request, library)
    _has(bench.car, "grille_tape")
    water = (
        request.water
        or _limit(bench.car, bench.car.limits.water_temperature, "water_temperature") - WATER_ROOM
    )
    return _chosen(bench, tape(bench.car, bench.track, bench.setup, water))


def set_stagger(request: StaggerRequest, library: Library) -> ToolAnswer:
    """The stagger that rolls freely round the track's turns."""
    bench = open_bench("stagger", request, library)
    _has(bench.car, "stagger")
    setting, value, exact = stagger(bench.car, bench.track)
    bench.say("stagger-for", {"exact": exact, "value": value, "before": bench.setup["stagger"]})
    return _one(bench, setting.key, value, True)


def next_tests(request: TestsRequest, library: Library) -> ToolAnswer:
    """The next one-at-a-time runs that would teach most about this car."""
    bench = open_bench("tests", request, library)
    for run in next_runs(bench.car, bench.track, bench.setup, request.runs):
        bench.say(
            "test-run",
            {"value": run.value, "effect": run.effect, "sd": run.doubt},
            setting=run.setting,
            channel=run.channel,
        )
    return _answer(bench, [], {}, bench.setup, True)


def judge_tyres(request: TyresRequest, library: Library) -> ToolAnswer:
    """What wear, temperatures and hot pressures say, and the changes they ask for; cold pressures for hot
    targets."""
    bench = open_bench("tyres", request, library)
    bench.lines.extend(cold_pressures(request))
    found = measurements(request)
    if not found:
        if not bench.lines:
            bench.say("no-tyre-numbers")
        return _answer(bench, [], {}, bench.setup, True)
    reading = Reading("", measurements=found)
    verdict = advise(reading, bench.car, bench.track, bench.setup, style=bench.style, alternatives=0)
    bench.lines.extend(verdict.notes)
    plan = verdict.plan
    after = {**bench.setup, **({c.setting: c.after for c in plan.changes} if plan else {})}
    changed = [k for k in after if after[k] != bench.setup[k]]
    effects = Effects(bench.car, bench.track, bench.setup)
    each = effects.of([after, *({**bench.setup, k: after[k]} for k in changed)])
    steps = [_step(bench.car, k, bench.setup[k], after[k], o) for k, o in zip(changed, each[1:], strict=True)]
    met = plan is None or plan.cured
    return _answer(bench, steps, _expected(effects.base, effects.base + each[0]), after, met)


def _held(bench: Bench, start: Setup, held: Held) -> ToolAnswer:
    """The answer of a tool that brings the balance to a goal."""
    effects = Effects(bench.car, bench.track, start)
    keys = [k for k in start if held.setup[k] != start[k]]
    own = effects.of([{**start, k: held.setup[k]} for k in keys]) if keys else ()
    steps = [_step(bench.car, k, start[k], held.setup[k], o) for k, o in zip(keys, own, strict=True)]
    bench.say("held" if held.met else "held-partly", {"count": float(len(keys)), "off": float(len(held.off))})
    expected = _expected(held.before, held.after)
    off = [OffOut(channel=c, by=round(v, 3), unit="feel") for c, v in held.off]
    return _answer(bench, steps, expected, held.setup, held.met, off)


def _chosen(bench: Bench, choice: Choice) -> ToolAnswer:
    kind = "chosen" if choice.met else "not-reached"
    numbers = {"wanted": choice.wanted, "value": choice.value, "reached": choice.reached, "was": choice.was}
    bench.say(kind, numbers, setting=choice.setting, channel=choice.channel)
    return _one(bench, choice.setting, choice.value, choice.met)


def _one(bench: Bench, key: str, value: float, met: bool) -> ToolAnswer:
    """The answer of a tool that sets one setting, with what that does to the rest."""
    after = {**bench.setup, key: value}
    effects = Effects(bench.car, bench.track, bench.setup)
    change = effects.of([after])[0]
    steps = [_step(bench.car, key, bench.setup[key], value, change)] if after != bench.setup else []
    return _answer(bench, steps, _expected(effects.base, effects.base + change), after, met)


def _step(car: Car, key: str, before: float, after: float, own: Array) -> StepOut:
    setting = car.setting(key)
    noticed = {c: round(float(v), 3) for c, v in zip(CHANNELS, own, strict=True) if abs(v) >= _notice(c) / 2}
    clicks = setting.click_of(after) - setting.click_of(before)
    shape: dict[str, Any] = {"from": before, "to": after, "clicks": clicks, "own": noticed}
    return StepOut(setting=key, label=setting.label, unit=setting.unit, **shape)


def _notice(channel: str) -> float:
    return NOTICE[channel.split("/")[0]]


def _expected(before: Array, after: Array) -> dict[str, BeforeAfter]:
    """Balance at half fuel always; every other channel that changes noticeably."""
    found = {}
    for channel, was, now in zip(CHANNELS, before, after, strict=True):
        always = channel in BALANCE and channel.endswith("/half")
        if always or abs(now - was) >= _notice(channel):
            found[channel] = BeforeAfter(
                before=round(float(was), 3), after=round(float(now), 3), unit=UNITS[channel]
            )
    return found


def _b(bench: Bench, request: ComparisonRequest) -> Setup:
    return bench.car.complete(request.other)


def _answer(
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


def _listed(car: Car, keys: Iterable[str]) -> str:
    names = [lowered(label_of(car, key)) for key in keys]
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def _has(car: Car, key: str) -> None:
    car.setting(key)


def _limit(car: Car, value: float | None, name: str) -> float:
    if value is None:
        raise NoSetting(f"{car.id} has no limit {name}; say the number you want")
    return value


TOOLS: Mapping[str, tuple[str, type[Subject], Callable[..., ToolAnswer]]] = {
    "comparison": (
        "Two set-ups: what differs, what it does, what pays for what",
        ComparisonRequest,
        compare_setups,
    ),
    "package": ("Run a setting at a value: the fewest other changes", PackageRequest, make_package),
    "carry-over": ("A set-up carried over to another class", CarryOverRequest, carry_over_setup),
    "start": ("A base set-up for a car at a track", StartRequest, start_setup),
    "tyres": ("What the tyres show and what to change", TyresRequest, judge_tyres),
    "gears": ("The final drive for a top rpm", GearsRequest, set_gears),
    "tape": ("The most grille tape for a water temperature", TapeRequest, set_tape),
    "stagger": ("The stagger for the track's turns", StaggerRequest, set_stagger),
    "tests": ("The next runs that teach most about this car", TestsRequest, next_tests),
}
"""Path under /v1 → what it says of itself, request, function."""


def run_tool(name: str, data: Mapping[str, Any], library: Library) -> ToolAnswer:
    """A tool by its path, on the keys of its request; pydantic's ValidationError when they do not fit."""
    _, takes, work = TOOLS[name]
    return work(takes.model_validate(dict(data)), library)
