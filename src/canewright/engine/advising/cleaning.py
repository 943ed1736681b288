"""When to stop to clean the evaporator: what scale costs against what a stop costs.

Each body's coefficient falls by the square law, 1/k^2 = a t + b, from its clean value to the
fitted one in the hours since it was cleaned. The factory is solved with the coefficients of
each hour, as everything else was found, so what scale costs is in money: steam, power, and
syrup that leaves thinner. A stop costs the crushing of its hours, or what an hour lost is said
to cost where the season can be made longer, and the chemicals. Sources: [mccabe_robinson1924]
for the law, [own_derivation] for the plan.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from canewright.engine.advising.advise import STANDS, Optimiser
from canewright.engine.equations.settled import Vector
from canewright.engine.equations.simulate import Solved, SolveFailed
from canewright.laws.heat_transfer import best_run

HORIZON = 336.0
"""Two weeks. [h]"""
KNOTS = 24
"""Ages of scale at which the factory is solved."""
GRID = 2.0
"""Step in which the first stop is looked for. [h]"""
MOST_STOPS = 8
HALVINGS = 10
"""Of a step between two ages, to find where the factory can no longer run."""
KIND = "evaporator_body"


class CleaningRefused(ValueError):
    """What is known does not tell how scale grows; the text says what is wanting."""


@dataclass(frozen=True)
class Body:
    """One body: its coefficient now and clean, and the square law through both.

    `growth` and `start` are a and b of 1/k^2 = a t + b, with t in hours and k in the unit of the
    fitted coefficient; `best_run` the hours between stops that give this body alone its
    greatest mean duty.
    """

    name: str
    unit: str
    now: float
    clean: float
    hours: float
    growth: float
    start: float
    best_run: float


@dataclass(frozen=True)
class Plan:
    """Stops over the next two weeks.

    Attributes
    ----------
    bodies : list of Body
    stops : list of float
        Hours from now at which each stop begins.
    gain : float
        Money over the horizon against not stopping at all.
    gain_over_now : float
        Money over the horizon against stopping at once and then as planned.
    ages, money : array
        Money a day by the age of the scale. [h]
    runs_until : float
        Age at which the factory can no longer run so; inf where it can over the horizon. [h]
    lost_hour : float
        What an hour of lost crushing costs. [money]
    """

    bodies: list[Body]
    stops: list[float]
    gain: float
    gain_over_now: float
    ages: Vector
    money: Vector
    runs_until: float
    stop_hours: float
    lost_hour: float
    horizon: float = HORIZON


def bodies_of(
    optimiser: Optimiser, hours: Mapping[str, float], clean: Mapping[str, float], stop_hours: float
) -> list[Body]:
    """The evaporator's bodies as found.

    Parameters
    ----------
    hours : mapping
        Body -> hours since it was cleaned; "" for all.
    clean : mapping
        Body -> coefficient when clean, in the unit of the fitted one; "" for all.

    Raises
    ------
    CleaningRefused
        If something is not said, or a body is better than clean.
    """
    model = optimiser.model
    names = [p.name for p in model.flowsheet.placed if p.cls.kind == KIND]
    if not names:
        raise CleaningRefused("The factory has no evaporator body whose coefficient is fitted.")
    unknown = sorted({*hours, *clean} - {"", *names})
    if unknown:
        raise CleaningRefused(
            f"No evaporator body is called {', '.join(unknown)}. They are {', '.join(names)}."
        )
    found, problems = [], []
    for name in names:
        place = model.position(f"{name}.coefficient")
        now = float(optimiser.found.values[place])
        unit = model.variables[place].unit
        since = hours.get(name, hours.get(""))
        fresh = clean.get(name, clean.get(""))
        if since is None or fresh is None:
            problems.append(
                f"{name}: say how many hours ago it was cleaned and its coefficient when clean, "
                f"in {unit} (it is {now:.3g} now)."
            )
            continue
        if since <= 0 or fresh <= now:
            problems.append(
                f"{name}: its coefficient is {now:.3g} {unit} after {since:g} h, and {fresh:.3g} "
                "when clean: that shows no scale. Check both, or leave it out of the plan by a "
                "clean coefficient just above."
            )
            continue
        start = 1 / fresh**2
        growth = (1 / now**2 - start) / since
        run = float(best_run(growth, start, stop_hours))
        found.append(Body(name, unit, now, fresh, since, growth, start, run))
    if problems:
        raise CleaningRefused("\n".join(problems))
    return found


def plan_cleaning(
    optimiser: Optimiser,
    bodies: list[Body],
    stop_hours: float,
    *,
    chemicals: float = 0.0,
    lost_hour: float | None = None,
    horizon: float = HORIZON,
) -> Plan:
    """The stops that earn most over the horizon; all bodies are cleaned in one stop.

    Parameters
    ----------
    stop_hours : float
        From steam off to steam on. [h]
    chemicals : float
        Cost of one cleaning. [money]
    lost_hour : float, optional
        What an hour without crushing costs where the season can be made longer; left out, the
        crushing is lost with what it earns. [money]
    horizon : float
        [h]
    """
    age = float(np.mean([body.hours for body in bodies]))
    ages, money, until = _curve(optimiser, bodies, age, horizon)
    integral = np.concatenate([[0.0], np.cumsum(np.diff(ages) * (money[1:] + money[:-1]) / 2)])

    def earned(first: float, last: float) -> float:
        """Money between two ages of the scale; none where the factory cannot run so."""
        if last > until + 1e-9:
            return -np.inf
        return float(np.diff(np.interp([first, last], ages, integral))[0]) / 24.0

    extended = lost_hour is not None
    own_hour = float(np.interp(age, ages, money)) / 24.0
    each = chemicals + (stop_hours * float(lost_hour) if lost_hour is not None else 0.0)
    away = 0.0 if extended else stop_hours

    def value(first: float, count: int) -> float:
        run = (horizon - first - count * away) / count if count else 0.0
        if run < 0:
            return -np.inf
        return earned(age, age + first) + count * (earned(0.0, run) - each)

    without = earned(age, age + horizon)
    best, first, count = without, 0.0, 0
    for number in range(1, MOST_STOPS + 1):
        for begin in np.arange(0.0, horizon - number * away, GRID):
            worth = value(float(begin), number)
            if worth > best:
                best, first, count = worth, float(begin), number
    run = (horizon - first - count * away) / count if count else 0.0
    stops = [first + k * (run + away) for k in range(count)]
    at_once = max((value(0.0, number) for number in range(1, MOST_STOPS + 1)), default=-np.inf)
    return Plan(
        bodies,
        stops,
        best - without,
        best - at_once,
        ages,
        money,
        until,
        stop_hours,
        own_hour if lost_hour is None else lost_hour,
        horizon,
    )


def _curve(
    optimiser: Optimiser, bodies: list[Body], age: float, horizon: float
) -> tuple[Vector, Vector, float]:
    """Money a day by the age of the scale, and the age at which it can no longer run."""
    already = _broken(optimiser, optimiser.found.values)

    def at(own_age: float, near: Vector) -> Solved | None:
        """The factory with scale of an age; None where it cannot run, or scale breaks a limit.

        With less scale than now syrup may come out thicker than it may be; then the operators
        give less steam.
        """
        start = near.copy()
        for body in bodies:
            hours = max(body.hours + own_age - age, 0.0)
            place = optimiser.model.position(f"{body.name}.coefficient")
            start[place] = 1 / np.sqrt(body.growth * hours + body.start)
        try:
            state = optimiser.square.solve(start, optimiser.given.sizes, optimiser.targets)
        except SolveFailed:
            return None
        older = own_age > age and _broken(optimiser, state.values) - already
        return None if older else state

    now = at(age, optimiser.found.values)
    if now is None:
        raise CleaningRefused("The factory cannot run with the evaporator's coefficients as found.")
    younger = np.linspace(age, 0.0, KNOTS // 2)[1:]
    older = np.linspace(age, age + horizon, KNOTS)[1:]
    curve, near = {age: now}, now
    for knot in younger:
        state = at(float(knot), near.values)
        if state is None:
            raise CleaningRefused("The factory as found cannot run with a clean evaporator.")
        curve[float(knot)] = near = state
    good, near, until = age, now, float("inf")
    for knot in older:
        state = at(float(knot), near.values)
        if state is None:
            good, near = _furthest(at, good, float(knot), near)
            curve[good], until = near, good
            break
        curve[float(knot)] = near = state
        good = float(knot)
    ages = np.array(sorted(curve))
    money = [optimiser.program.money(curve[float(one)].values, optimiser.given) for one in ages]
    return ages, np.array(money), until


def _furthest(
    at: Callable[[float, Vector], Solved | None], good: float, bad: float, near: Solved
) -> tuple[float, Solved]:
    """The last age at which the factory runs, between one at which it does and one not."""
    for _ in range(HALVINGS):
        middle = (good + bad) / 2
        state = at(middle, near.values)
        if state is None:
            bad = middle
        else:
            good, near = middle, state
    return good, near


def _broken(optimiser: Optimiser, values: Vector) -> set[str]:
    """Limits of the factory file that a state breaks."""
    limited = optimiser.program.limit_values(values, optimiser.given)
    return {
        bound.words
        for bound, value in zip(optimiser.bounds, limited, strict=True)
        if bound.kind == "limit" and bound.sign * (value - bound.value) > STANDS * bound.scale
    }
