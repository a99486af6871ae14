"""How much of our code one phrase walks through: files, functions, and the lines of every function entered.

`python -m benchmarks.reading_path`. The aim is a road that a newcomer can read; what it comes to is printed,
not judged.
"""

import inspect
import sys
from collections import defaultdict
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

from service.answering import answer
from service.contract import AdviceRequest
from service.library import Library

ROOT = Path(__file__).parent.parent
PHRASE = "loose in, tight off at half fuel"


def walked(phrase: str = PHRASE) -> dict[str, dict[str, int]]:
    """Top folder/file → function → its lines, for one warm answer."""
    request, library = AdviceRequest(text=phrase), Library()
    answer(request, library)
    seen: set[CodeType] = set()

    def note(frame: FrameType, event: str, _: Any) -> None:
        if event == "call" and frame.f_code.co_filename.startswith(str(ROOT)):
            seen.add(frame.f_code)

    sys.setprofile(note)
    try:
        answer(AdviceRequest(text=f"{phrase} "), library)
    finally:
        sys.setprofile(None)
    found: dict[str, dict[str, int]] = defaultdict(dict)
    for code in seen:
        if not code.co_name.startswith("<"):
            name = str(Path(code.co_filename).relative_to(ROOT))
            found[name][code.co_qualname] = len(inspect.getsourcelines(code)[0])
    return found


def main() -> None:
    """Print the table."""
    found = walked()
    for name in sorted(found):
        print(f"{name:<32} {len(found[name]):>4} functions {sum(found[name].values()):>5} lines")
    functions = sum(len(f) for f in found.values())
    print(f"{len(found)} files, {functions} functions, {sum(sum(f.values()) for f in found.values())} lines")


if __name__ == "__main__":
    main()
