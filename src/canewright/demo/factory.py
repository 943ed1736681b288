"""The demonstration factories: their files, their plans of readings, their seasons."""

import errno
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from canewright.demo.plan import DRY_RIDGE, HALCYON_BEND, planned
from canewright.demo.season import FAULTS, LOSSES, Fault, Season, Shift
from canewright.demo.truth import Workshop
from canewright.engine.equations.cache import prepared as prepared_factory
from canewright.engine.equations.points import Points
from canewright.files.factory import read_factory
from canewright.files.writing import write_readings

SEASON_SHIFTS = 90
"""Thirty days of three shifts."""

INVENTED = (
    "Invented: a made-up shift of a made-up factory, simulated with noise by canewright.",
    "No figure in this file comes from any real place.",
)


@dataclass(frozen=True)
class Demonstration:
    """A demonstration factory: where its file is, what it reads, what is planted."""

    name: str
    file: str
    plan: tuple[tuple[str, tuple[str, ...], int], ...]
    losses: dict[str, float]
    faults: Sequence[Fault]

    @property
    def path(self) -> Path:
        """The factory file shipped with the package."""
        return Path(str(resources.files("canewright.factories").joinpath(self.file)))

    def season(self, count: int = SEASON_SHIFTS) -> Iterator[Shift]:
        """The first `count` shifts of the season."""
        prepared = prepared_factory(read_factory(self.path))
        workshop = Workshop(prepared, planned(Points(prepared.model), self.plan))
        yield from Season(workshop, self.losses, self.faults).shifts(count)


WELL_RUN = Demonstration("halcyon bend", "halcyon_bend.toml", HALCYON_BEND, LOSSES, FAULTS)

POORLY_READ = Demonstration("dry ridge", "dry_ridge.toml", DRY_RIDGE, LOSSES, ())


def write_shift(shift: Shift, path: Path, factory_name: str) -> None:
    """Write a shift's readings, saying that they are invented."""
    write_readings(path, shift.rows, shift.facts, (factory_name, *INVENTED))


def write_demonstration(
    demonstration: Demonstration,
    folder: Path,
    count: int = SEASON_SHIFTS,
    each: Callable[[Shift], None] = lambda shift: None,
) -> list[Path]:
    """Write `factory.toml`, `readings.csv` of the last shift and the season's shifts.

    Parameters
    ----------
    folder : Path
        Made if it does not exist.
    count : int
        Number of shifts.
    each : callable
        Called after each shift, for progress.

    Returns
    -------
    list of Path
        The files written.

    Raises
    ------
    FileExistsError
        If a file of the same name is there already; nothing is written then.
    """
    folder.mkdir(parents=True, exist_ok=True)
    factory_file = folder / "factory.toml"
    last_file = folder / "readings.csv"
    season_folder = folder / "season"
    for path in (factory_file, last_file, season_folder):
        if path.exists():
            raise FileExistsError(errno.EEXIST, "is there already", str(path))
    factory = read_factory(demonstration.path)
    written = [factory_file]
    season_folder.mkdir()
    factory_file.write_bytes(demonstration.path.read_bytes())
    for shift in demonstration.season(count):
        start = shift.facts.start
        assert start is not None
        path = season_folder / f"{start:%Y-%m-%d_%H%M}.csv"
        write_shift(shift, path, factory.name)
        written.append(path)
        if shift.number == count - 1:
            write_shift(shift, last_file, factory.name)
            written.append(last_file)
        each(shift)
    return written
