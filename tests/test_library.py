"""Sheets: shipped, the user's own, and handed in; a broken one does not hide the others."""

from pathlib import Path

import pytest

from engine.errors import SheetError, UnknownName
from engine.sheets import DEFAULT_CAR, DEFAULT_TRACK
from service.library import Library

OWN = """
id = "own-late-model"
name = "Own late model"
archetype = "perimeter-stock-car"
source = "test"

[settings]
cross_weight = { unit = "%", min = 46, max = 56, step = 0.5, base = 50 }
brake_bias = { unit = "%", min = 55, max = 75, step = 0.5, base = 65 }
"""


def test_the_defaults_are_there(tmp_path: Path) -> None:
    library = Library(tmp_path)
    assert library.car().id == DEFAULT_CAR
    assert library.track().id == DEFAULT_TRACK


def test_an_unknown_car_is_named_with_those_there_are(tmp_path: Path) -> None:
    with pytest.raises(UnknownName) as error:
        Library(tmp_path).car("tern-premiere")
    assert "tern-premier" in str(error.value)


def test_a_users_sheet_is_added_and_found_again(tmp_path: Path) -> None:
    sheet = tmp_path / "mine.toml"
    sheet.write_text(OWN, "utf-8")
    library = Library(tmp_path / "home")
    assert library.add("cars", sheet).id == "own-late-model"
    assert library.car("own-late-model").setting("brake_bias").base == 65
    assert Library(tmp_path / "home").car("own-late-model").name == "Own late model"


def test_a_shipped_id_cannot_be_taken(tmp_path: Path) -> None:
    sheet = tmp_path / "mine.toml"
    sheet.write_text(OWN.replace("own-late-model", DEFAULT_CAR), "utf-8")
    with pytest.raises(SheetError, match="id"):
        Library(tmp_path / "home").add("cars", sheet)


@pytest.mark.parametrize(
    "text", ["not toml [", OWN.replace("cross_weight", "warp_weight"), OWN.replace("min = 46", "min = 60")]
)
def test_a_broken_sheet_hides_nothing_and_says_what_is_wrong(tmp_path: Path, text: str) -> None:
    (tmp_path / "cars").mkdir()
    (tmp_path / "cars" / "broken.toml").write_text(text, "utf-8")
    library = Library(tmp_path)
    assert library.car().id == DEFAULT_CAR
    with pytest.raises(SheetError, match=r"broken\.toml"):
        library.car("broken")


def test_a_whole_sheet_can_be_handed_in(tmp_path: Path) -> None:
    own = {
        "id": "guest",
        "archetype": "perimeter-stock-car",
        "settings": {"cross_weight": {"unit": "%", "min": 46, "max": 56, "step": 0.5, "base": 50}},
    }
    assert Library(tmp_path).car(own).id == "guest"
