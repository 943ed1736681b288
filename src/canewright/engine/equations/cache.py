"""Prepared factories kept on disk: building one takes seconds, reading it back a moment.

A factory is kept under a key made of everything that decides what is built: its content, the
versions of the libraries, and every file of this package. A file that cannot be read, or that
another version wrote, is built again. Files are read with `pickle`, so the folder is made
readable and writable by its owner alone; who can write there can run code as the owner anyway.
"""

from __future__ import annotations

import gc
import hashlib
import io
import os
import pickle
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from importlib import metadata
from pathlib import Path
from typing import Any

import casadi

from canewright.engine.equations.model import Model, compile
from canewright.engine.equations.nominal import Prepared, prepare
from canewright.flowsheet import Factory

FOLDER_VARIABLE = "CANEWRIGHT_CACHE"
"""Environment variable that names the folder; "off" keeps nothing."""
KEPT = 12
"""Factories kept; the ones not used for longest go first."""


def prepared(factory: Factory) -> Prepared:
    """A compiled factory at its usual point, from disk if it was prepared before.

    Parameters
    ----------
    factory : Factory
        As read from its file.

    Raises
    ------
    FactoryRefused
        If the stations cannot be connected.
    SolveFailed
        If the usual point cannot be solved.
    """
    found = kept(factory)
    if found is None:
        found = prepare(factory)
        folder = cache_folder()
        if folder is not None:
            _write(folder / f"{key(factory)}.prepared", found)
    return found


def model_of(factory: Factory) -> Model:
    """The compiled equations alone: from a kept factory where there is one.

    Raises
    ------
    FactoryRefused
        If the stations cannot be connected.
    """
    found = kept(factory)
    return compile(factory) if found is None else found.model


def kept(factory: Factory) -> Prepared | None:
    """What is kept of a factory; None if nothing is."""
    folder = cache_folder()
    return None if folder is None else _read(folder / f"{key(factory)}.prepared")


def cache_folder() -> Path | None:
    """Where prepared factories are kept; None if nothing is to be kept."""
    chosen = os.environ.get(FOLDER_VARIABLE)
    if chosen:
        return None if chosen.lower() == "off" else Path(chosen)
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return base / "canewright"


def key(factory: Factory) -> str:
    """Name of what is built from a factory by this version of the code and its libraries."""
    return hashlib.sha256(f"{factory!r}\n{_build()}".encode()).hexdigest()[:32]


@cache
def _build() -> str:
    """Versions of Python and libraries, and name, size and time of each file of the package."""
    names = ("canewright", "casadi", "numpy", "scipy")
    parts = [sys.version, *(f"{name} {metadata.version(name)}" for name in names)]
    root = Path(__file__).parents[1]
    for path in sorted(root.rglob("*")):
        if path.suffix in (".py", ".toml"):
            facts = path.stat()
            parts.append(f"{path.relative_to(root)} {facts.st_size} {facts.st_mtime_ns}")
    return "\n".join(parts)


def _read(path: Path) -> Prepared | None:
    """What is in a file; None if it is not there or cannot be read, and so must be built."""
    try:
        with path.open("rb") as file, _collector_off():
            found = _load(file)
        path.touch()
    except FileNotFoundError:
        return None
    except Exception:  # whatever is wrong with a kept file, building again mends it
        return None
    return found if isinstance(found, Prepared) else None


def _write(path: Path, prepared: Prepared) -> None:
    """Keep a prepared factory; a disk that is full or read-only is no reason to stop."""
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                _dump(prepared, file)
            Path(name).replace(path)
        finally:
            Path(name).unlink(missing_ok=True)
        kept = sorted(path.parent.glob("*.prepared"), key=lambda p: p.stat().st_mtime)
        for old in kept[:-KEPT]:
            old.unlink(missing_ok=True)


class _Pickler(pickle.Pickler):
    """Sets symbolic expressions aside: together they are stored once, with what they share."""

    def __init__(self, file: Any) -> None:
        super().__init__(file, protocol=5)
        self.scalars: list[Any] = []
        self.others: list[Any] = []
        self._places: dict[int, int] = {}

    def persistent_id(self, item: Any) -> tuple[str, int] | None:
        """Place of an expression among those set aside."""
        if not isinstance(item, casadi.SX):
            return None
        if item.shape == (1, 1) and item.nnz() == 1:
            known = item.element_hash()
            if known not in self._places:
                self._places[known] = len(self.scalars)
                self.scalars.append(item)  # kept alive, so its hash stays its own
            return "scalar", self._places[known]
        self.others.append(item)
        return "other", len(self.others) - 1


class _Unpickler(pickle.Unpickler):
    def __init__(self, file: Any, scalars: list[Any], others: list[Any]) -> None:
        super().__init__(file)
        self._from = {"scalar": scalars, "other": others}

    def persistent_load(self, place: tuple[str, int]) -> Any:
        """The expression at a place."""
        return self._from[place[0]][place[1]]


def _dump(prepared: Prepared, file: Any) -> None:
    body = io.BytesIO()
    pickler = _Pickler(body)
    pickler.dump(prepared)
    serializer = casadi.StringSerializer()
    serializer.pack(casadi.vertcat(*pickler.scalars))
    serializer.pack(pickler.others)
    pickle.dump((serializer.encode(), body.getvalue()), file, protocol=5)


def _load(file: Any) -> Any:
    expressions, body = pickle.load(file)
    deserializer = casadi.StringDeserializer(expressions)
    scalars = deserializer.unpack().elements()
    others = deserializer.unpack()
    return _Unpickler(io.BytesIO(body), scalars, others).load()


@contextmanager
def _collector_off() -> Iterator[None]:
    """Without the garbage collector, which would look through what is being read many times."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
