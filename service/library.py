"""The car and track sheets there are: the shipped ones and the user's own, and sheets handed in with a
request."""

import re
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Literal, TypeVar

from platformdirs import user_data_path

from engine.car import Car
from engine.errors import SheetError, UnknownName
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
from engine.track import Track

__all__ = ["Library"]

Sheet = str | Mapping[str, Any] | None
Kind = Literal["cars", "tracks"]
T = TypeVar("T", Car, Track)

FILE_NAME = (
    "a word of up to 64 letters, digits, - and _, and no name Windows keeps for devices (con, nul, ...)"
)
"""What an id must be to name a file on every system, and none outside its folder."""
DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])", re.IGNORECASE)


def names_a_file(id: str) -> bool:
    """Whether a sheet can be kept under its id on every system.

    >>> [names_a_file(id) for id in ("mid-90s_club", "../club", "c:club", "con", "")]
    [True, False, False, False, False]
    """
    return bool(re.fullmatch(r"[A-Za-z0-9_-]{1,64}", id)) and not DEVICES.fullmatch(id)


class Library:
    """Sheets by id. `folder` holds the user's own in `cars/` and `tracks/` (None = the user's data
    folder).

    A broken sheet of the user's does not hide the others: it is kept in `problems` by its file's stem,
    and asking for it by that name raises the SheetError that says what is wrong. A user's sheet may not
    take a shipped id."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = folder or user_data_path("quarterturn", appauthor=False)
        self.problems: dict[str, SheetError] = {}
        self.cars: Mapping[str, Car] = self._all("cars", shipped_cars(), read_car)
        self.tracks: Mapping[str, Track] = self._all("tracks", shipped_tracks(), read_track)

    def car(self, sheet: Sheet = None) -> Car:
        """A car by id, from a whole sheet, or the default one. UnknownName or SheetError."""
        if isinstance(sheet, Mapping):
            return parse_car(dict(sheet), "car")
        return self._find("car", sheet or DEFAULT_CAR, self.cars)

    def track(self, sheet: Sheet = None) -> Track:
        """A track by id, from a whole sheet, or the default one. UnknownName or SheetError."""
        if isinstance(sheet, Mapping):
            return parse_track(dict(sheet), "track")
        return self._find("track", sheet or DEFAULT_TRACK, self.tracks)

    def pair(self, car: Sheet = None, track: Sheet = None) -> tuple[Car, Track]:
        """A car with the base values it has at a track, and the track."""
        where = self.track(track)
        return at_track(self.car(car), where), where

    def add(self, kind: Kind, path: Path) -> Car | Track:
        """Check a sheet and copy it to the user's folder under its own id; SheetError when it is wrong or
        the id is taken."""
        made: Car | Track = read_car(path) if kind == "cars" else read_track(path)
        if not names_a_file(made.id):
            raise SheetError(path.name, "id", made.id, FILE_NAME)
        if made.id in (shipped_cars() if kind == "cars" else shipped_tracks()):
            raise SheetError(path.name, "id", made.id, "an id that no shipped sheet has")
        home = self.folder / kind
        home.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, home / f"{made.id}.toml")
        self.__init__(self.folder)  # type: ignore[misc]
        return made

    def _all(self, kind: Kind, shipped: Mapping[str, T], read: Callable[[Path], T]) -> dict[str, T]:
        found = dict(shipped)
        for path in sorted((self.folder / kind).glob("*.toml")):
            try:
                made = read(path)
                if made.id in shipped:
                    raise SheetError(path.name, "id", made.id, "an id that no shipped sheet has")
                found[made.id] = made
            except SheetError as error:
                self.problems[path.stem] = error
            except UnknownName as error:
                self.problems[path.stem] = SheetError(
                    path.name, error.kind, error.name, ", ".join(error.known)
                )
            except OSError as error:
                self.problems[path.stem] = SheetError(
                    path.name, "file", str(error), "a file that can be read"
                )
        return found

    def _find(self, kind: str, name: str, known: Mapping[str, T]) -> T:
        if name in known:
            return known[name]
        if name in self.problems:
            raise self.problems[name]
        raise UnknownName(kind, name, known)
