"""What a shape or sheet allows in a place, in our words: pydantic finds what is wrong, this says what is
right."""

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel

__all__ = ["allowed"]

WORDS = {
    "missing": "it must be there",
    "extra_forbidden": "no such key",
    "finite_number": "a finite number",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "list_type": "a list",
    "tuple_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "mapping_type": "a table",
}
KINDS = {"string": "a text", "int": "a whole number", "float": "a number"}
BOUNDS = {
    "greater_than_equal": ("ge", "at least {}"),
    "greater_than": ("gt", "more than {}"),
    "less_than_equal": ("le", "at most {}"),
    "less_than": ("lt", "less than {}"),
}


def allowed(found: Mapping[str, Any], model: type[BaseModel] | None = None) -> str:
    """What may stand where pydantic found something wrong (one of its `errors()`).

    With the `model`, a range has both its ends. A text of ours (a validator's ValueError) stays as it is."""
    kind, more = str(found["type"]), found.get("ctx", {})
    if kind in WORDS:
        return WORDS[kind]
    if kind in BOUNDS:
        return _range(found, model) or BOUNDS[kind][1].format(_plain(more[BOUNDS[kind][0]]))
    if kind == "literal_error":
        return f"one of {more['expected']}"
    if kind == "string_too_long":
        return f"at most {more['max_length']} characters"
    if kind == "string_pattern_mismatch":
        return f"a text like {more['pattern']}"
    start = kind.partition("_")[0]
    if start in KINDS and kind.endswith(("_type", "_parsing", "_from_float")):
        return KINDS[start]
    return str(found["msg"]).removeprefix("Value error, ").removeprefix("Input should be ")


def _range(found: Mapping[str, Any], model: type[BaseModel] | None) -> str | None:
    """Both ends of a field's range, when it has both and both belong to it."""
    field = model.model_fields.get(str(found["loc"][0])) if model and len(found["loc"]) == 1 else None
    rules = field.metadata if field else []
    low = next((rule.ge for rule in rules if hasattr(rule, "ge")), None)
    high = next((rule.le for rule in rules if hasattr(rule, "le")), None)
    return None if low is None or high is None else f"{_plain(low)} to {_plain(high)}"


def _plain(number: Any) -> str:
    return f"{number:,}" if isinstance(number, int) else f"{number:g}"
