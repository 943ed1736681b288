"""All measurements of the engine, one after another in one process: `python -m benchmarks`."""

import os
import sys

# Matrices of a few hundred rows are no faster on several threads, and slower on a busy machine.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from benchmarks import advice, building, commands, intervals, reconciliation, simulation
from benchmarks.measuring import HEADER, Table, machine

PARTS = {
    "building": building,
    "simulation": simulation,
    "intervals": intervals,
    "advice": advice,
    "commands": commands,
    "reconciliation": reconciliation,
}

if __name__ == "__main__":
    chosen = sys.argv[1:] or list(PARTS)
    unknown = [name for name in chosen if name not in PARTS]
    if unknown:
        sys.exit(f"There is no measurement {unknown[0]!r}; there are {', '.join(PARTS)}.")
    print(machine())
    print(HEADER)
    table = Table()
    for name in chosen:
        PARTS[name].run(table)
    missed = [row.what for row in table.rows if row.kept is False]
    print(f"\nPromises missed: {'; '.join(missed)}." if missed else "\nEvery promise was kept.")
