"""What an optimisation starts from and keeps, and its answer."""

from __future__ import annotations

from dataclasses import dataclass, field

from canewright.engine.equations.settled import Vector


@dataclass
class Given:
    """What an optimisation starts from and keeps.

    Attributes
    ----------
    values : array (n)
        The factory as found.
    sizes, relations, targets, offsets : array
        Parameters, relations between state and pol, right sides of the stocks' rows and of the
        equations.
    slopes : array
        Of the assumed responses, in the order of `Program.responses`.
    low, high : array (s)
        Ends of the movable settings.
    limits : array (l)
        Values of the limits.
    absent : sequence of int
        Limits that are not there: those that no setting left to be moved touches.
    """

    values: Vector
    sizes: Vector
    relations: Vector
    targets: Vector
    offsets: Vector
    slopes: Vector
    low: Vector
    high: Vector
    limits: Vector
    absent: tuple[int, ...] = ()


@dataclass
class Best:
    """An answer: the factory with the settings that earn most.

    Attributes
    ----------
    values : array (n)
    money : float
        A day.
    settings : array (s)
        In the order of the movable settings.
    equation_prices, row_prices, limit_prices, setting_prices : array
        Money a day by which the optimum changes when the right side of an equation or row, or
        a limit, or an end at which a setting stands, is one unit more.
    passed : array (l)
        By how much each limit is passed; above zero only where it was let go.
    """

    values: Vector
    money: float
    settings: Vector
    equation_prices: Vector
    row_prices: Vector
    limit_prices: Vector
    setting_prices: Vector
    passed: Vector
    iterations: int
    seconds: float
    warm: dict[str, Vector] = field(default_factory=dict, repr=False)
