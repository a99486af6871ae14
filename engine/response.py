"""What one click of each move does to each channel, with where that is known from and how sure we are."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from engine.car import Move

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Response:
    """The local answer of a car at a set-up. Rows are moves, columns are `engine.channels.CHANNELS`.

    `step` and `sd` are per +1 click of the move, in the channel's unit; `model` and `rule` are the two parts
    that were combined
    (`rule` is NaN where there is no rule); `gain` is what learning multiplied `step` by (1 = nothing
    learned)."""

    moves: tuple[Move, ...]
    base: Array  # [channels] at the set-up itself
    step: Array  # [moves, channels]
    sd: Array  # [moves, channels]
    model: Array  # [moves, channels]
    rule: Array  # [moves, channels]
    gain: Array  # [moves, channels]
    sources: tuple[tuple[str, ...], ...]  # [moves] source keys behind the move's rules
    bend: Array | None = None  # [moves, channels] half the change of `step` from one click to the next
    before: "Response | None" = None
    """The response nothing was learned of yet, where this is another one."""

    @cached_property
    def rows(self) -> Mapping[str, int]:
        """Row of every move."""
        return {move.key: row for row, move in enumerate(self.moves)}

    @cached_property
    def singles(self) -> Mapping[str, tuple[int, int]]:
        """Lever → its own row and clicks of the setting per click there (moves of one setting)."""
        rows = enumerate(self.moves)
        return {key: (i, n) for i, move in rows if len(move.parts) == 1 for key, n in move.parts.items()}


def read_only(response: Response) -> Response:
    """The same response with its arrays locked, to be shared."""
    parts = (response.base, response.step, response.sd, response.model, response.rule, response.gain)
    for part in (*parts, *([] if response.bend is None else [response.bend])):
        part.flags.writeable = False
    return response
