"""What is known of each period of a season: its figures and the rows of its ledgers."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from canewright.engine.adjusting.influences import DETERMINED_UP_TO
from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.chain.amounts import Amounts
from canewright.engine.chain.carried import Carried
from canewright.engine.chain.chain_parts import Block, EndedPeriod, Period
from canewright.engine.chain.filter import Totals
from canewright.engine.chain.periods import KINDS, Kind, calendar
from canewright.engine.chain.prior_spread import PriorSpread
from canewright.figures.ledger import Ledger
from canewright.figures.to_date import PeriodFigure, PeriodFigures, row_name

SEASON = "season to date"
CALENDAR: tuple[Kind, ...] = KINDS[:-1]
"""Kinds of periods that a season is made of."""


@dataclass(frozen=True)
class PeriodRow:
    """A row of a ledger of a period.

    `side` is "in" or "out", `share` what it is of the ledger's base [%].
    """

    side: str
    name: str
    amount: float
    sd: float
    share: float
    prior_share: float

    @property
    def determined(self) -> bool:
        """Whether readings bring more of what is known of it than priors do."""
        return not self.prior_share > DETERMINED_UP_TO


@dataclass(frozen=True)
class Standing:
    """All that is known of a period.

    Attributes
    ----------
    kind : str
        "day", "week", "fortnight", "month" or "season".
    shifts : int
        How many were balanced.
    figures : list of PeriodFigure
    ledgers : dict
        Ledger -> its rows.
    over : bool
        Whether it has ended and is corrected by the shifts after it; else it may go on.
    """

    kind: str
    period: Period
    shifts: int
    figures: list[PeriodFigure]
    ledgers: dict[str, list[PeriodRow]]
    over: bool = False

    def figure(self, name: str) -> PeriodFigure | None:
        """The figure of a name."""
        return next((figure for figure in self.figures if figure.name == name), None)


def season_periods(
    starts: Sequence[datetime | None], whole: Collection[str] = CALENDAR
) -> list[Period]:
    """The season with everything, and each day, week, fortnight and month.

    A period is carried on with its headline until the one after it has ended, so that the two
    can be compared. The last of each kind may go on.

    Parameters
    ----------
    starts : sequence of datetime
    whole : collection of str
        Kinds of which everything is added up until they end, not the headline only.
    """
    beyond = len(starts)
    found = [Period(SEASON, 0, beyond - 1, kept_until=beyond)]
    for kind in CALENDAR:
        periods = periods_of(starts, kind)
        for place, period in enumerate(periods):
            last = place + 1 == len(periods)
            found.append(
                Period(
                    period.name,
                    period.first,
                    period.last,
                    headline=True,
                    kept_until=beyond if last else periods[place + 1].last,
                    whole_until=(beyond if last else period.last) if kind in whole else -1,
                )
            )
    return found


def periods_of(starts: Sequence[datetime | None], kind: Kind) -> list[Period]:
    """The periods of a kind."""
    return calendar([start for start in starts if start is not None], kind)


class Standings:
    """Makes what is known of periods from their totals.

    Parameters
    ----------
    made : PeriodFigures
    amounts : Amounts
        Of `made`, compiled.
    carried : Carried
    """

    def __init__(self, made: PeriodFigures, amounts: Amounts, carried: Carried) -> None:
        self.made, self.amounts, self.carried = made, amounts, carried
        self.names = tuple(amount.name for amount in amounts.amounts)
        headline = amounts.chosen(headline=True)
        self.headline = tuple(self.names[i] for i in headline)
        self._headline = headline

    def tell(self, block: Block, totals: Totals, gradient: Matrix) -> EndedPeriod:
        """What all amounts of a period that ends made."""
        prior = PriorSpread(self.carried, self.amounts, gradient, block.shifts)
        figures = self.made.of(self.names, totals.mean, totals.covariance, prior)
        variances = np.maximum(np.diag(totals.covariance), 0.0)
        return EndedPeriod(
            block.period,
            block.shifts,
            totals.mean,
            np.sqrt(variances),
            prior.share(np.eye(len(self.names)), variances),
            np.array([figure.value for figure in figures]),
            np.array([figure.sd for figure in figures]),
            np.array([figure.prior_share for figure in figures]),
        )

    def tell_again(self, ended: EndedPeriod, totals: Totals) -> EndedPeriod:
        """What all amounts of a period made, by totals that more shifts have corrected.

        What priors alone would give is the same as before, so that their share goes with the
        variance.
        """
        figures = self.made.of(self.names, totals.mean, totals.covariance)
        sd = np.sqrt(np.maximum(np.diag(totals.covariance), 0.0))
        figures_sd = np.array([figure.sd for figure in figures])
        return replace(
            ended,
            totals=totals.mean,
            totals_sd=sd,
            totals_prior_share=_share(ended.totals_prior_share, ended.totals_sd, sd),
            figures=np.array([figure.value for figure in figures]),
            figures_sd=figures_sd,
            figures_prior_share=_share(ended.figures_prior_share, ended.figures_sd, figures_sd),
        )

    def of(self, kind: str, ended: EndedPeriod, *, over: bool = True) -> Standing:
        """A period that was told of."""
        figures, nothing = [], np.zeros(0)
        for place, (name, label, unit, rule) in enumerate(self.made.declared(self.names)):
            told = (ended.figures, ended.figures_sd, ended.figures_prior_share)
            value, sd, share = (float(part[place]) for part in told)
            figures.append(PeriodFigure(name, label, unit, value, sd, rule, nothing, share))
        ledgers = {name: self._rows(ledger, ended) for name, ledger in self.made.ledgers.items()}
        return Standing(kind, ended.period, ended.shifts, figures, ledgers, over)

    def _rows(self, ledger: Ledger, ended: EndedPeriod) -> list[PeriodRow]:
        place = {name: i for i, name in enumerate(self.names)}
        base = ended.totals[place[f"{ledger.component}: base"]]
        found = []
        for side, rows in (("in", ledger.entering), ("out", ledger.leaving)):
            for row in rows:
                i = place[row_name(ledger.component, side, row)]
                share = 100 * ended.totals[i] / base if base else float("nan")
                numbers = (ended.totals[i], ended.totals_sd[i], share, ended.totals_prior_share[i])
                found.append(PeriodRow(side, row.name, *map(float, numbers)))
        return found

    def headline_of(self, totals: Totals) -> list[PeriodFigure]:
        """Headline figures of a period from its headline totals."""
        return self.made.of(self.headline, totals.mean, totals.covariance)


def _share(share: Vector, before: Vector, after: Vector) -> Vector:
    """A share of what is known that goes with the variance, 0 to 1."""
    known = before > 0
    ratio = np.where(known, after / np.where(known, before, 1.0), 1.0)
    return np.asarray(np.clip(share * ratio**2, 0.0, 1.0))
