"""A function as a list of elementary steps, run for many cases side by side.

CasADi's own machine takes one case at a time. Here every step of the same list works on an
array of cases (measured: 4 times quicker on one thread), or the list is written out as C (see
`tape_c`). The cases never mix: what comes out for one does not depend on the others.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

import casadi
import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
LANES = 256
"""Cases side by side; more do not fit the processor's cache (measured)."""

_TWO = {
    "ADD": np.add,
    "SUB": np.subtract,
    "MUL": np.multiply,
    "DIV": np.divide,
    "POW": np.power,
    "CONSTPOW": np.power,
}
_ONE = {
    "NEG": np.negative,
    "SQRT": np.sqrt,
    "EXP": np.exp,
    "LOG": np.log,
    "LOG10": np.log10,
    "SQ": np.square,
    "INV": np.reciprocal,
    "FABS": np.abs,
    "ASSIGN": np.positive,
}
OPERATIONS = ("INPUT", "OUTPUT", "CONST", "TWICE", *_TWO, *_ONE)


class NoTape(NotImplementedError):
    """An equation uses an operation that a tape does not know; the sentence names it."""


@cache
def _names() -> dict[int, str]:
    return {getattr(casadi, n): n[3:] for n in dir(casadi) if n.startswith("OP_")}


@dataclass(frozen=True)
class Tape:
    """Steps of a function of two vectors giving some vectors.

    Attributes
    ----------
    code : array of int (k, 4)
        Operation (place in `OPERATIONS`), where to, from where, and from where second. Of an
        input: to, which vector, which entry; of an output: which vector, which entry, from.
    constants : array (k)
        Value of each constant.
    work : int
        Places for intermediate values.
    sizes_in, sizes_out : tuple of int
        Length of each vector.
    """

    code: npt.NDArray[np.int32]
    constants: Array
    work: int
    sizes_in: tuple[int, ...]
    sizes_out: tuple[int, ...]

    @classmethod
    def of(cls, inputs: list[Any], outputs: list[Any]) -> Tape:
        """Steps of expressions.

        Raises
        ------
        NoTape
            If one of them needs an operation that is not known here.
        """
        outputs = [casadi.densify(item) for item in outputs]
        function = casadi.Function("tape", inputs, outputs, {"cse": True})
        count, names = function.n_instructions(), _names()
        code = np.zeros((count, 4), dtype=np.int32)
        constants = np.zeros(count)
        place = {name: k for k, name in enumerate(OPERATIONS)}
        for k in range(count):
            name = names[function.instruction_id(k)]
            if name not in place:
                raise NoTape(f"An equation uses '{name}', which runs of many cases do not know.")
            to, come = function.instruction_output(k), function.instruction_input(k)
            if name == "CONST":
                constants[k] = function.instruction_constant(k)
                come = []
            both = [*to, *come, 0, 0][:3]
            code[k] = [place[name], *both]
        return cls(
            code,
            constants,
            function.sz_w(),
            tuple(function.nnz_in(i) for i in range(function.n_in())),
            tuple(function.nnz_out(i) for i in range(function.n_out())),
        )


class Lanes:
    """A tape made ready to run for up to `LANES` cases side by side.

    Attributes
    ----------
    inputs, outputs : list of array (size, LANES)
        Written before a run, and read after it.
    """

    def __init__(self, tape: Tape) -> None:
        self.inputs = [np.zeros((size, LANES)) for size in tape.sizes_in]
        self.outputs = [np.zeros((size, LANES)) for size in tape.sizes_out]
        work = np.zeros((tape.work, LANES))
        self._steps: list[tuple[Callable[..., Any], tuple[Any, ...]]] = []
        for (operation, to, one, two), constant in zip(
            tape.code.tolist(), tape.constants.tolist(), strict=True
        ):
            name = OPERATIONS[operation]
            step: tuple[Callable[..., Any], tuple[Any, ...]]
            if name == "INPUT":
                step = (np.copyto, (work[to], self.inputs[one][two]))
            elif name == "OUTPUT":
                step = (np.copyto, (self.outputs[to][one], work[two]))
            elif name == "CONST":
                step = (work[to].fill, (constant,))
            elif name == "TWICE":
                step = (np.add, (work[one], work[one], work[to]))
            elif name in _TWO:
                step = (_TWO[name], (work[one], work[two], work[to]))
            else:
                step = (_ONE[name], (work[one], work[to]))
            self._steps.append(step)

    def run(self) -> None:
        """Work through the list; what cannot be computed becomes not a number."""
        with np.errstate(all="ignore"):
            for operation, arguments in self._steps:
                operation(*arguments)
