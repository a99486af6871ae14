"""Car and track sheets: what is accepted, what is refused and how it says so, units at the edge."""

import copy
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.catalogue import KEYS, catalogue
from engine.channels import CHANNELS
from engine.errors import EngineError, SheetError, UnknownName
from engine.model import predict
from engine.sensitivity import respond
from engine.sheets import (
    DEFAULT_CAR,
    DEFAULT_TRACK,
    at_track,
    parse_car,
    parse_track,
    read_car,
    read_track,
    shipped_cars,
    shipped_tracks,
)
from engine.units import UNITS, convert, from_si, to_si

SMALL: dict[str, Any] = {
    "id": "small",
    "archetype": "perimeter-stock-car",
    "settings": {
        "cross_weight": {"min": 45, "max": 55, "step": 0.5},
        "spring_rf": {"unit": "N/mm", "min": 60, "max": 180, "step": 5, "base": 110},
        "pressure_rf": {"unit": "kPa", "min": 150, "max": 350, "step": 5, "base": 240},
        "front_bar": {"unit": "mm", "min": 25, "max": 40, "choices": [25, 28, 31, 34, 37, 40], "base": 28},
    },
}

LINK = {"label": "x", "first": "spring_rr", "second": "spring_rf", "low": 0, "high": 1}
BOTH = {"key": "both", "label": "x", "parts": {"spring_rr": 1}, "reach": 1, "cap": 1}


def shipped_data(folder: str, name: str) -> dict[str, Any]:
    """A shipped sheet as plain data."""
    return tomllib.loads(files("engine").joinpath(f"{folder}/{name}.toml").read_text("utf-8"))


def test_the_demo_series_has_three_classes_and_four_tracks() -> None:
    assert set(shipped_cars()) == {"tern-premier", "tern-challenge", "tern-club"}
    assert set(shipped_tracks()) == {"millpond", "stonecup", "longmeadow", "fernbrook"}
    assert DEFAULT_CAR in shipped_cars()
    assert DEFAULT_TRACK in shipped_tracks()
    mass = [shipped_cars()[f"tern-{c}"].physics.mass for c in ("premier", "challenge", "club")]
    assert mass == sorted(mass, reverse=True)


def test_every_number_of_the_demo_says_where_it_is_from() -> None:
    stated = [car.source for car in shipped_cars().values()]
    stated += [track.source for track in shipped_tracks().values()]
    assert set(stated) == {"invented for the demo"}


@pytest.mark.parametrize("car", shipped_cars().values(), ids=lambda c: c.id)
def test_every_setting_is_a_move_and_pairs_come_beside(car: Any) -> None:
    keys = [m.key for m in car.moves]
    assert len(set(keys)) == len(keys)
    assert {s.key for s in car.settings} < set(keys)
    assert {"track_bar_both", "rear_springs_both", "rear_spring_split", "front_spring_split"} <= set(keys)
    assert all(key in car.by_key for move in car.moves for key in move.parts)


def test_a_sheet_of_settings_and_an_archetype_is_enough() -> None:
    car = parse_car(SMALL)
    got = respond(car, shipped_tracks()[DEFAULT_TRACK], car.base_setup())

    assert car.setting("cross_weight").base == 50
    assert [m.key for m in car.moves] == list(SMALL["settings"])
    assert got.step.shape == (4, len(CHANNELS))
    assert got.step[0][CHANNELS.index("balance/centre/half")] > 0


def test_a_round_cap_is_the_trade_s_amount_in_the_sheet_s_own_steps() -> None:
    """Half to one point of cross, 50 lb/in of front spring (8.8 N/mm), 2 psi (13.8 kPa): design section 7."""
    caps = {m.key: m.cap for m in parse_car(SMALL).moves}
    assert caps == {"cross_weight": 2, "spring_rf": 1, "pressure_rf": 2, "front_bar": 2}


def test_the_same_car_in_metric_units_feels_the_same() -> None:
    """Units are of the edge only."""
    metric = {"lb/in": "N/mm", "psi": "kPa", "in": "mm", "gal": "l"}
    data = shipped_data("cars", DEFAULT_CAR)
    for row in data["settings"].values():
        if row["unit"] in metric:
            other = metric[row["unit"]]
            for key in ("min", "max", "base", "step"):
                if key in row:
                    row[key] = convert(row[key], row["unit"], other)
            row["choices"] = (
                [convert(c, row["unit"], other) for c in row["choices"]] if "choices" in row else None
            )
            row["unit"] = other
    here, there = shipped_cars()[DEFAULT_CAR], parse_car(data)
    track = shipped_tracks()[DEFAULT_TRACK]

    assert predict(there, track, there.base_setup()) == pytest.approx(
        predict(here, track, here.base_setup()), abs=1e-6
    )


def test_settings_may_come_as_a_list_as_the_service_gives_them() -> None:
    rows = [{"key": key, **row} for key, row in SMALL["settings"].items()]
    moves = [{"key": "cross_weight", "label": "x", "parts": {"cross_weight": 1}, "reach": 1, "cap": 2}]

    assert parse_car({**SMALL, "settings": rows, "moves": moves}) == parse_car(SMALL)


def changed(path: str, value: Any) -> dict[str, Any]:
    """SMALL with one value changed; `path` in dots."""
    data = copy.deepcopy(SMALL)
    at = data
    *way, last = path.split(".")
    for key in way:
        at = at.setdefault(key, {})
    at[last] = value
    return data


@pytest.mark.parametrize(
    ("path", "value", "key", "allowed"),
    [
        ("settings", {}, "settings", "at least one setting"),
        ("settings", 3, "settings", "a table"),
        ("wheels", 4, "wheels", "only id, name"),
        ("settings.cross_weight.unit", "in", "settings.cross_weight.unit", "%"),
        ("settings.cross_weight.min", 56, "cross_weight", ""),
        ("settings.cross_weight.step", 0, "cross_weight", "above 0"),
        ("settings.cross_weight.step", None, "cross_weight", "step or choices"),
        ("settings.cross_weight.base", 57, "cross_weight", "45"),
        ("settings.cross_weight.colour", "red", "colour", ""),
        ("settings.cross_weight.base", float("nan"), "base", ""),
        ("settings.cross_weight.max", 90, "settings.cross_weight.max", "30 to 70 %"),
        ("settings.spring_rf.min", 0, "settings.spring_rf.min", "N/mm"),
        ("physics.mass_lb", 0, "mass", ""),
        ("physics.unsprung_rear_lb", 2000, "physics", "half of mass"),
        ("physics.wheelbase", 110, "wheelbase", "wheelbase_in"),
        ("physics.wheelbase_psi", 110, "wheelbase_psi", ""),
        ("physics.wheelbase_in", "long", "wheelbase_in", "number"),
        ("physics.wings", 2, "wings", "mass"),
        ("limits.top_rpms", 8000, "top_rpms", ""),
        ("limits.links", [LINK], "limits.links", "spring_rf"),
        ("moves", [BOTH], "moves.both.parts", "spring_rf"),
    ],
)  # fmt: skip
def test_a_wrong_sheet_names_file_key_and_what_is_allowed(
    path: str, value: Any, key: str, allowed: str
) -> None:
    with pytest.raises(SheetError) as caught:
        parse_car(changed(path, value), "mine.toml")

    assert "mine.toml" in caught.value.file
    assert key in f"{caught.value.file} {caught.value.key}"
    assert allowed in caught.value.allowed
    assert str(caught.value).startswith("mine.toml")


@pytest.mark.parametrize(
    ("path", "value"), [("archetype", "go-kart"), ("settings.wing", {"min": 0, "max": 1, "step": 1})]
)
def test_an_unknown_name_lists_the_known_ones(path: str, value: Any) -> None:
    with pytest.raises(UnknownName) as caught:
        parse_car(changed(path, value))
    assert caught.value.known


@pytest.mark.parametrize(
    ("key", "value"),
    [("corners", []), ("length_mi", -1), ("kind", "square"), ("wear", "awful"), ("length", 3), ("extra", 1)],
)
def test_a_wrong_track_is_refused(key: str, value: Any) -> None:
    data = {**shipped_data("tracks", DEFAULT_TRACK), key: value}
    with pytest.raises(EngineError) as caught:
        parse_track(data, "track.toml")
    assert "track.toml" in str(caught.value)


def test_a_file_that_is_not_toml_is_refused(tmp_path: Path) -> None:
    broken = tmp_path / "car.toml"
    broken.write_text("id = ", encoding="utf-8")
    for read in (read_car, read_track):
        with pytest.raises(SheetError, match=r"car\.toml"):
            read(broken)


def test_a_sheet_reads_back_from_a_file(tmp_path: Path) -> None:
    for folder, read, known in (("cars", read_car, shipped_cars()), ("tracks", read_track, shipped_tracks())):
        for name, sheet in known.items():
            path = tmp_path / f"{name}.toml"
            path.write_bytes(files("engine").joinpath(f"{folder}/{name}.toml").read_bytes())
            assert read(path) == sheet


@pytest.mark.parametrize("track", shipped_tracks().values(), ids=lambda t: t.id)
@pytest.mark.parametrize("car", shipped_cars().values(), ids=lambda c: c.id)
def test_a_car_at_a_track_starts_from_that_track_s_values(car: Any, track: Any) -> None:
    """Within two feel of neutral in every phase at half fuel, revs and water inside the limits, wear gap
    under 4 %."""
    there = at_track(car, track)
    got = predict(there, track, there.base_setup())

    assert {k: there.setting(k).base for k in track.fit.get(car.id, {})} == track.fit.get(car.id, {})
    half = {c: got[c] for c in CHANNELS if c.startswith("balance") and c.endswith("half")}
    assert all(abs(b) < 3.0 for b in half.values()), half
    assert got["top-rpm"] < car.limits.top_rpm
    assert got["water-temperature"] < car.limits.water_temperature
    assert abs(got["wear-gap/right"]) < car.limits.wear_gap


def test_a_corner_may_give_one_radius_and_one_banking() -> None:
    """The numbers are those of the centre; the line opens towards entry and exit, the banking falls away."""
    data = {"id": "own", "name": "Own", "length_km": 0.8, "straight_m": 150}
    track = parse_track({**data, "corners": [{"name": "all", "radius_m": 60, "banking_deg": 12}]})
    corner = track.corners[0]

    assert corner.radius[2] == pytest.approx(60)
    assert from_si(corner.banking[2], "deg") == pytest.approx(12)
    assert corner.radius[0] > corner.radius[1] > corner.radius[2] < corner.radius[3] < corner.radius[4]
    assert max(corner.banking) == corner.banking[2]
    assert predict(shipped_cars()[DEFAULT_CAR], track, shipped_cars()[DEFAULT_CAR].base_setup())


@pytest.mark.parametrize(
    ("archetype", "track"),
    [("perimeter-stock-car", "stonecup"), ("late-model", "stonecup"), ("road-course-saloon", "fernbrook")],
)
def test_every_archetype_makes_a_sound_car(archetype: str, track: str) -> None:
    """A sheet of one setting: within three feel of neutral; pairs it cannot make are left out."""
    car = parse_car(
        {"archetype": archetype, "settings": {"front_bar": {"min": 0.5, "max": 2, "step": 0.125}}}
    )
    got = predict(car, shipped_tracks()[track], {"front_bar": 1.125})

    assert [m.key for m in car.moves] == ["front_bar"]
    assert all(abs(v) < 3 for c, v in got.items() if c.startswith("balance")), got
    assert 0 < got["wear/RF"] < 50


def test_a_track_s_value_off_the_car_s_sheet_is_refused() -> None:
    track = shipped_tracks()["millpond"].model_copy(update={"fit": {DEFAULT_CAR: {"stagger": 99.0}}})
    with pytest.raises(SheetError, match="stagger"):
        at_track(shipped_cars()[DEFAULT_CAR], track)


@given(st.sampled_from(sorted(UNITS)), st.floats(-1e4, 1e4))
def test_units_go_there_and_back(unit: str, value: float) -> None:
    assert from_si(to_si(value, unit), unit) == pytest.approx(value, abs=1e-9, rel=1e-9)


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        (1.0, "in", "mm", 25.4),  # exact by definition
        (100.0, "lb/in", "N/mm", 17.5126835),  # from memory
        (14.5037738, "psi", "kPa", 100.0),  # from memory
        (212.0, "degF", "degC", 100.0),
        (1.0, "gal", "l", 3.785411784),  # US gallon, exact by definition
        (60.0, "mph", "km/h", 96.56064),
    ],
)
def test_units_are_right(value: float, unit: str, to: str, expected: float) -> None:
    assert convert(value, unit, to) == pytest.approx(expected, rel=1e-7)


def test_units_of_two_kinds_do_not_convert() -> None:
    with pytest.raises(ValueError, match="length"):
        convert(1.0, "in", "psi")


def test_the_catalogue_knows_every_setting_of_the_contract() -> None:
    """Setting keys that clients rely on (fixed names)."""
    corners = ("lf", "rf", "lr", "rr")
    wanted = {
        f"{k}_{c}" for k in ("spring", "compression", "rebound", "pressure", "ride_height") for c in corners
    }
    wanted |= {"cross_weight", "nose_weight", "left_weight", "front_bar", "rear_bar", "track_bar_left"}
    wanted |= {"track_bar_right", "camber_lf", "camber_rf", "caster_lf", "caster_rf", "toe_front", "stagger"}
    wanted |= {
        "brake_bias",
        "gear_1",
        "final_drive",
        "grille_tape",
        "spoiler",
        "steering_ratio",
        "steering_offset",
        "fuel",
    }

    assert wanted <= set(KEYS)
    assert all(row["unit"] in UNITS and row["round"] > 0 for row in catalogue().values())
