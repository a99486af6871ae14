"""Car and track sheets as the service shows them; lengths of a track in the units people use for it."""

from math import degrees

from engine.car import Car
from engine.sheet_reading import as_rows
from engine.sheets import DEFAULT_CAR, DEFAULT_TRACK
from engine.track import Corner, Track
from service.contract_service import (
    CarLine,
    CarOut,
    CarsOut,
    CornerOut,
    MoveOut,
    SettingOut,
    TrackLine,
    TrackOut,
    TracksOut,
)
from service.desk import Call

METRES_PER_FOOT = 0.3048
METRES_PER_MILE = 1609.344


def list_cars(call: Call) -> CarsOut:
    """All cars, shipped and the user's own."""
    cars = call.desk.library.cars.values()
    return CarsOut(cars=[CarLine(id=c.id, name=c.name, default=c.id == DEFAULT_CAR) for c in cars])


def list_tracks(call: Call) -> TracksOut:
    """All tracks, shipped and the user's own."""
    tracks = call.desk.library.tracks.values()
    return TracksOut(
        tracks=[TrackLine(id=t.id, name=t.name, kind=t.kind, default=t.id == DEFAULT_TRACK) for t in tracks]
    )


def show_car(call: Call) -> CarOut:
    """One car by id; UnknownName if there is none."""
    return car_out(call.desk.library.car(call.names["car"]))


def show_track(call: Call) -> TrackOut:
    """One track by id; UnknownName if there is none."""
    return track_out(call.desk.library.track(call.names["track"]))


def car_out(car: Car) -> CarOut:
    """A car as JSON shows it."""
    return CarOut(
        id=car.id,
        name=car.name,
        archetype=car.archetype,
        real=car.real,
        source=car.source,
        settings=[SettingOut.model_validate(s.model_dump()) for s in car.settings],
        moves=[MoveOut.model_validate(m.model_dump()) for m in car.moves],
        limits=car.limits.model_dump(),
        physics=as_rows(car.physics, without=("fixed",)),
    )


def track_out(track: Track) -> TrackOut:
    """A track as JSON shows it."""
    return TrackOut(
        id=track.id,
        name=track.name,
        kind=track.kind,
        wear=track.wear,
        length_mi=round(track.length / METRES_PER_MILE, 4),
        straight_ft=round(track.straight / METRES_PER_FOOT, 1),
        corners=[_corner(corner) for corner in track.corners],
        source=track.source,
    )


def _corner(corner: Corner) -> CornerOut:
    return CornerOut(
        name=corner.name,
        turn=corner.turn,
        radius_ft=[round(r / METRES_PER_FOOT, 1) for r in corner.radius],
        banking_deg=[round(degrees(b), 2) for b in corner.banking],
        weight=corner.weight,
    )
