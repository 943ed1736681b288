"""Studies: many scenarios of a factory, on all cores or many machines, to be gone on with.

Parts are worked out in any order and kept in files that appear whole or not at all. A part is
there or it is not, so that a worker that dies costs its part's time and nothing else, and
nothing is counted twice.
"""

from __future__ import annotations

import errno
import hashlib
import json
import multiprocessing
import pickle
import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np

from canewright import __version__
from canewright.account.study_work import Work, packed, work_from_file, work_sent
from canewright.files.writing import write_whole

PART = 2048
"""Scenarios worked out together."""
DEATHS = 5
"""Times that workers may die without a part being finished in between."""
Each = Callable[[int], None]


class StudyStopped(RuntimeError):
    """The study cannot go on; the sentence says why, and that what is done is kept."""


@dataclass(frozen=True)
class Results:
    """A finished study: where its tables are, and what they hold."""

    parquet: Path
    csv: Path
    count: int
    failed: int
    rescued: int
    columns: dict[str, Any]


class Study:
    """A study in its folder.

    Parameters
    ----------
    work : Work
    folder : Path
        For parts and results; made if it is not there.
    resume : bool
        Go on with what is there.

    Raises
    ------
    StudyStopped
        If the folder holds another study, or this one without being asked to go on.
    """

    def __init__(self, work: Work, folder: Path, *, resume: bool = False) -> None:
        self.work, self.folder = work, folder
        self.count = work.plan.count
        with _room(folder):
            self._claim(resume)

    def _claim(self, resume: bool) -> None:
        sheet = self.folder / "study.json"
        if not sheet.exists() and (self.folder / "results.parquet").exists():
            raise StudyStopped(
                f"{self.folder} holds the results of a finished study. Choose another folder with "
                "--out, or move them away."
            )
        mine = {"fingerprint": self.work.fingerprint, "part": PART, "canewright": __version__}
        if sheet.exists():
            if not resume:
                raise StudyStopped(
                    f"{self.folder} holds a study already. Add --resume to go on with it, or "
                    "choose another folder with --out."
                )
            if json.loads(sheet.read_text(encoding="utf-8")) != mine:
                raise StudyStopped(
                    f"{self.folder} holds another study, or the plan or its files have changed "
                    "since. Choose another folder with --out."
                )
        self.folder.mkdir(parents=True, exist_ok=True)
        write_whole(sheet, json.dumps(mine).encode())

    @property
    def parts(self) -> list[tuple[int, int]]:
        """First and last scenario (not included) of each part."""
        return [(k, min(k + PART, self.count)) for k in range(0, self.count, PART)]

    def _place(self, first: int) -> Path:
        return self.folder / f"part-{first // PART:06d}.npz"

    @property
    def missing(self) -> list[tuple[int, int]]:
        """Parts that are not there yet."""
        return [part for part in self.parts if not self._place(part[0]).is_file()]

    def _keep(self, first: int, content: bytes, each: Each) -> None:
        with _room(self.folder):
            write_whole(self._place(first), content)
        last = min(first + PART, self.count)
        each(last - first)

    def run(
        self, workers: int = 1, scheduler: str | None = None, each: Each = lambda done: None
    ) -> Results:
        """Work out what is missing and write the tables.

        Parameters
        ----------
        workers : int
            Processes on this machine.
        scheduler : str, optional
            Address of a Dask scheduler; its workers then do the work.
        each : callable
            Told after each part how many scenarios it had.

        Raises
        ------
        StudyStopped
            If the disk is full, workers keep dying, or the scheduler cannot be reached.
        """
        if scheduler is not None:
            self._far(scheduler, each)
        elif workers > 1 and len(self.missing) > 1:
            self._near(workers, each)
        else:
            for first, last in self.missing:
                self._keep(first, packed(self.work.part(first, last)), each)
        return self.gather()

    def _near(self, workers: int, each: Each) -> None:
        """Processes of this machine; when one dies, its part is given to another."""
        place = self.folder / "work.pickle"
        with _room(self.folder):
            write_whole(place, pickle.dumps(self.work))
        context = multiprocessing.get_context("spawn")
        deaths = 0
        while self.missing:
            left = len(self.missing)
            try:
                with ProcessPoolExecutor(min(workers, left), mp_context=context) as pool:
                    mark = self.work.fingerprint
                    asked = {
                        pool.submit(work_from_file, place, mark, *part): part[0]
                        for part in self.missing
                    }
                    for done in as_completed(asked):
                        self._keep(asked[done], done.result(), each)
            except BrokenProcessPool as broken:
                deaths = deaths + 1 if len(self.missing) == left else 0
                if deaths >= DEATHS:
                    raise StudyStopped(
                        "Workers die before they finish a part; is there too little memory? "
                        "Take fewer --workers. What is done is kept: go on with --resume."
                    ) from broken
        place.unlink(missing_ok=True)

    def _far(self, scheduler: str, each: Each) -> None:
        """Workers of a Dask scheduler."""
        try:
            distributed = import_module("distributed")
        except ImportError as error:
            raise StudyStopped(
                "Working across machines needs the package 'distributed': "
                "pip install 'canewright[study]'."
            ) from error
        try:
            client = distributed.Client(scheduler, timeout="20s", set_as_default=False)
        except (OSError, ValueError) as error:
            raise StudyStopped(f"No scheduler answers at {scheduler}: {error}") from error
        with client, client.as_current():
            sent = client.scatter(self.work, broadcast=True)
            asked = {
                client.submit(work_sent, sent, *part, retries=DEATHS, pure=False): part[0]
                for part in self.missing
            }
            try:
                for done in distributed.as_completed(list(asked)):
                    first = asked.pop(done)
                    self._keep(first, done.result(), each)
                    done.release()
            except (distributed.KilledWorker, RuntimeError) as error:
                raise StudyStopped(
                    f"The workers of {scheduler} do not finish: {error}. What is done is kept: go "
                    "on with --resume."
                ) from error

    # -- results -----------------------------------------------------------------------------

    def _names_of(self) -> list[str]:
        plan = self.work.plan
        return [
            "scenario",
            "draw",
            *(vary.name for vary in plan.vary),
            *self.work.batch.figure_names,
            "reason",
        ]

    def gather(self) -> Results:
        """Put the parts together and write the tables; the parts then go."""
        names = self._names_of()
        pieces: dict[str, list[Any]] = {name: [] for name in names}
        rescued = 0
        for first, _ in self.parts:
            with np.load(self._place(first)) as stored:
                for k, name in enumerate(names):
                    pieces[name].append(stored[f"c{k}"])
                rescued += int(stored[f"c{len(names)}"][0])
        columns: dict[str, Any] = {name: np.concatenate(parts) for name, parts in pieces.items()}
        import polars

        frame = polars.DataFrame(
            {
                name: column if name != "reason" else column.tolist()
                for name, column in columns.items()
            }
        )
        parquet, csv = self.folder / "results.parquet", self.folder / "results.csv"
        with _room(self.folder):
            for place, write in ((parquet, frame.write_parquet), (csv, frame.write_csv)):
                beside = place.with_name(f".{place.name}.part")
                try:
                    write(beside)
                    beside.replace(place)
                finally:
                    beside.unlink(missing_ok=True)
        failed = int(np.count_nonzero(columns["reason"] != ""))
        return Results(parquet, csv, self.count, failed, rescued, columns)

    def clear(self) -> None:
        """Take the parts and the sheet away, once the tables are written."""
        for first, _ in self.parts:
            self._place(first).unlink(missing_ok=True)
        (self.folder / "study.json").unlink(missing_ok=True)


@contextmanager
def _room(folder: Path) -> Iterator[None]:
    """Say in a sentence that a disk is full."""
    try:
        yield
    except OSError as error:
        if error.errno not in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            raise
        near = folder if folder.exists() else folder.parent
        free = shutil.disk_usage(near).free / 1e6
        raise StudyStopped(
            f"The disk that holds {folder} is full ({free:.0f} MB free). Make room and go on with "
            "--resume: the parts that are done are kept."
        ) from error


def fingerprint(*contents: bytes) -> str:
    """A mark that differs when any of the contents does."""
    mark = hashlib.sha256()
    for content in contents:
        mark.update(hashlib.sha256(content).digest())
    return mark.hexdigest()
