"""What if: the answer with figures, money, assumptions and cautions, from a balanced shift.

From a notebook:

    from canewright.account import balance
    from canewright.account.whatif import WhatIf
    answer = WhatIf(balance("factory.toml", "readings.csv")).ask(["imbibition=240"])
    answer.earned.difference, answer.earned.interval
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from canewright.account.account import Account
from canewright.account.cautions import sentences_of
from canewright.engine.advising.limits import Watch
from canewright.engine.advising.marginal import Told, regime
from canewright.engine.equations.changes import Change, unit_of
from canewright.engine.equations.model import Model
from canewright.engine.equations.points import Points
from canewright.engine.equations.responses import Response
from canewright.engine.equations.settled import Stocks
from canewright.engine.forecasting.forecast import Difference, Forecast, Forecaster
from canewright.engine.forecasting.forecast_draws import DRAWS
from canewright.figures.control import control_figures
from canewright.figures.money import earnings, unknown_prices
from canewright.files.problems import known_names

EARNED = "earned"
WORTH = "worth of "
FIRST = 10
"""Figures that changed most in money, printed first."""
UNCHANGED = 1e-9
"""Relative change below which a figure did not change."""


@dataclass(frozen=True)
class Changed:
    """A figure before and after, with what its change is worth a day.

    `money` is None where the figure is not itself sold or bought; `asked` says that the user
    named it, `headline` that it is one of the chief control figures.
    """

    name: str
    label: str
    unit: str
    values: Difference
    money: Difference | None = None
    asked: bool = False
    headline: bool = False

    @property
    def changes(self) -> bool:
        """Whether it changed at all."""
        size = max(abs(self.values.before), abs(self.values.after))
        return abs(self.values.difference) > UNCHANGED * size


@dataclass(frozen=True)
class Answer:
    """What a change does.

    Attributes
    ----------
    forecast : Forecast
    settings : list of (name, unit, before, after)
        What was changed.
    rows : list of Changed
        The largest change in money first, then those asked for, then the rest.
    earned : Difference or None
        Money a day; None where no price is known.
    missing : list of str
        Sentences on what changed and has no price.
    assumed : list of Response
        Responses that moved a figure and are only assumed.
    limits, cautions : list of str
        Limits of the factory file that the state after would break; what to mind.
    told, told_after : Told
        The regime that says what steam saved is worth, as found and after.
    """

    forecast: Forecast
    settings: list[tuple[str, str, float, float]]
    rows: list[Changed]
    earned: Difference | None
    missing: list[str]
    assumed: list[Response]
    limits: list[str]
    cautions: list[str]
    told: Told
    told_after: Told


class WhatIf:
    """Questions to a balanced shift.

    Parameters
    ----------
    account : Account
    asked : sequence of str
        Figures wanted besides those of the account: control figures, things sold or bought,
        readings (`point analysis`), quantities (`station.quantity`).
    stocks, assumed, draws, seed
        See `Forecaster`.

    Raises
    ------
    LookupError
        If a figure asked for does not exist, naming what is nearest.
    """

    def __init__(
        self,
        account: Account,
        asked: Sequence[str] = (),
        *,
        stocks: Stocks = "settled",
        assumed: bool = True,
        draws: int = DRAWS,
        seed: int = 1,
    ) -> None:
        self.account = account
        self.model = account.estimate.model
        self._labels: dict[str, tuple[str, str, bool]] = {}
        self._watches: dict[tuple[str, ...], Watch] = {}
        self._sold = earnings(self.model)
        self._asked = [self._known(name) for name in asked]
        self.forecaster = Forecaster(
            account.estimate,
            self._expressions,
            stocks=stocks,
            assumed=assumed,
            draws=draws,
            seed=seed,
        )

    def _known(self, name: str) -> str:
        """The name of a figure asked for, if there is one."""
        found = earnings(self.model)
        names = [*control_figures(self.model), *(row.name for row in found.rows), EARNED]
        if name in names or name in self.model.index or self._reading(self.model, name) is not None:
            return name
        raise LookupError(
            f"No figure is called '{name}'. {known_names(name, [*names, *self.model.index])}"
        )

    def _reading(self, model: Model, name: str) -> tuple[Any, str, str] | None:
        point, _, analysis = name.partition(" ")
        points = Points(model)
        try:
            channel = points.channel(point, analysis)
        except KeyError:
            return None
        relations = self.account.estimate.reconciler.relations
        return points.predict(channel, relations), channel.label, channel.unit

    def _expressions(self, model: Model, relations: Mapping[str, Any]) -> dict[str, Any]:
        written: dict[str, Any] = {}
        for name, figure in control_figures(model, relations).items():
            written[name] = figure.expression
            self._labels.setdefault(name, (figure.label, figure.unit, figure.headline))
        sold = earnings(model, relations=relations)
        for row in sold.rows:
            written[row.name] = row.amount
            self._labels.setdefault(row.name, (row.label, f"{row.unit}/day", False))
            if row.price is not None:
                written[WORTH + row.name] = row.value
        if sold.priced:
            written[EARNED] = sold.total
            self._labels.setdefault(EARNED, ("earned", "a day", False))
        for name in self._asked:
            if name in written:
                continue
            reading = self._reading(model, name)
            if reading is not None:
                written[name] = reading[0]
                self._labels.setdefault(name, (f"{reading[1]}, {name}", reading[2], False))
            elif name in model.index:
                variable = model.variables[model.position(name)]
                written[name] = model.symbols[model.position(name)]
                self._labels.setdefault(name, (variable.label or name, variable.unit, False))
        return written

    def label(self, name: str) -> tuple[str, str]:
        """Label and unit of a figure."""
        label, unit, _ = self._labels[name]
        return label, unit

    def ask(
        self, changes: Sequence[str], out: Sequence[str] = (), *, intervals: bool = True
    ) -> Answer:
        """The factory with changes made and stations out of the way.

        Parameters
        ----------
        changes : sequence of str
            As typed: `imbibition=240`, `imbibition=+10`, `cane_rate=-5%`.
        out : sequence of str
            Names of stations.
        intervals : bool
            False leaves uncertainty out; it is not a number then.

        Raises
        ------
        ChangeRefused, CannotRun, SolveFailed
            See `Forecaster.forecast`.
        """
        asked = self.forecaster.changes(changes)
        forecast = self.forecaster.forecast(asked, out, intervals=intervals)
        rows = self._rows(forecast)
        return Answer(
            forecast,
            [self._setting(forecast, change) for change in asked],
            rows,
            forecast.differences.get(EARNED),
            self._missing(forecast),
            list(dict.fromkeys(r for row in rows for r in row.values.assumed)),
            self._limits_passed(forecast),
            sentences_of(self._cautions(asked, forecast.without)),
            regime(self.model, forecast.before.values),
            regime(forecast.after.model, forecast.after.values),
        )

    def _setting(self, forecast: Forecast, change: Change) -> tuple[str, str, float, float]:
        if change.size:
            place = self.model.parameter_names.index(change.name)
            before = float(forecast.before.parameters[place])
        else:
            before = forecast.before[change.name]
        return change.name, unit_of(self.model, change.name), before, change.applied(before)

    def _rows(self, forecast: Forecast) -> list[Changed]:
        rows = []
        for name, values in forecast.differences.items():
            if name.startswith(WORTH) or name == EARNED:
                continue
            label, unit, headline = self._labels[name]
            worth = forecast.differences.get(WORTH + name)
            rows.append(Changed(name, label, unit, values, worth, name in self._asked, headline))

        def order(row: Changed) -> tuple[bool, float, bool, bool]:
            money = 0.0 if row.money is None else abs(row.money.difference)
            return row.money is None, -money, not row.asked, not row.headline

        return sorted(rows, key=order)

    def _limits_passed(self, forecast: Forecast) -> list[str]:
        after = forecast.after
        point = np.concatenate([after.values, self.forecaster.relations])
        if forecast.without not in self._watches:
            symbols = self.account.estimate.reconciler.relations
            watch = Watch(after.model, symbols, point, after.parameters)
            self._watches[forecast.without] = watch
        return self._watches[forecast.without].passed(point, after.parameters)

    def _missing(self, forecast: Forecast) -> list[str]:
        found, sold = [], self._sold
        if not sold.priced:
            names = ", ".join(row.name for row in sold.rows)
            found.append(f"[prices] in the factory file could say what these cost: {names}.")
        for row in sold.missing if sold.priced else ():
            values = forecast.differences.get(row.name)
            size = 0.0 if values is None else max(abs(values.before), abs(values.after), 1e-6)
            if values is None or abs(values.difference) <= 1e-6 * size:
                continue
            found.append(
                f"{row.label} has no price: its change of {values.difference:+.3g} {row.unit} a "
                f"day is not in the money. Write {row.name} = ... under [prices]."
            )
        found += [
            f"[prices] has '{name}', which is nothing that this factory sells or buys. "
            + known_names(name, [row.name for row in sold.rows], "prices")
            for name in unknown_prices(self.model)
        ]
        return found

    def _cautions(self, changes: Sequence[Change], out: Sequence[str]) -> list[str]:
        touched = {change.name.rpartition(".")[0].lower() for change in changes}
        touched |= {name.strip().lower() for name in out}
        keys = [
            key
            for placed in self.model.flowsheet.placed
            if placed.name.lower() in touched
            for key in placed.cls.cautions
        ]
        return list(dict.fromkeys(keys))


def payload(answer: Answer, account: Account) -> dict[str, Any]:
    """The answer as plain data with stable keys, for `--json`."""
    earned, drawing = answer.earned, answer.forecast.drawing
    return {
        "factory": account.factory.name,
        "invented": account.factory.invented,
        "settings": [
            {"setting": name, "unit": unit, "before": before, "after": after}
            for name, unit, before, after in answer.settings
        ],
        "without": list(answer.forecast.without),
        "changes": [_row(row) for row in answer.rows if row.changes or row.asked],
        "earned": None
        if earned is None
        else {
            "before": earned.before,
            "after": earned.after,
            "difference": earned.difference,
            "interval": list(earned.interval),
        },
        "missing_prices": answer.missing,
        "assumed": [response.name for response in answer.assumed],
        "limits": answer.limits,
        "cautions": answer.cautions,
        "regime": answer.told_after.regime,
        "regime_words": answer.told_after.sentence,
        "regime_before": answer.told.regime,
        "draws": None if drawing is None else vars(drawing),
        "seconds": answer.forecast.seconds,
    }


def _row(row: Changed) -> dict[str, Any]:
    return {
        "figure": row.name,
        "label": row.label,
        "unit": row.unit,
        "before": row.values.before,
        "after": row.values.after,
        "difference": row.values.difference,
        "interval": list(row.values.interval),
        "money_per_day": None if row.money is None else row.money.difference,
        "money_interval": None if row.money is None else list(row.money.interval),
        "assumed": [response.name for response in row.values.assumed],
        "prior_share": row.values.prior_share,
    }
