"""What was understood, in one line of words; and where in the text something was not."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from cli.page import Page, columns

if TYPE_CHECKING:
    from service.contract import (
        LimitOut,
        MeasurementOut,
        OutcomeOut,
        ReadingOut,
        RequestOut,
        SpanOut,
        SymptomOut,
    )

PLACES = {
    ("entry-braking", "entry-rolling"): "in",
    ("entry-braking",): "in on the brakes",
    ("entry-rolling",): "in off the brakes",
    ("centre",): "in the middle",
    ("exit-first-throttle", "exit-full-throttle"): "off",
    ("exit-first-throttle",): "off picking up the throttle",
    ("exit-full-throttle",): "off at full throttle",
    ("straight",): "on the straight",
}
STAGES = {
    "start": "on fresh tyres",
    "half": "at half fuel",
    "late": "late in the run",
    "whole": "over the whole run",
}
STATES = {"live": "", "gone": "gone: ", "eased": "eased: ", "worse": "worse: ", "feared": "feared: "}
SEVERITIES = {"slight": "a little", "plain": "", "severe": "very"}
GOALS = {"tight": "tighter", "loose": "looser"}
REQUESTS = {"goal": "make it", "another": "something else", "undo": "take it back"}
TYRES = {"lf": "left-front", "rf": "right-front", "lr": "left-rear", "rr": "right-rear"}
LIMITS = {
    "not": "not",
    "only": "only",
    "stop-only": "only what a pit stop allows",
    "keep": "keep",
    "lift": "free to use",
    "lift-stop": "not only on a pit stop",
    "lift-count": "as many changes as it takes",
}


def words_for(reading: "ReadingOut") -> str:
    """`loose in; tight off at half fuel; not cross weight`. Empty when nothing was understood."""
    parts = [f"stop: {spaced(reading.stop)}"] if reading.stop else []
    parts += ["perhaps the driver"] if reading.driver else []
    parts += [_symptom(s) for s in reading.symptoms]
    parts += [_outcome(o) for o in reading.outcomes]
    parts += [_measurement(m) for m in reading.measurements]
    parts += [_limit(limit) for limit in reading.limits]
    parts += [_request(r) for r in reading.requests]
    parts += [f"good {_place(reading.good)}"] if reading.good else []
    parts += [f"good {STAGES[stage]}" for stage in reading.good_stages]
    return "; ".join(unique(parts))


def pointers(page: Page, text: str, spans: "Iterable[SpanOut]") -> list[str]:
    """The typed text with carets under the spans, broken to the page's width."""
    under = {place for span in spans for place in range(span.start, span.end)}
    lines: list[str] = []
    for start, end in pieces(text, page.width - 4):
        lines.append("  " + page.clean(text[start:end]))
        caret = "".join(
            (page.mark("caret") if place in under else " ") * columns(page.clean(text[place]))
            for place in range(start, end)
        ).rstrip()
        if caret:
            lines.append("  " + page.ink("warn", caret))
    return lines


def pieces(text: str, room: int) -> list[tuple[int, int]]:
    """Start and end of each stretch of the text that fits in `room` columns; breaks at spaces if it can."""
    found, start = [], 0
    while start < len(text):
        end, used, blank = start, 0, 0
        while end < len(text) and text[end] not in "\r\n" and used + columns(text[end]) <= room:
            used += columns(text[end])
            end += 1
            blank = end if text[end - 1] == " " else blank
        if end < len(text) and text[end] not in "\r\n" and blank > start:
            end = blank
        if end > start:
            found.append((start, end))
        start = end + 1 if end < len(text) and (text[end] in "\r\n" or end == start) else end
    return found


def unique(parts: Iterable[str]) -> list[str]:
    """The parts in order, each once, empty ones left out."""
    return list(dict.fromkeys(part for part in parts if part))


def spaced(key: str) -> str:
    """A key as words: `track_bar_left` → `track bar left`."""
    return key.replace("_", " ").replace("-", " ")


def settings_in_words(keys: Iterable[str]) -> str:
    """Keys as the trade says them: `springs`, `rear springs`, `right-front spring, cross weight`."""
    groups: dict[str, list[str]] = {}
    said = list(keys)
    if {"track_bar_left", "track_bar_right"} <= set(said):
        said = ["track_bar", *(key for key in said if not key.startswith("track_bar_"))]
    for key in said:
        kind, _, tyre = key.rpartition("_")
        groups.setdefault(kind if tyre in TYRES else key, []).append(tyre if tyre in TYRES else "")
    return ", ".join(_group(kind, tyres) for kind, tyres in groups.items())


def _group(kind: str, tyres: list[str]) -> str:
    name, said = spaced(kind), set(tyres)
    if said == {""}:
        return name
    for end, both in (("", set(TYRES)), ("front ", {"lf", "rf"}), ("rear ", {"lr", "rr"})):
        if said == both:
            return f"{end}{name}s"
    return ", ".join(f"{TYRES[tyre]} {name}" for tyre in tyres)


def _place(phases: Iterable[str]) -> str:
    said = tuple(phases)
    if len(said) >= 5:
        return "everywhere"
    if said in PLACES:
        return PLACES[said]
    return " and ".join(unique(PLACES.get((phase,), spaced(phase)) for phase in said))


def _symptom(s: "SymptomOut") -> str:
    kind = s.direction or spaced(s.kind) if s.kind == "balance" else spaced(s.kind)
    place = _place(s.phases) if s.phase_said else "somewhere" if s.kind == "balance" else ""
    stage = STAGES.get(s.stage or "", "")
    corner = f"turn {s.corner}" if s.corner else ""
    words = (SEVERITIES[s.severity], kind, place, corner, s.tyre or "", stage)
    return STATES[s.state] + " ".join(w for w in words if w)


def _outcome(o: "OutcomeOut") -> str:
    amount = f"{o.amount:g}" if o.amount is not None else ""
    words = (
        spaced(o.verdict),
        o.direction or "",
        settings_in_words([o.setting] if o.setting else []),
        amount,
        _place(o.phases),
    )
    return " ".join(w for w in words if w)


AGAINST = {
    "cold": "built up",
    "first": "lost over the run",
    "edge": "from edge to edge",
    "usual": "on what it was",
}


def _measurement(m: "MeasurementOut") -> str:
    """`RF tyre temperature 240/225/210 F`; a difference with its sign: `RR tyre temperature +25 F on LR`."""
    form = "{:g}" if m.against in (None, "cold", "edge", "first") else "{:+g}"
    values = "/".join(form.format(value) for value in m.values)
    against = AGAINST.get(m.against, f"on {' and '.join(m.against.split('_'))}") if m.against else ""
    words = (m.tyre, spaced(m.quantity), m.point, values, m.unit or "(unit?)", m.condition, against)
    return " ".join(w for w in words if w)


def _limit(limit: "LimitOut") -> str:
    if limit.kind == "max-changes":
        return f"at most {limit.number} change{'' if limit.number == 1 else 's'}"
    named = settings_in_words(limit.settings) or ("anything" if limit.kind == "lift" else "")
    return f"{LIMITS.get(limit.kind, spaced(limit.kind))} {named}".strip()


def _request(r: "RequestOut") -> str:
    value = "" if r.value is None else f"{r.value:+g}" if r.relative else f"{r.value:g}"
    way = GOALS.get(r.direction or "", "") if r.kind == "goal" else r.direction or ""
    what = REQUESTS.get(r.kind, spaced(r.kind))
    return " ".join(w for w in (what, settings_in_words(r.settings), value, r.unit or "", way) if w)
