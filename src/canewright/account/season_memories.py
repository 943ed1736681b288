"""What the smoother needs of each shift of a season, held or put down in files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import overload

from canewright.engine.chain import keeping
from canewright.engine.chain.chain_parts import Memory


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

    def found(self, files: Sequence[tuple[Path, int]]) -> None:
        """Begin with shifts that an earlier run put down: files, and how many are in each."""
        self._files = list(files)


def _memories(path: Path) -> list[Memory]:
    found: list[Memory] = keeping.read(path.read_bytes())
    return found
