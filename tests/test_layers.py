"""The arrows between the four folders, and that no module imports in a circle."""

import ast
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
FOLDERS = ("grammar", "engine", "service", "cli")
ALLOWED = {
    "grammar": ("grammar",),
    "engine": ("engine", "grammar.intent"),
    "service": ("service", "engine", "grammar"),
    "cli": ("cli", "service", "grammar.completion", "grammar.intent"),
}


def name_of(path: Path) -> str:
    """Dotted module name of a file."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {name_of(p): p for folder in FOLDERS for p in (ROOT / folder).rglob("*.py")}


def imports_of(path: Path) -> set[str]:
    """The modules of ours that a file imports, anywhere in it."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            base = node.module or ""
            found |= {f"{base}.{a.name}" if f"{base}.{a.name}" in MODULES else base for a in node.names}
    return {name for name in found if name.split(".")[0] in FOLDERS}


@pytest.mark.parametrize("module", sorted(MODULES))
def test_a_module_imports_only_what_its_folder_may(module: str) -> None:
    allowed = ALLOWED[module.split(".")[0]]
    wrong = {
        name
        for name in imports_of(MODULES[module])
        if not any(name == ok or name.startswith(f"{ok}.") for ok in allowed)
    }
    assert wrong == set()


def test_no_circles() -> None:
    graph = {name: imports_of(path) & set(MODULES) - {name} for name, path in MODULES.items()}
    order = list(TopologicalSorter(graph).static_order())
    assert set(order) == set(MODULES)


def test_data_folders_hold_no_python() -> None:
    for folder in ("grammar/vocabulary", "engine/cars", "engine/tracks", "engine/rules"):
        assert (ROOT / folder).is_dir(), folder
        assert list((ROOT / folder).rglob("*.py")) == []
