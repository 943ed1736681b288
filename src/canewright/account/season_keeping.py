"""How far a run over a season has come, written down so that it can be taken up again."""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from canewright import __version__
from canewright.account.season_memories import Memories
from canewright.engine.adjusting.reconcile import Reconciler
from canewright.engine.chain import keeping
from canewright.engine.chain.chain import Chain
from canewright.engine.chain.chain_parts import ChainState, Freed, ShiftResult
from canewright.engine.chain.watch import Watch
from canewright.files.writing import write_whole

EVERY = 50
"""Shifts after which a run is written down; our choice."""
FOLDER = "canewright-season"
HOUR = 3600.0
"""Seconds after which a half written file belongs to no run that is going on; our choice."""


class NotKept(OSError):
    """How far the run has come could not be written down."""


@dataclass
class Keeper:
    """Writes down a run in a folder beside its readings, and takes it up again.

    A run is taken up only where version, factory file, channels, what was let go, what was known
    of instruments, and the files and checks of all shifts up to there are the same, byte by byte.

    Attributes
    ----------
    memories : Memories
        Of the shifts of the run.
    """

    folder: Path
    key: str
    prints: tuple[str, ...]
    wanted: bool
    memories: Memories = field(default_factory=Memories)
    _down: int = 0
    _told: list[int] = field(default_factory=lambda: [0, 0, 0])

    @classmethod
    def of(
        cls,
        factory_path: str | Path,
        prints: tuple[str, ...],
        reconciler: Reconciler,
        freed: tuple[Freed, ...],
        added_up: tuple[Iterable[str], Iterable[str]],
        place: Path,
        *,
        wanted: bool,
    ) -> Keeper:
        """Keeper of one run.

        `prints` tell each shift from every other; `added_up` are the names of amounts, and kinds
        of whole periods.
        """
        described = [
            __version__,
            hashlib.sha256(Path(factory_path).read_bytes()).hexdigest(),
            [channel.name for channel in reconciler.channels],
            [list(pair) for pair in reconciler.shared],
            {name: list(known) for name, known in reconciler.calibrations.items()},
            [asdict(item) for item in freed],
            *map(sorted, added_up),
        ]
        key = hashlib.sha256(json.dumps(described).encode()).hexdigest()
        inside = place if place.is_dir() else place.parent
        return cls(inside / FOLDER, key, prints, wanted)

    def _mark(self, count: int) -> str:
        shifts = hashlib.sha256("\n".join(self.prints[:count]).encode()).hexdigest()
        return hashlib.sha256(f"{self.key} {shifts}".encode()).hexdigest()[:16]

    def _path(self, what: str, first: int, count: int, more: str = "") -> Path:
        return self.folder / f"{what}-{first:05d}-{count:05d}-{self._mark(count)}{more}.npz"

    def _stretches(self, what: str, count: int) -> list[Path] | None:
        """Files that together hold the first shifts; None if one is missing."""
        found: list[Path] = []
        while count:
            pattern = f"{what}-*-{count:05d}-{self._mark(count)}*.npz"
            path = next(iter(sorted(self.folder.glob(pattern))), None)
            if path is None:
                return None
            found.insert(0, path)
            count = int(path.name.split("-")[1])
        return found

    def _written(self) -> set[int]:
        """Numbers of shifts after which runs were written down."""
        names = (path.name.split("-") for path in self.folder.glob("after-*-*-*.npz"))
        counts = {int(parts[2]) for parts in names if parts[2].isdecimal()}
        return {count for count in counts if 0 < count <= len(self.prints)}

    def stops(self, first: int) -> list[int]:
        """Numbers of shifts after which the run is written down, from the first on."""
        count = len(self.prints)
        return [*range(EVERY * (first // EVERY + 1), count, EVERY), count]

    def keep(
        self,
        count: int,
        chain: Chain,
        state: ChainState,
        results: list[ShiftResult],
        skipped: list[tuple[str, str]],
        watch: Watch,
    ) -> None:
        """Write down the run: how it stands, and what each shift since the last time gave.

        `skipped` are the names of shifts that could not be balanced, each with its sentence.

        Raises
        ------
        NotKept
            With a sentence, if the disk will not take it.
        """
        if not self.wanted or count == self._down:
            return
        told: list[list[Any]] = [results, chain.running.closed, chain.running.ended]
        news = [items[before:] for items, before in zip(told, self._told, strict=True)]
        stand = self._path("after", 0, count)
        shifts = self._path("shifts", self._down, count)
        held = self.memories.held
        memory = self._path("memory", self._down, count, f"-{len(held)}")
        try:
            self.folder.mkdir(exist_ok=True)
            write_whole(memory, keeping.written(held))
            write_whole(shifts, keeping.written(news))
            write_whole(stand, keeping.written([state, watch, list(chain.freed), skipped]))
        except OSError as error:
            raise NotKept(
                f"{stand}: the run could not be written down after {count} shifts "
                f"({error.strerror or error}). Make room, or leave it unwritten with --no-keep."
            ) from error
        self.memories.put_down(memory)
        self._down, self._told = count, [len(items) for items in told]

    def taken_up(
        self, chain: Chain, watch: Watch
    ) -> tuple[ChainState | None, list[ShiftResult], list[tuple[str, str]], int]:
        """The longest run written down whose files are unchanged.

        State, results, shifts that could not be balanced with the reason, number of shifts.
        """
        for count in sorted(self._written(), reverse=True):
            stand, stretches = self._path("after", 0, count), self._stretches("shifts", count)
            if stretches is None or not stand.exists():
                continue
            try:
                state, seen, freed, skipped = keeping.read(stand.read_bytes())
                parts = [keeping.read(path.read_bytes()) for path in stretches]
            except ValueError:
                continue
            memory = self._stretches("memory", count)
            # A run with a call is chained again: nobody smooths it.
            if memory is None and not (seen.calls and not chain.freed):
                continue
            self.memories.found([(path, _count_of(path)) for path in memory or []])
            watch.calls, watch.aside, watch.starts = seen.calls, seen.aside, seen.starts
            chain.freed = tuple(freed)
            told = [[item for part in parts for item in part[k]] for k in range(3)]
            results, chain.running.closed, chain.running.ended = told
            self._down, self._told = count, [len(items) for items in told]
            return state, results, skipped, count
        return None, [], [], 0

    def tidy(self) -> None:
        """Remove what other runs put down for the smoother: it is large, and made anew at need.

        What a run that was killed left half written goes too.
        """
        if self.wanted:
            for path in self.folder.glob(".*.npz.*.part"):
                # A younger one may be of a run that is going on beside this one.
                if time.time() - path.stat().st_mtime > HOUR:
                    path.unlink(missing_ok=True)
            for path in set(self.folder.glob("memory-*.npz")) - set(self.memories.paths):
                path.unlink(missing_ok=True)


def _count_of(path: Path) -> int:
    return int(path.stem.rsplit("-", 1)[1])
