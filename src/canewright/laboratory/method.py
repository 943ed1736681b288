"""Methods: how raw readings of the bench become an analysis.

A method declares what is read at the bench, the steps from there to the result, what cannot
be, what is dangerous, and how well the result is known. Its formulas are registered like any
other; a method adds only their order. Adding one is one declaration in a file of the folder
`methods`: it is then listed, worked, explained and read from files without further ado.
"""

import importlib
import math
import pkgutil
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Literal

import numpy as np

from canewright.ops import Numeric
from canewright.registry import Known, registered

Shape = Literal["normal", "rectangular"]

BROADEST_EQUATION = 68
"""Characters of an equation that still fit on the line of a step."""


def rectangular(half_width: float) -> float:
    """Standard uncertainty of a reading known only to lie within plus or minus a half width."""
    return half_width / math.sqrt(3.0)


@dataclass(frozen=True)
class RawInput:
    """One thing read at the bench.

    Parameters
    ----------
    name, label, unit : str
        Name as typed, what it is in the trade's words, unit of the value.
    low, high : float
        Hard limits, in `unit`: a value outside cannot be and is refused.
    near : (low, high), optional
        Usual range: outside it the value is taken with a warning.
    uncertainty : float
        Standard uncertainty of one reading, in `unit`, or % of the value if `relative`.
    shape : {"normal", "rectangular"}
        Distribution of the error.
    shared : str
        Instrument or solution whose error moves all analyses together; empty if the error is
        this reading's own.
    default : float, optional
        Taken when the reading is not given; without one it must be given.
    optional : bool
        May be left out without a default; the steps then do without it.
    takes : str
        Analysis of the same sample this may be taken from when it is not given.
    unit_required : bool
        Refuse the value without a unit, because laboratories differ in it.
    bench : str
        A sentence: what to check at the bench when the value cannot be.
    reminder : str
        A sentence that warns when the default is taken.
    text : str
        What else one must know to read it.
    """

    name: str
    label: str
    unit: str
    low: float
    high: float
    near: tuple[float, float] | None = None
    uncertainty: float = 0.0
    relative: bool = False
    shape: Shape = "normal"
    shared: str = ""
    default: float | None = None
    optional: bool = False
    takes: str = ""
    unit_required: bool = False
    bench: str = ""
    reminder: str = ""
    text: str = ""

    @property
    def required(self) -> bool:
        """Whether the method cannot do without it."""
        return self.default is None and not self.optional

    def standard_uncertainty(self, value: Numeric) -> Numeric:
        """Standard uncertainty of this value, in the input's unit."""
        return np.abs(value) * self.uncertainty / 100 if self.relative else self.uncertainty


@dataclass(frozen=True)
class Step:
    """One line of the working: what was found, in which unit, by whose equation."""

    name: str
    value: Numeric
    unit: str
    source: str
    note: str = ""


def step(name: str, function: Callable[..., Any], *arguments: Numeric, note: str = "") -> Step:
    """A line of the working by a registered formula, which gives unit, source and equation."""
    entry = registered(function)
    equation = " ".join(entry.equation.split())
    shown = equation if len(equation) <= BROADEST_EQUATION else entry.at
    return Step(name, function(*arguments), entry.unit, entry.source, note or shown)


@dataclass(frozen=True)
class Remark:
    """What is wrong with a raw reading, or strange about it, and what to check."""

    reading: str
    text: str
    refused: bool = False


def refusal(reading: str, text: str) -> Remark:
    """A remark that stops the working."""
    return Remark(reading, text, refused=True)


def warning(reading: str, text: str) -> Remark:
    """A remark beside a result that is given all the same."""
    return Remark(reading, text)


@dataclass(frozen=True)
class Precision:
    """Published precision of a method, in the unit of its result.

    `repeatability` (s_r) is the standard deviation within one laboratory, `reproducibility`
    (s_R) between laboratories, for results from `low` to `high`. `others` holds the figures
    of other ranges.
    """

    repeatability: float
    reproducibility: float
    source: str
    at: str
    known: Known = "read"
    low: float = -math.inf
    high: float = math.inf
    others: tuple["Precision", ...] = ()

    @classmethod
    def of_limits(cls, within: float, between: float, **where: Any) -> "Precision":
        """From the 95 % limits r and R of the difference of two results, s = limit/2.8."""
        return cls(within / 2.8, between / 2.8, **where)

    @property
    def s_r(self) -> float:
        """Standard deviation of repeatability."""
        return self.repeatability

    @property
    def s_R(self) -> float:  # noqa: N802 - the published letter
        """Standard deviation of reproducibility."""
        return self.reproducibility

    def at_value(self, value: float) -> "Precision | None":
        """The precision stated for a result of this size; None if none is."""
        for level in (self, *self.others):
            if level.low <= value <= level.high:
                return level
        return None


class NotGivenError(Exception):
    """A check asked for a reading that is missing or refused already."""


class Given(Mapping[str, float]):
    """The readings that can be used in a check; asking for another ends that check."""

    def __init__(self, values: Mapping[str, float]) -> None:
        self._values = values

    def __getitem__(self, name: str) -> float:
        if name not in self._values:
            raise NotGivenError(name)
        return self._values[name]

    def __contains__(self, name: object) -> bool:
        return name in self._values

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)


Steps = Callable[[Mapping[str, Numeric]], list[Step]]
"""From values by name to the lines of the working, the result last."""

Check = Callable[[Given], Iterable[Remark]]
"""Looks at readings together; the name `result` holds the result when there is one."""


@dataclass(frozen=True)
class Method:
    """A published method of analysis.

    Parameters
    ----------
    name, title, unit : str
        Name as typed, title, unit of the result.
    analysis : str
        Reading of `canewright.laboratory.readings.READINGS` that the result is; "" if none.
    classes : tuple of str
        Classes of stream it suits (`stream_class`); empty for any.
    inputs : tuple of RawInput
    steps : callable
        From values by name (defaults filled in) to the lines of the working; the last is the
        result. Works on floats and on arrays and does not branch on values.
    checks : tuple of callables
        Each looks at some readings together.
    precision : Precision, optional
        Published precision.
    sampling : float
        Standard uncertainty that sampling and preparing add to one result, in `unit`, where
        that is more than the raw readings tell [instrument_judgement].
    valid : mapping
        Name of an input, or `result`: range for which the method is stated.
    usual : mapping
        Quantity of the table of usual ranges -> name of the step that is it; the analysis and
        the result where it is left out.
    cautions : tuple of str
        Keys of `canewright.laboratory.cautions.CAUTIONS`.
    substitutes : str
        Safer way, where the standard allows one.
    default : bool
        Taken for its analysis and classes where a file names no method.
    source, at, known : str
        Where the method is described and how we know it.
    text : str
        What else belongs to it.
    """

    name: str
    title: str
    analysis: str
    unit: str
    classes: tuple[str, ...]
    inputs: tuple[RawInput, ...]
    steps: Steps
    source: str
    at: str
    known: Known
    checks: tuple[Check, ...] = ()
    precision: Precision | None = None
    sampling: float = 0.0
    valid: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    usual: Mapping[str, str] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
    substitutes: str = ""
    default: bool = False
    text: str = ""

    def input(self, name: str) -> RawInput:
        """The raw input of this name.

        Raises
        ------
        KeyError
            If there is none.
        """
        for raw in self.inputs:
            if raw.name == name:
                return raw
        raise KeyError(name)

    def filled(self, values: Mapping[str, Numeric]) -> dict[str, Numeric]:
        """Values by name with the defaults of those that are not given, in order."""
        return {
            raw.name: values.get(raw.name, raw.default)
            for raw in self.inputs
            if raw.name in values or raw.default is not None
        }

    def result(self, values: Mapping[str, Numeric]) -> Numeric:
        """Result from values by name; floats or arrays."""
        return self.steps(self.filled(values))[-1].value

    def sensitivities(
        self, values: Mapping[str, Numeric], names: Iterable[str] | None = None
    ) -> tuple[Numeric, dict[str, Numeric]]:
        """Result, and its change with each input, from one evaluation over central differences.

        Parameters
        ----------
        values : mapping
            Floats, or arrays of one shape for many determinations at once.
        names : iterable of str, optional
            Inputs asked about; all uncertain ones when left out.

        Returns
        -------
        result : float or array
        slopes : dict
            Input -> result's unit per input's unit.
        """
        filled = {
            name: np.asarray(value, dtype=float) for name, value in self.filled(values).items()
        }
        uncertain = [raw.name for raw in self.inputs if raw.uncertainty > 0]
        asked = [name for name in (uncertain if names is None else names) if name in filled]
        shape = np.broadcast_shapes(*(value.shape for value in filled.values()))
        count = len(asked)
        stacked = {
            name: np.broadcast_to(value, (2 * count + 1, *shape)) for name, value in filled.items()
        }
        widths = []
        for k, name in enumerate(asked):
            width = 1e-4 * (np.abs(filled[name]) + self._span(name, filled[name]))
            widths.append(width)
            moved = stacked[name].copy()
            moved[2 * k + 1] += width
            moved[2 * k + 2] -= width
            stacked[name] = moved
        found = np.broadcast_to(self.steps(stacked)[-1].value, (2 * count + 1, *shape))
        slopes = {
            name: (found[2 * k + 1] - found[2 * k + 2]) / (2 * widths[k])
            for k, name in enumerate(asked)
        }
        return found[0], slopes

    def _span(self, name: str, value: Numeric) -> Numeric:
        """A length in the input's unit, so that a reading of nought has a step too."""
        raw = self.input(name)
        absolute = raw.uncertainty > 0 and not raw.relative
        return raw.standard_uncertainty(value) if absolute else 1e-3


@cache
def methods() -> dict[str, Method]:
    """All methods by name, in alphabetical order: every declaration in the folder `methods`."""
    package = importlib.import_module("canewright.laboratory.methods")
    found: dict[str, Method] = {}
    for module in pkgutil.iter_modules(package.__path__):
        loaded = importlib.import_module(f"{package.__name__}.{module.name}")
        for value in vars(loaded).values():
            if isinstance(value, Method):
                if found.get(value.name, value) is not value:
                    raise TypeError(f"Two methods are called {value.name}.")
                found[value.name] = value
    return dict(sorted(found.items()))


def methods_for(analysis: str, stream_class: str) -> list[Method]:
    """Methods that give an analysis of a class of stream, the default first.

    A method whose result no balance takes gives the analysis of its own name.
    """
    suited = [
        method
        for method in methods().values()
        if analysis == (method.analysis or method.name)
        and (not method.classes or stream_class in method.classes)
    ]
    return sorted(suited, key=lambda method: not method.default)


def beside_the_balance(stream_class: str) -> list[str]:
    """Names of methods of a class of stream whose results no balance takes: pH, sieving, starch."""
    return [
        name
        for name, method in methods().items()
        if not method.analysis and stream_class in method.classes
    ]
