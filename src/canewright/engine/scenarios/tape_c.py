"""Tapes written out as C, four cases in each step, compiled where a compiler is there.

Beside each tape there is the whole course of a scenario, `solve`: start, Newton steps, check,
figures, without anything large leaving the processor's cache.

Nothing needs a compiler: without one, or where it fails, `tape.Lanes` does the same. The
library is kept in the user's cache folder by a hash of its text, the compiler and the machine.
"""

from __future__ import annotations

import ctypes
import hashlib
import math
import os
import platform
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from canewright.engine.scenarios.tape import OPERATIONS, Tape

Array = npt.NDArray[np.float64]
WIDE = 4
"""Cases in one step: doubles in a 256-bit register."""
PART = 2500
"""Steps in one C function; a compiler's time grows faster than a function's length."""
FLAGS = ("-O1", "-ffp-contract=off", "-fno-math-errno", "-w", "-shared", "-fPIC")
LONGEST = 600.0
"""Seconds after which a compiler is given up."""

_HEAD = """#include <math.h>
typedef double v __attribute__((vector_size(%(bytes)d)));
#define EACH(f) static inline v v_##f(v x) { v r; \\
  for (int i = 0; i < %(wide)d; i++) r[i] = f(x[i]); return r; }
EACH(exp) EACH(log) EACH(log10) EACH(sqrt) EACH(fabs)
static inline v v_pow(v x, v y) { v r;
  for (int i = 0; i < %(wide)d; i++) r[i] = pow(x[i], y[i]); return r; }
static inline v all(double x) { v r; for (int i = 0; i < %(wide)d; i++) r[i] = x; return r; }
"""

_RUN = """
void run_%(name)s(long groups, const v *a, const v *b, v *o) {
  v w[%(work)d];
  for (long g = 0; g < groups; g++) {
    %(calls)s
    a += %(a)d; b += %(b)d; o += %(o)d;
  }
}
"""

_SOLVE = """
typedef long long vi __attribute__((vector_size(%(bytes)d)));
static inline v larger(v x, v y) { vi k = x > y; return (v)((k & (vi)x) | (~k & (vi)y)); }
static inline v size(v x) { return (v)((vi)x & 0x7fffffffffffffffLL); }
void solve(long groups, long columns, long steps, const double *start, const double *given,
           const long long *places, const double *slopes, const double *weights,
           const double *lower, const double *upper, const double *scale,
           const v *own, v *miss, v *excess, v *o) {
  v x[%(n)d], y[%(n)d], b[%(g)d];
  for (long q = 0; q < groups; q++) {
    for (long j = 0; j < %(g)d; j++) b[j] = all(given[j]);
    for (long i = 0; i < %(n)d; i++) x[i] = all(start[i]);
    for (long c = 0; c < columns; c++) {
      b[places[c]] = own[q * columns + c];
      if (slopes) {
        v move = own[q * columns + c] - given[places[c]];
        for (long i = 0; i < %(n)d; i++) x[i] += slopes[c * %(n)d + i] * move;
      }
    }
    for (long s = 0; s < steps; s++) {
      run_step(1, x, b, y);
      for (long i = 0; i < %(n)d; i++) x[i] = y[i];
    }
    run_check(1, x, b, y);
    v most = all(0.0), nan = all(0.0), over = all(-1e300);
    for (long i = 0; i < %(n)d; i++) {
      v m = size(y[i]) * weights[i];
      most = larger(m, most);
      nan += m * 0.0;
      over = larger((lower[i] - x[i]) / scale[i], over);
      over = larger((x[i] - upper[i]) / scale[i], over);
    }
    miss[q] = most + nan;
    excess[q] = over;
    run_figures(1, x, b, o + q * %(q)d);
  }
}
"""

_INFIX = {"ADD": "+", "SUB": "-", "MUL": "*", "DIV": "/"}


def cache_folder() -> Path:
    """Where compiled libraries are kept for this user."""
    if os.name == "nt":
        base = os.environ.get("LOCALAPPDATA", str(Path.home() / "AppData" / "Local"))
    else:
        base = os.environ.get("XDG_CACHE_HOME", str(Path.home() / ".cache"))
    return Path(base) / "canewright"


def _statement(row: list[int], constant: float, starts: tuple[int, ...]) -> str:
    operation, to, one, two = row
    name = OPERATIONS[operation]
    if name == "INPUT":
        return f"w[{to}]={'ab'[one]}[{two}];"
    if name == "OUTPUT":
        return f"o[{starts[to] + one}]=w[{two}];"
    if name == "CONST":
        return f"w[{to}]=all({_number(constant)});"
    if name in _INFIX:
        return f"w[{to}]=w[{one}]{_INFIX[name]}w[{two}];"
    if name in ("POW", "CONSTPOW"):
        return f"w[{to}]=v_pow(w[{one}],w[{two}]);"
    plain = {
        "TWICE": f"w[{one}]+w[{one}]",
        "SQ": f"w[{one}]*w[{one}]",
        "INV": f"1.0/w[{one}]",
        "NEG": f"-w[{one}]",
        "ASSIGN": f"w[{one}]",
    }
    return f"w[{to}]={plain.get(name, f'v_{name.lower()}(w[{one}])')};"


def _number(constant: float) -> str:
    if math.isnan(constant):
        return "NAN"
    if math.isinf(constant):
        return "INFINITY" if constant > 0 else "-INFINITY"
    return repr(constant)


def source(tapes: Mapping[str, Tape]) -> str:
    """C of some tapes, each as a function `run_NAME(groups, a, b, out)`."""
    text = [_HEAD % {"bytes": 8 * WIDE, "wide": WIDE}]
    for name, tape in tapes.items():
        starts = tuple(int(k) for k in np.cumsum([0, *tape.sizes_out]))
        rows = zip(tape.code.tolist(), tape.constants.tolist(), strict=True)
        lines = [_statement(row, constant, starts) for row, constant in rows]
        calls = []
        for k, first in enumerate(range(0, len(lines), PART)):
            body = "\n".join(lines[first : first + PART])
            text.append(
                f"static void {name}_{k}(v *restrict w, const v *restrict a, "
                f"const v *restrict b, v *restrict o) {{\n{body}\n}}\n"
            )
            calls.append(f"{name}_{k}(w, a, b, o);")
        text.append(
            _RUN
            % {
                "name": name,
                "work": max(tape.work, 1),
                "calls": " ".join(calls),
                "a": tape.sizes_in[0],
                "b": tape.sizes_in[1],
                "o": starts[-1],
            }
        )
    if {"step", "check", "figures"} <= set(tapes):
        step, figures = tapes["step"], tapes["figures"]
        text.append(
            _SOLVE
            % {
                "bytes": 8 * WIDE,
                "n": step.sizes_in[0],
                "g": step.sizes_in[1],
                "q": sum(figures.sizes_out),
            }
        )
    return "".join(text)


def compiler() -> str | None:
    """A C compiler that understands vector types, if there is one."""
    for name in (os.environ.get("CC", ""), "gcc", "clang", "cc"):
        found = shutil.which(name) if name else None
        if found:
            return found
    return None


def compiled(tapes: Mapping[str, Tape]) -> Path | None:
    """The library of some tapes, from the cache or made now; None where it cannot be made."""
    chosen = compiler()
    if chosen is None:
        return None
    text = source(tapes)
    native = "-march=native"
    about = "\n".join([text, chosen, native, *FLAGS, platform.platform(), _processor()])
    name = f"tapes-{hashlib.sha256(about.encode()).hexdigest()[:32]}.so"
    place = cache_folder() / name
    if place.is_file():
        return place
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=place.parent) as folder:
            written, made = Path(folder) / "tapes.c", Path(folder) / "tapes.so"
            written.write_text(text)
            command = [chosen, native, *FLAGS, "-o", str(made), str(written), "-lm"]
            subprocess.run(command, check=True, capture_output=True, timeout=LONGEST)
            made.replace(place)
    except (OSError, subprocess.SubprocessError):
        return None
    return place


def _processor() -> str:
    try:
        text = Path("/proc/cpuinfo").read_text()
    except OSError:
        return platform.processor()
    return next((line for line in text.splitlines() if line.startswith("flags")), "")


class Library:
    """Compiled tapes; arrays are (groups, size, WIDE), groups of cases after one another."""

    def __init__(self, path: Path, tapes: Mapping[str, Tape], threads: int) -> None:
        self._library = ctypes.CDLL(str(path))
        self._threads = max(1, threads)
        self._calls = {}
        for name in tapes:
            call = getattr(self._library, f"run_{name}")
            call.argtypes = [ctypes.c_long, *[ctypes.c_void_p] * 3]
            call.restype = None
            self._calls[name] = call

        self._solve = self._library.solve
        self._solve.argtypes = [*[ctypes.c_long] * 3, *[ctypes.c_void_p] * 12]
        self._solve.restype = None

    def solve(
        self,
        steps: int,
        fixed: Sequence[npt.NDArray[Any] | None],
        own: Array,
        out: Sequence[Array],
    ) -> None:
        """The whole course of each group of scenarios.

        Parameters
        ----------
        steps : int
            Newton steps before the check.
        fixed : sequence of array or None
            Start, given, places of the columns, slopes (one row a column; or none), weights,
            lower, upper, scale.
        own : array (groups, columns, WIDE)
        out : sequence of array
            Largest miss and excess (groups, WIDE), figures (groups, figures, WIDE).
        """
        groups, columns = own.shape[:2]
        given = [None if part is None else part.ctypes.data for part in fixed]

        def part(start: int, stop: int) -> None:
            parts = (item[start:].ctypes.data for item in (own, *out))
            self._solve(stop - start, columns, steps, *given, *parts)

        self._shared(groups, part)

    def run(self, name: str, first: Array, second: Array, out: Array) -> None:
        """Run a tape for every group, the groups shared out over threads."""
        groups = first.shape[0]
        call = self._calls[name]

        def part(start: int, stop: int) -> None:
            call(
                stop - start,
                first[start:].ctypes.data,
                second[start:].ctypes.data,
                out[start:].ctypes.data,
            )

        self._shared(groups, part)

    def _shared(self, groups: int, part: Callable[[int, int], None]) -> None:
        """Share groups out over threads."""
        if self._threads == 1 or groups < 2 * self._threads:
            part(0, groups)
            return
        edges = np.linspace(0, groups, self._threads + 1).astype(int).tolist()
        with ThreadPoolExecutor(self._threads) as pool:
            list(pool.map(part, edges[:-1], edges[1:]))


def aligned(shape: tuple[int, ...]) -> Array:
    """An array whose memory starts where vector loads want it."""
    size = int(np.prod(shape))
    raw = np.zeros(size * 8 + 64, dtype=np.uint8)
    start = -raw.ctypes.data % 64
    return raw[start : start + size * 8].view(np.float64).reshape(shape)
