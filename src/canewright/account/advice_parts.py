"""The parts of an advice: moves with their chain of effects, and what they rest on."""

from __future__ import annotations

from dataclasses import dataclass

from canewright.account.account import Account
from canewright.account.whatif import Answer, Changed
from canewright.engine.advising.advise import Chosen, Optimiser
from canewright.engine.advising.binding import Binding, Coming
from canewright.engine.advising.chances import Outcome
from canewright.engine.advising.gain import Gain
from canewright.engine.advising.lagging import Lagging
from canewright.engine.advising.marginal import Told, Worth
from canewright.engine.equations.responses import Response
from canewright.engine.measuring.value_of_readings import Candidate

KEEP = 0.9
"""Probability with which each limit is to be kept, unless said otherwise; our choice."""
SURE = 0.8
"""Chance of earning more from which advice is given without reserve; our choice."""
MOST = 0.8
"""Part of the gain that counts as having come; our choice."""
MOVED_FIRST = 4
"""Figures of the process, and things sold or bought, told in a chain of effects."""
WORTH_TELLING = 0.5
"""Money a day below which a thing sold or bought is not part of the chain."""


@dataclass(frozen=True)
class Effect:
    """One link in the chain from a setting to money.

    `kind` is "performance" (an assumed response answered), "figure" or "money".
    """

    kind: str
    label: str
    unit: str
    before: float
    after: float
    money_per_day: float | None
    assumed: bool

    @property
    def words(self) -> str:
        """The effect as a phrase."""
        money = "" if self.money_per_day is None else f" ({self.money_per_day:+.0f} a day)"
        mark = ", assumed" if self.assumed else ""
        return f"{self.label} {self.before:.5g} to {self.after:.5g} {self.unit}{money}{mark}"


@dataclass(frozen=True)
class Move:
    """One setting to be moved.

    Attributes
    ----------
    gain_alone, gain_together : float
        Money a day by itself; and what is lost when it alone is left out of all the moves.
    interval : (float, float)
        95 % of `gain_together`.
    chance : float
        That `gain_together` is above zero, 0 to 1.
    known : bool
        Whether the readings tell where the setting stands; if not, only the amount counts.
    for_limit : bool
        It earns nothing itself, and is made to keep a limit for the others; `keeps` says which.
    """

    setting: str
    label: str
    unit: str
    before: float
    after: float
    gain_alone: float
    gain_together: float
    interval: tuple[float, float]
    chance: float
    effects: tuple[Effect, ...]
    known: bool
    for_limit: bool
    cautions: tuple[str, ...]
    keeps: str = ""


@dataclass
class Advice:
    """What to change, what it is worth, how sure that is.

    Attributes
    ----------
    moves : list of Move
        The largest gain first.
    binding : list of Binding
        What holds more money back, the dearest first.
    coming : Coming or None
        The limit that comes next.
    dropped : list of (name, value)
        Moves not worth making, with what they would have brought. [money a day]
    money_before, gain : float
        A day; `gain_interval` holds 95 %, `chance_better` is that of earning more, 0 to 1.
    kept : list of (words, probability)
        Each limit with the probability with which it is kept, where draws were made.
    told : Told
        The regime that says what steam is worth.
    worths : list of Worth
        Marginal values. [money a tonne]
    lagging : list of Lagging
        Performance worse than usual, with what bringing it back is worth.
    measure : list of Candidate
        What to measure where the readings cannot support the advice.
    seconds : float
        Time in solvers; `seconds_drawing` that of the draws.
    """

    account: Account
    optimiser: Optimiser
    chosen: Chosen
    moves: list[Move]
    binding: list[Binding]
    coming: Coming | None
    dropped: list[tuple[str, float]]
    money_before: float
    gain: float
    gain_interval: tuple[float, float]
    chance_better: float
    first_order: Gain
    outcome: Outcome | None
    kept: list[tuple[str, float]]
    told: Told
    worths: list[Worth]
    assumed: list[Response]
    cautions: list[str]
    notes: list[str]
    measure: list[Candidate]
    lagging: list[Lagging]
    together: Answer
    seconds: float
    seconds_drawing: float = 0.0
    keep: float = KEEP

    @property
    def sure(self) -> bool:
        """Whether the readings support the advice."""
        return bool(self.moves) and self.chance_better >= SURE

    @property
    def chance_of_most(self) -> float:
        """Chance that at least four fifths of the gain come. 0 to 1."""
        if not self.moves:
            return 0.0
        known = self.first_order if self.outcome is None else self.outcome
        return known.chance_of(MOST * self.gain)


def effects(answer: Answer) -> list[Effect]:
    """The chain from a setting to money: performance, figures of the process, money."""
    model = answer.forecast.after.model
    found = []
    for link, before, after in answer.forecast.moved:
        variable = model.variables[link.effect]
        label = variable.label or variable.name
        found.append(Effect("performance", label, variable.unit, before, after, None, True))
    process = [row for row in answer.rows if row.headline and row.changes and row.money is None]

    def relative(row: Changed) -> float:
        size = max(abs(row.values.before), abs(row.values.after), 1e-12)
        return float(-abs(row.values.difference) / size)

    found += [_of_row("figure", row) for row in sorted(process, key=relative)[:MOVED_FIRST]]
    for row in answer.rows:
        if row.money is None or abs(row.money.difference) < WORTH_TELLING:
            continue
        found.append(_of_row("money", row))
        if sum(one.kind == "money" for one in found) == MOVED_FIRST:
            break
    return found


def _of_row(kind: str, row: Changed) -> Effect:
    values = row.values
    money = None if row.money is None else row.money.difference
    assumed = bool(values.assumed)
    return Effect(kind, row.label, row.unit, values.before, values.after, money, assumed)
