"""The builder's tools for both doors: a request in, a `ToolAnswer` out. Raises what the sheets and the engine
raise."""

from collections.abc import Callable, Mapping
from typing import Any

from engine.adviser import advise
from engine.sheets import at_track
from engine.tools.carrying import carry_over
from engine.tools.compare import compare
from engine.tools.effects import Effects
from engine.tools.package import package
from engine.tools.starting import RPM_ROOM, WATER_ROOM, start
from engine.tools.sweeps import gears, stagger, tape
from engine.tools.teaching import next_runs
from grammar.intent import Reading
from service.bench import (
    Bench,
    answer_of,
    chosen_answer,
    expected_of,
    held_answer,
    limit_of,
    listed,
    need_setting,
    one_answer,
    open_bench,
    step_of,
)
from service.contract_tools import (
    CarryOverRequest,
    ComparisonRequest,
    GearsRequest,
    PackageRequest,
    StaggerRequest,
    StartRequest,
    Subject,
    TapeRequest,
    TestsRequest,
    ToolAnswer,
    TyresRequest,
)
from service.library import Library
from service.logbook import Logbook
from service.state import current
from service.tyres import cold_pressures, measurements, missing
from service.words import PHASE

__all__ = [
    "TOOLS",
    "carry_over_setup",
    "compare_setups",
    "judge_tyres",
    "make_package",
    "next_tests",
    "set_gears",
    "set_stagger",
    "set_tape",
    "start_setup",
]  # fmt: skip


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
            payers=listed(bench.car, [k for k, _ in paid.payers]),
            group=PHASE[paid.group],
        )
    for pair in found.together:
        bench.say("bend", {"extra": pair.extra}, first=pair.first, second=pair.second, channel=pair.channel)
    if found.differences:
        bench.say("explained", {"share": 100.0 * found.explained})
    steps = [step_of(bench.car, d.setting, d.before, d.after, d.own) for d in found.differences]
    return answer_of(
        bench,
        steps,
        expected_of(found.before, found.before + found.net),
        bench.car.complete(request.other),
        True,
    )


def make_package(request: PackageRequest, library: Library) -> ToolAnswer:
    """Run a setting at a value: the fewest other changes that keep the balance."""
    bench = open_bench("package", request, library)
    locked = frozenset(bench.car.setting(k).key for k in request.locked)
    held = package(bench.car, bench.track, bench.setup, request.run, locked, bench.style)
    return held_answer(bench, bench.setup, held)


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
    return held_answer(there, found.start, found.held)


def start_setup(request: StartRequest, library: Library) -> ToolAnswer:
    """A base set-up for a car at a track, from nothing."""
    bench = open_bench("start", request, library)
    return held_answer(bench, bench.car.base_setup(), start(bench.car, bench.track, bench.style))


def set_gears(request: GearsRequest, library: Library) -> ToolAnswer:
    """The final drive for a top rpm."""
    bench = open_bench("gears", request, library)
    need_setting(bench.car, "final_drive")
    rpm = request.rpm
    if rpm is None:
        rpm = limit_of(bench.car, bench.car.limits.top_rpm, "top_rpm") - RPM_ROOM
    return chosen_answer(bench, gears(bench.car, bench.track, bench.setup, rpm))


def set_tape(request: TapeRequest, library: Library) -> ToolAnswer:
    """The most grille tape for a water temperature."""
    bench = open_bench("tape", request, library)
    need_setting(bench.car, "grille_tape")
    water = (
        request.water
        or limit_of(bench.car, bench.car.limits.water_temperature, "water_temperature") - WATER_ROOM
    )
    return chosen_answer(bench, tape(bench.car, bench.track, bench.setup, water))


def set_stagger(request: StaggerRequest, library: Library) -> ToolAnswer:
    """The stagger that rolls freely round the track's turns."""
    bench = open_bench("stagger", request, library)
    need_setting(bench.car, "stagger")
    setting, value, exact = stagger(bench.car, bench.track)
    bench.say("stagger-for", {"exact": exact, "value": value, "before": bench.setup["stagger"]})
    return one_answer(bench, setting.key, value, True)


def next_tests(request: TestsRequest, library: Library, logbook: Logbook) -> ToolAnswer:
    """The next one-at-a-time runs that would teach most about this car; in a session, the car as it stands
    there and what its reports have taught."""
    knowledge = None
    if request.session is not None:
        state = current(logbook, request.session)
        own = {"car": state.car, "track": state.track, "setup": dict(state.setup)}
        request = request.model_copy(update={k: v for k, v in own.items() if getattr(request, k) is None})
        knowledge = state.knowledge if state.knowledge.reports else None
    bench = open_bench("tests", request, library)
    if request.session is not None:
        reports = knowledge.reports if knowledge else 0
        bench.say("tests-known" if reports else "tests-new", {"count": float(reports)})
    for run in next_runs(bench.car, bench.track, bench.setup, request.runs, knowledge):
        bench.say(
            "test-run",
            {"value": run.value, "effect": run.effect, "sd": run.doubt},
            setting=run.setting,
            channel=run.channel,
        )
    return answer_of(bench, [], {}, bench.setup, True)


def judge_tyres(request: TyresRequest, library: Library) -> ToolAnswer:
    """What wear, temperatures and hot pressures say, and the changes they ask for; cold pressures for hot
    targets."""
    bench = open_bench("tyres", request, library)
    bench.lines.extend(cold_pressures(request))
    found = measurements(request)
    if not found:
        if not bench.lines:
            bench.say("no-tyre-numbers")
        return answer_of(bench, [], {}, bench.setup, True)
    reading = Reading("", measurements=found)
    verdict = advise(reading, bench.car, bench.track, bench.setup, style=bench.style, alternatives=0)
    bench.lines.extend(verdict.notes)
    bench.lines.extend(missing(request))
    plan = verdict.plan
    after = {**bench.setup, **({c.setting: c.after for c in plan.changes} if plan else {})}
    changed = [k for k in after if after[k] != bench.setup[k]]
    effects = Effects(bench.car, bench.track, bench.setup)
    each = effects.of([after, *({**bench.setup, k: after[k]} for k in changed)])
    steps = [
        step_of(bench.car, k, bench.setup[k], after[k], o) for k, o in zip(changed, each[1:], strict=True)
    ]
    met = plan is None or plan.cured
    return answer_of(bench, steps, expected_of(effects.base, effects.base + each[0]), after, met)


def _alone(
    work: Callable[[Any, Library], ToolAnswer],
) -> Callable[[Any, Library, Logbook], ToolAnswer]:
    """A tool that needs no logbook."""
    return lambda request, library, _: work(request, library)


TOOLS: Mapping[str, tuple[str, type[Subject], Callable[[Any, Library, Logbook], ToolAnswer]]] = {
    "comparison": (
        "Two set-ups: what differs, what pays for what",
        ComparisonRequest,
        _alone(compare_setups),
    ),
    "package": ("Run a setting at a value: the fewest other changes", PackageRequest, _alone(make_package)),
    "carry-over": ("A set-up carried over to another class", CarryOverRequest, _alone(carry_over_setup)),
    "start": ("A base set-up for a car at a track", StartRequest, _alone(start_setup)),
    "tyres": ("What the tyres show and what to change", TyresRequest, _alone(judge_tyres)),
    "gears": ("The final drive for a top rpm", GearsRequest, _alone(set_gears)),
    "tape": ("The most grille tape for a water temperature", TapeRequest, _alone(set_tape)),
    "stagger": ("The stagger for the track's turns", StaggerRequest, _alone(set_stagger)),
    "tests": ("The next runs that teach most about this car", TestsRequest, next_tests),
}
"""Path under /v1 → what it says of itself, request, function."""
