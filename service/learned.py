"""What a session has taught about the car, in sentences."""

from engine.car import Car
from engine.learning import LEAN, gains, leaning
from service.state import SessionState
from service.words import PHASE, label_of

__all__ = ["learned"]

PLAIN = 0.02
"""A gain this close to 1 says nothing yet."""


def learned(state: SessionState, car: Car) -> list[str]:
    """A sentence per lever and phase group that answered other than first thought; empty before a report."""
    if not state.knowledge.reports:
        return []
    found = [view for view in gains(state.knowledge) if abs(view.mean - 1.0) >= PLAIN]
    count = state.knowledge.reports
    head = f"From {count} report{'s' if count != 1 else ''} in this session:"
    rows = [
        f"{label_of(car, view.lever)}, {PHASE[view.group]}: "
        f"{view.mean:.2f} times what was first thought, give or take {view.sd:.2f}."
        for view in found
    ]
    return [head, *(rows or ["Nothing answered other than first thought."]), *_leaning(state)]


def _leaning(state: SessionState) -> list[str]:
    """Which of its two sources the car goes by, once it has shown that."""
    found = leaning(state.knowledge)
    if found is None or abs(found[0] - LEAN) <= max(found[1], PLAIN):
        return []
    source = "model" if found[0] > LEAN else "rule of thumb"
    return [f"Where model and rule of thumb differ, this car goes rather by the {source}."]
