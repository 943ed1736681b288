"""How far a run over a season has come, written down so that it can be taken up again."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path

from canewright import __version__
from canewright.engine import keeping
from canewright.engine.chain import Chain
from canewright.engine.chain_parts import ChainState, Freed, ShiftResult
from canewright.engine.reconcile import Reconciler
from canewright.engine.watch import Watch
from canewright.files.season_folder import SeasonFiles
from canewright.files.writing import write_whole

EVERY = 50
"""Shifts after which a run is written down; our choice."""
FOLDER = "canewright-season"


class NotKept(OSError):
    """How far the run has come could not be written down."""


@dataclass
class Keeper:
    """Writes down a run in a folder beside its readings, and takes it up again.

    A run is taken up only where version, factory file, channels, what was let go, and the
    files of all shifts up to there are the same, byte by byte.
    """

    folder: Path
    key: str
    prints: tuple[str, ...]
    wanted: bool

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

    def _path(self, count: int) -> Path:
        shifts = hashlib.sha256("\n".join(self.prints[:count]).encode()).hexdigest()
        whole = hashlib.sha256(f"{self.key} {shifts}".encode()).hexdigest()
        return self.folder / f"after-{count:05d}-{whole[:16]}.npz"

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
        counts = [*range(EVERY, len(self.prints), EVERY), len(self.prints)]
        for count in reversed(counts):
            path = self._path(count)
            if not path.exists():
                continue
            try:
                state, results, seen, freed, closed, ended = keeping.read(path.read_bytes())
            except ValueError:
                continue
            watch.calls, watch.aside, watch.starts = seen.calls, seen.aside, seen.starts
            chain.freed = tuple(freed)
            chain.running.closed, chain.running.ended = list(closed), list(ended)
            return state, results, count
        return None, [], 0
