"""From a plan to the work of a study: factory, balance, what is drawn, what answers."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from canewright.account.account import balance
from canewright.account.start import prepared_from
from canewright.account.study import fingerprint
from canewright.account.study_plan import Plan, read_plan
from canewright.account.study_work import Answering, Work
from canewright.engine.adjusting.reconcile import Estimate
from canewright.engine.equations.changes import ChangeRefused, limits, resolve
from canewright.engine.equations.model import Model
from canewright.engine.equations.responses import links
from canewright.engine.equations.settled import Square
from canewright.engine.scenarios.batch import Batch, make_batch
from canewright.engine.scenarios.tape_c import compiler
from canewright.figures.control import control_figures
from canewright.figures.money import earnings
from canewright.files.problems import InputRefused, KeyProblem, known_names

WORTH_COMPILING = 50_000
"""Scenarios from which compiling pays for itself."""
EARNED = "earned"


def start(path: Path, *, may_compile: bool = True) -> Work:
    """Read a plan and make its work ready.

    Parameters
    ----------
    path : Path
        The plan.
    may_compile : bool
        Whether a C compiler may be used, where one is there and the study is large.

    Raises
    ------
    InputRefused
        With everything that is wrong with the plan, the factory or the readings.
    """
    plan = read_plan(path)
    contents = [path.read_bytes(), plan.factory.read_bytes()]
    estimate: Estimate | None = None
    if plan.readings is not None:
        contents.append(plan.readings.read_bytes())
        estimate = balance(plan.factory, plan.readings).estimate
        model, values = estimate.model, estimate.values
    else:
        prepared = prepared_from(plan.factory)
        model, values = prepared.model, prepared.usual.values
    compile_it = may_compile and plan.count >= WORTH_COMPILING and compiler() is not None
    names = _resolved(path, plan, model)
    batch = _batch(path, plan, model, values, estimate)
    places = tuple(batch.given_places[name] for name in names)
    middle, root = _drawn(plan, batch, model, estimate)
    return Work(
        batch,
        plan,
        places,
        middle,
        root,
        _answering(batch, model, places) if plan.assumed else (),
        fingerprint(*contents, b"compiled" if compile_it else b"steps"),
        compile_it,
    )


def _resolved(path: Path, plan: Plan, model: Model) -> list[str]:
    problems, names = [], []
    square = Square(model, plan.stocks)
    held = {int(i) for i in square.held}
    for vary in plan.vary:
        try:
            full = resolve(model, vary.name)
        except ChangeRefused as refusal:
            problems.append(KeyProblem(path.name, None, "vary", str(refusal), ""))
            continue
        names.append(full)
        if full not in model.parameter_names and model.position(full) not in held:
            what = f"{full} follows from the equations; it cannot be varied."
            problems.append(KeyProblem(path.name, None, "vary", what, ""))
        low, high = limits(model, full)
        outside = [value for value in vary.values if not low <= value <= high]
        if outside:
            what = f"{full} can be {low:g} to {high:g}, not {outside[0]:g}."
            problems.append(KeyProblem(path.name, None, "vary", what, ""))
    doubled = {name for name in names if names.count(name) > 1}
    problems += [
        KeyProblem(path.name, None, "vary", f"'{name}' is varied twice.", "Keep one.")
        for name in sorted(doubled)
    ]
    if problems:
        raise InputRefused(problems)
    return names


def _batch(
    path: Path, plan: Plan, model: Model, values: np.ndarray, estimate: Estimate | None
) -> Batch:
    reported = control_figures(model)
    figures = {name: figure.expression for name, figure in reported.items()}
    headline = [name for name, figure in reported.items() if figure.headline]
    sold = earnings(model)
    figures |= {row.name: row.amount for row in sold.rows}
    if sold.priced:
        figures[EARNED] = sold.total
    wanted = plan.figures or (*([EARNED] if sold.priced else []), *headline)
    unknown = [name for name in wanted if name not in figures and name not in model.index]
    if unknown:
        known = [*figures, *model.index]
        raise InputRefused(
            KeyProblem(
                path.name,
                None,
                "figures",
                f"No figure is called '{name}'.",
                known_names(name, known, "figures"),
            )
            for name in unknown
        )

    def expressions(of: Model) -> Mapping[str, Any]:
        return {
            name: figures[name] if name in figures else of.symbols[of.position(name)]
            for name in wanted
        }

    if estimate is None:
        return make_batch(model, values, expressions, stocks=plan.stocks)
    return make_batch(
        model,
        values,
        expressions,
        stocks=plan.stocks,
        sizes=estimate.solution.parameters[: len(model.parameter_values)],
        offsets=estimate.solution.offsets,
    )


def _drawn(
    plan: Plan, batch: Batch, model: Model, estimate: Estimate | None
) -> tuple[np.ndarray, np.ndarray]:
    """Middle and root of what is drawn."""
    size = batch.given.size
    square = Square(model, plan.stocks)
    count = square.held.size
    if plan.uncertain == "nothing":
        return batch.given, np.zeros((size, 0))
    if plan.uncertain == "priors" or estimate is None:
        root = np.zeros((size, count))
        for k, i in enumerate(square.held):
            variable = model.variables[int(i)]
            if np.isfinite(variable.prior_sd) and variable.role in ("setting", "fitted"):
                root[k, k] = variable.prior_sd
        return batch.given, root[:, np.abs(root).any(axis=0)]
    directions = np.zeros((count + len(square.rows), estimate.reconciler.problem.size))
    directions[np.arange(count), square.held] = 1.0
    for k, row in enumerate(square.rows):
        directions[count + k, list(row.places)] = row.factors
    covariance = estimate.posterior.covariance(directions)
    sd = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
    values, vectors = np.linalg.eigh(covariance / np.outer(sd, sd))
    kept = values > 1e-12 * values.max()
    root = np.zeros((size, int(kept.sum())))
    root[: sd.size] = sd[:, None] * vectors[:, kept] * np.sqrt(values[kept])
    return batch.given, root


def _answering(batch: Batch, model: Model, places: tuple[int, ...]) -> tuple[Answering, ...]:
    found = []
    for link in links(model):
        cause = batch.given_places.get(model.variables[link.cause].name)
        effect = batch.given_places.get(model.variables[link.effect].name)
        if cause in places and effect is not None and effect not in places:
            assert cause is not None
            found.append(Answering(link.response, cause, effect))
    return tuple(found)
