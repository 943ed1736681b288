"""Whole processes: `balance` against its imports plus one solve, `formula` against Python."""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from benchmarks.measuring import Row, Table, quickest, shifts, workshop
from canewright.demo.factory import WELL_RUN, write_demonstration

ROUNDS = 5
START = ("-c", "from canewright.cli.main import main; main()")
"""What the installed command does."""


def process(*words: str) -> float:
    """Quickest of a few runs of a Python process. [s]"""
    times = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        done = subprocess.run([sys.executable, *words], capture_output=True, check=False)
        times.append(time.perf_counter() - begun)
        assert done.returncode == 0, done.stderr.decode()[-500:]
    return min(times)


def imports_of(*words: str) -> float:
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
    return process("-c", lines)


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
        folder = Path(name) / "demonstration"
        write_demonstration(WELL_RUN, folder, 1)
        words = ("balance", str(folder / "factory.toml"), str(folder / "readings.csv"))
        whole = process(*START, *words)
        table.add(
            Row(
                "canewright balance",
                whole,
                "its imports and one solve",
                imports_of(*words) + solve,
                1.5,
            )
        )
    bare = process("-c", "pass")
    table.add(Row("canewright formula", process(*START, "formula"), "bare Python", bare))
