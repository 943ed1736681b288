"""Whole processes: `balance` against its imports plus one solve, `formula` against Python."""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from benchmarks.measuring import Row, Table, quickest, shifts, workshop
from canewright.demo.factory import WELL_RUN, write_demonstration

ROUNDS = 5
START = ("-c", "from canewright.cli.main import main; main()")
"""What the installed command does."""


def environment(folder: Path) -> dict[str, str]:
    """As at a user's: compiled modules and prepared factories are kept from run to run."""
    given = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    return given | {
        "PYTHONPYCACHEPREFIX": str(folder / "modules"),
        "CANEWRIGHT_CACHE": str(folder / "factories"),
    }


def process(folder: Path, *words: str) -> float:
    """Least processor time of a few runs of a Python process, after one that is not counted. [s]"""
    times = []
    for _ in range(ROUNDS + 1):
        before = os.times()
        done = subprocess.run(
            [sys.executable, *words], capture_output=True, check=False, env=environment(folder)
        )
        after = os.times()
        times.append(
            after.children_user
            + after.children_system
            - before.children_user
            - before.children_system
        )
        assert done.returncode == 0, done.stderr.decode()[-500:]
    return min(times[1:])


def imports_of(folder: Path, *words: str) -> float:
    """Time of a process that imports all that a command's process imported, and no more. [s]"""
    say = (
        "import sys; sys.argv = ['canewright', *sys.argv[1:]]\n"
        "from canewright.cli.main import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print('\\n<' + ' '.join(sorted(sys.modules)) + '>', file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", say, *words], capture_output=True, check=True, text=True
    )
    names = done.stderr.rsplit("<", 1)[1].split(">")[0].split()
    usable = [name for name in names if name.split(".")[0] in LIBRARIES]
    lines = "\n".join(f"try: import {name}\nexcept ImportError: pass" for name in usable)
    return process(folder, "-c", lines)


LIBRARIES = {
    "canewright",
    "casadi",
    "numpy",
    "scipy",
    "rich",
    "typer",
    "click",
    "pint",
    "tomllib",
    "python_calamine",
    "csv",
    "json",
}


def run(table: Table) -> None:
    made = workshop()
    measurements, hours = shifts()[0]
    usual = made.prepared.usual.values
    solve = quickest(lambda: made.reconciler.solve(measurements, usual, hours=hours), 10)
    with tempfile.TemporaryDirectory() as name:
        kept, folder = Path(name), Path(name) / "demonstration"
        write_demonstration(WELL_RUN, folder, 1)
        words = ("balance", str(folder / "factory.toml"), str(folder / "readings.csv"))
        whole, imports = process(kept, *START, *words), imports_of(kept, *words)
        beside = "its imports and one solve"
        table.add(Row("canewright balance", whole, beside, imports + solve, 1.5))
        bare = process(kept, "-c", "pass")
        table.add(Row("canewright formula", process(kept, *START, "formula"), "bare Python", bare))
