"""How far a run over a season has come, written down so that it can be taken up again."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import overload

from canewright import __version__
from canewright.engine import keeping
from canewright.engine.chain import Chain
from canewright.engine.chain_parts import ChainState, Freed, Memory, ShiftResult
from canewright.engine.reconcile import Reconciler
from canewright.engine.watch import Watch
from canewright.files.season_folder import SeasonFiles
from canewright.files.writing import write_whole

EVERY = 50
"""Shifts after which a run is written down; our choice."""
FOLDER = "canewright-season"


class NotKept(OSError):
    """How far the run has come could not be written down."""


class Memories(Sequence[Memory]):
    """What the smoother needs of each shift: the last ones held, those before in files.

    Half a megabyte a shift: in files it takes no memory, however long the season.
    """

    def __init__(self) -> None:
        self._files: list[tuple[Path, int]] = []
        self._held: list[Memory] = []
        self._open: tuple[Path | None, list[Memory]] = None, []

    def append(self, memory: Memory, /) -> None:
        """Take in one more shift."""
        self._held.append(memory)

    def __len__(self) -> int:
        return sum(count for _, count in self._files) + len(self._held)

    @overload
    def __getitem__(self, place: int) -> Memory: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Memory]: ...
    def __getitem__(self, place: int | slice) -> Memory | Sequence[Memory]:
        if isinstance(place, slice):
            return [self[i] for i in range(*place.indices(len(self)))]
        left = place if place >= 0 else place + len(self)
        for path, count in self._files:
            if left < count:
                if self._open[0] != path:
                    self._open = path, _memories(path)
                return self._open[1][left]
            left -= count
        return self._held[left]

    @property
    def paths(self) -> list[Path]:
        """Files in which shifts were put down."""
        return [path for path, _ in self._files]

    @property
    def held(self) -> list[Memory]:
        """Shifts that are not in a file."""
        return self._held

    def put_down(self, path: Path) -> None:
        """The shifts held are in this file from now on."""
        self._files.append((path, len(self._held)))
        self._held = []

    def found(self, paths: Sequence[Path]) -> None:
        """Begin with shifts that an earlier run put down."""
        self._files = [(path, len(_memories(path))) for path in paths]


def _memories(path: Path) -> list[Memory]:
    found: list[Memory] = keeping.read(path.read_bytes())
    return found


@dataclass
class Keeper:
    """Writes down a run in a folder beside its readings, and takes it up again.

    A run is taken up only where version, factory file, channels, what was let go, and the
    files of all shifts up to there are the same, byte by byte.

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

    @classmethod
    def of(
        cls,
        factory_path: str | Path,
        files: SeasonFiles,
        reconciler: Reconciler,
        freed: tuple[Freed, ...],
        added_up: tuple[Iterable[str], Iterable[str]],
        place: Path,
        *,
        wanted: bool,
    ) -> Keeper:
        """Keeper of one run; `added_up` are the names of amounts, and kinds of whole periods."""
        described = [
            __version__,
            hashlib.sha256(Path(factory_path).read_bytes()).hexdigest(),
            [channel.name for channel in reconciler.channels],
            [list(pair) for pair in reconciler.shared],
            [asdict(item) for item in freed],
            *map(sorted, added_up),
        ]
        key = hashlib.sha256(json.dumps(described).encode()).hexdigest()
        inside = place if place.is_dir() else place.parent
        return cls(inside / FOLDER, key, files.fingerprints, wanted)

    def _mark(self, count: int) -> str:
        shifts = hashlib.sha256("\n".join(self.prints[:count]).encode()).hexdigest()
        return hashlib.sha256(f"{self.key} {shifts}".encode()).hexdigest()[:16]

    def _path(self, count: int) -> Path:
        return self.folder / f"after-{count:05d}-{self._mark(count)}.npz"

    def _before(self, count: int) -> list[Path] | None:
        """Files of what the smoother needs of the first shifts; None if one is missing."""
        found: list[Path] = []
        while count:
            pattern = f"shifts-*-{count:05d}-{self._mark(count)}.npz"
            path = next(iter(sorted(self.folder.glob(pattern))), None)
            if path is None:
                return None
            found.insert(0, path)
            count = int(path.name.split("-")[1])
        return found

    def _written(self) -> set[int]:
        """Numbers of shifts after which something was written down, of any run."""
        names = (path.name.split("-") for path in self.folder.glob("after-*-*.npz"))
        counts = {int(parts[1]) for parts in names if parts[1].isdecimal()}
        return {count for count in counts if 0 < count <= len(self.prints)}

    def keep(
        self,
        count: int,
        chain: Chain,
        state: ChainState,
        results: list[ShiftResult],
        watch: Watch,
    ) -> None:
        """Write down the run, if it is time to.

        Raises
        ------
        NotKept
            With a sentence, if the disk will not take it.
        """
        if not self.wanted or (count % EVERY and count != len(self.prints)):
            return
        running = chain.running
        content = keeping.written(
            [state, results, watch, list(chain.freed), running.closed, running.ended]
        )
        path = self._path(count)
        try:
            self.folder.mkdir(exist_ok=True)
            if count > self._down:
                name = f"shifts-{self._down:05d}-{count:05d}-{self._mark(count)}.npz"
                write_whole(self.folder / name, keeping.written(self.memories.held))
                self.memories.put_down(self.folder / name)
            self._down = count
            write_whole(path, content)
        except OSError as error:
            raise NotKept(
                f"{path}: the run could not be written down after {count} shifts "
                f"({error.strerror or error}). Make room, or leave it unwritten with --no-keep."
            ) from error

    def taken_up(
        self, chain: Chain, watch: Watch
    ) -> tuple[ChainState | None, list[ShiftResult], int]:
        """The longest run written down whose files are unchanged: state, results, shifts."""
        for count in sorted(self._written(), reverse=True):
            path = self._path(count)
            if not path.exists():
                continue
            try:
                state, results, seen, freed, closed, ended = keeping.read(path.read_bytes())
                before = self._before(count)
                # A run with a call is chained again: nobody smooths it.
                if before is None and not (seen.calls and not chain.freed):
                    continue
                self.memories.found(before or [])
            except ValueError:
                continue
            self._down = count
            watch.calls, watch.aside, watch.starts = seen.calls, seen.aside, seen.starts
            chain.freed = tuple(freed)
            chain.running.closed, chain.running.ended = list(closed), list(ended)
            return state, results, count
        return None, [], 0

    def tidy(self) -> None:
        """Remove what other runs put down for the smoother: it is large, and made anew at need."""
        if self.wanted:
            for path in set(self.folder.glob("shifts-*.npz")) - set(self.memories.paths):
                path.unlink(missing_ok=True)
