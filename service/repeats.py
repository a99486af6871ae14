"""Answers that hang on the request's body alone, kept ready to send to whoever asks the same again."""

from collections import OrderedDict

__all__ = ["Repeats"]

MOST_BYTES = 8_000_000
"""Bodies and answers together that one route keeps, bytes: several hundred change lists."""
EACH_BYTES = 300
"""What keeping one answer takes beside its body and itself, bytes (measured, rounded up)."""


class Repeats:
    """Body → answer, both as bytes; the one longest not asked for is let go first. For one thread."""

    def __init__(self, most: int = MOST_BYTES) -> None:
        self.most, self.held = most, 0
        self._kept: OrderedDict[bytes, bytes] = OrderedDict()

    def get(self, body: bytes) -> bytes | None:
        """The answer to this very body, if it is kept."""
        answer = self._kept.get(body)
        if answer is not None:
            self._kept.move_to_end(body)
        return answer

    def keep(self, body: bytes, answer: bytes) -> None:
        """Keep an answer; it stands for every later request with the same body."""
        if body in self._kept:
            return
        self._kept[body] = answer
        self.held += _size(body, answer)
        while self.held > self.most:
            self.held -= _size(*self._kept.popitem(last=False))

    def __len__(self) -> int:
        return len(self._kept)


def _size(body: bytes, answer: bytes) -> int:
    return len(body) + len(answer) + EACH_BYTES
