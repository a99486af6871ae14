"""An answer as something to hand to other drivers: Markdown, or one HTML file that needs nothing else."""

from html import escape
from importlib.resources import files

from engine.car import Car
from grammar.intent import STAGES
from service.contract import Advice, BeforeAfter, ChangeOut
from service.picture import balance_picture
from service.words import MARK, channel_words

__all__ = ["to_html", "to_markdown"]

KEPT = ("cure", "trim", "without", "cost", "asked", "thumb", "wear", "sure", "feel-for", "back", "together")
"""Kinds of reasons that go on the sheet, by how they begin, besides the path."""


def to_markdown(advice: Advice, car: Car, track_name: str, setup: dict[str, float]) -> str:
    """The sheet as Markdown. `setup` is the whole set-up before the changes."""
    lines = [
        f"# {car.name} at {track_name}",
        "",
        f"> {_one_line(advice.reading.text)}",
        "",
        advice.summary,
        "",
    ]
    lines += [*(f"- {note}" for note in advice.notes), ""] if advice.notes else []
    for place, change in enumerate(advice.changes, 1):
        lines += [f"## {place}. {_step(change)}", "", *(f"- {text}" for text in _reasons(change)), ""]
    balance = _balance_rows(advice)
    if balance:
        lines += ["## Balance, in feel", "", "| where | now | after |", "|---|--:|--:|"]
        lines += [f"| {name} | {row.before:+.1f} | {row.after:+.1f} |" for name, row in balance]
        lines += ["", "+ is tight, - is loose.", ""]
    others = _others(advice)
    lines += ["## Also expected", "", *(f"- {text}" for text in others), ""] if others else []
    lines += ["## The whole set-up after the changes", "", "| setting | value |", "|---|--:|"]
    lines += [
        f"| {label}{' *' if changed else ''} | {value} |"
        for label, value, changed in _whole(advice, car, setup)
    ]
    lines += ["", "\\* changed", "", *(f"**Caution:** {text}" for text in advice.cautions), ""]
    lines += (
        ["Sources: " + "; ".join(f"{s.title} ({MARK.get(s.mark, s.mark)})" for s in advice.sources)]
        if advice.sources
        else []
    )
    return "\n".join(lines).rstrip() + "\n"


def to_html(advice: Advice, car: Car, track_name: str, setup: dict[str, float]) -> str:
    """The sheet as one HTML file: no script, no request, one printed page."""
    page = files("service").joinpath("handout.html").read_text(encoding="utf-8")
    stage = next((s for s in ("half", *STAGES) if f"balance/centre/{s}" in advice.expected), "half")
    parts = {
        "title": escape(f"{car.name} at {track_name}"),
        "complaint": escape(advice.reading.text),
        "summary": escape(advice.summary),
        "notes": "".join(f"<p>{escape(note)}</p>" for note in advice.notes),
        "changes": "".join(
            f"<li><b>{escape(_step(c))}</b><br>{escape(' '.join(_reasons(c)))}</li>" for c in advice.changes
        ),
        "picture": balance_picture(advice.expected, stage),
        "others": "".join(f"<li>{escape(text)}</li>" for text in _others(advice)),
        "setup": "".join(
            f"<tr{' class=changed' if changed else ''}><td>{escape(label)}{' *' if changed else ''}</td>"
            f"<td>{escape(value)}</td></tr>"
            for label, value, changed in _whole(advice, car, setup)
        ),
        "cautions": escape(" ".join(advice.cautions)),
        "sources": escape("; ".join(f"{s.title} ({MARK.get(s.mark, s.mark)})" for s in advice.sources)),
    }
    for name, text in parts.items():
        page = page.replace(f"<!--{name}-->", text)
    return page


def _step(change: ChangeOut) -> str:
    where = {"stop": "on a stop", "garage": "in the garage"}[change.where]
    return (
        f"{change.label} {change.from_:g} → {change.to:g} {change.unit} ({change.clicks:+d} clicks, {where})"
    )


def _reasons(change: ChangeOut) -> list[str]:
    return [r.text for r in change.reasons if r.kind.startswith((*KEPT, "path-"))]


def _balance_rows(advice: Advice) -> list[tuple[str, BeforeAfter]]:
    return [(channel_words(c), row) for c, row in advice.expected.items() if c.startswith("balance/")]


def _others(advice: Advice) -> list[str]:
    return [
        f"{channel_words(c)}: {row.before:.4g} → {row.after:.4g} {row.unit}"
        for c, row in advice.expected.items()
        if not c.startswith("balance/")
    ]


def _whole(advice: Advice, car: Car, setup: dict[str, float]) -> list[tuple[str, str, bool]]:
    """Label, value with unit, and whether it changes, for every setting."""
    after = {c.setting: c.to for c in advice.changes}
    return [(s.label, f"{after.get(s.key, setup[s.key]):g} {s.unit}", s.key in after) for s in car.settings]


def _one_line(text: str) -> str:
    return " ".join(text.split())
