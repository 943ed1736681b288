"""What next: the settings that earn most, with what they rest on, from a balanced shift.

From a notebook:

    from canewright.account import balance
    from canewright.account.advice import Adviser
    advice = Adviser(balance("factory.toml", "readings.csv")).advise()
    advice.gain, advice.gain_interval, [move.setting for move in advice.moves]
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy import special

from canewright.account.account import Account
from canewright.account.advice_parts import KEEP, SURE, Advice, Move, effects
from canewright.account.cautions import sentences_of
from canewright.account.whatif import WhatIf
from canewright.engine.adjusting.explain import information_from_priors
from canewright.engine.adjusting.posterior import DETERMINED_UP_TO
from canewright.engine.advising.advise import LEAST, Chosen, Optimiser
from canewright.engine.advising.binding import binding as binding_of
from canewright.engine.advising.binding import next_binding
from canewright.engine.advising.chances import Chances, Outcome
from canewright.engine.advising.gain import Gain, gains_of
from canewright.engine.advising.lagging import lagging
from canewright.engine.advising.marginal import Worth, component_worth, regime
from canewright.engine.equations.model import Model
from canewright.engine.equations.settled import Stocks
from canewright.engine.measuring.value_of_readings import Candidate, Measuring
from canewright.figures.figure import Book
from canewright.figures.ledgers import products
from canewright.figures.money import earnings, unknown_prices
from canewright.files.problems import known_names

DRAWS = 200
LAGGING_FIRST = 6
"""Quantities of performance told that are worse than usual."""


class PriceMissing(ValueError):
    """Something that is sold or bought has no price; the text has a sentence for each."""


def require_prices(model: Model) -> None:
    """Refuse a factory in which something sold or bought has no price.

    Raises
    ------
    PriceMissing
        With a sentence for each.
    """
    book = earnings(model)
    sentences = [
        f"{row.label} has no price, and advice would take it as worth nothing. Write "
        f"{row.name} = ... under [prices] of the factory file; 0 if that is what it is worth."
        for row in book.missing
    ]
    if not book.priced:
        sentences = [
            "The factory file has no prices, so nothing can be called better. Write [prices] "
            f"with {', '.join(row.name for row in book.rows)}."
        ]
    sentences += [
        f"[prices] has '{name}', which is nothing that this factory sells or buys. "
        + known_names(name, [row.name for row in book.rows], "prices")
        for name in unknown_prices(model)
    ]
    if sentences:
        raise PriceMissing("\n".join(sentences))


def money_of(model: Model, relations: Mapping[str, Any]) -> Any:
    """Money a day, of the model's symbols."""
    return earnings(model, relations=relations).total


@dataclass
class Adviser:
    """Advice from a balanced shift.

    Parameters
    ----------
    account : Account
    stocks, assumed
        See `Forecaster`.
    reach : float, optional
        Moves accepted in a shift. [% of a setting's typical range]
    accepted : mapping, optional
        Setting -> move accepted in a shift, in its unit.

    Raises
    ------
    PriceMissing, LimitRefused
        If the factory file does not say what is needed.
    """

    account: Account
    stocks: Stocks = "settled"
    assumed: bool = True
    reach: float | None = None
    accepted: Mapping[str, float] | None = None
    optimiser: Optimiser = field(init=False)

    def __post_init__(self) -> None:
        estimate = self.account.estimate
        require_prices(estimate.model)
        self.optimiser = Optimiser(
            estimate,
            money_of,
            products(estimate.model),
            stocks=self.stocks,
            assumed=self.assumed,
            reach=self.reach,
            accepted=self.accepted,
        )

    def advise(
        self, draws: int = DRAWS, keep: float = KEEP, least: float | None = None, seed: int = 1
    ) -> Advice:
        """The settings that earn most, and how sure that is.

        Parameters
        ----------
        draws : int
            From the posterior; 0 for none, and then limits are kept by the estimate only.
        keep : float
            Probability with which each limit is kept, 0.5 to 1.
        least : float, optional
            Money a day below which a move is not worth making.
        seed : int
            Of the draws.

        Raises
        ------
        LimitsConflict
            If the limits contradict each other.
        """
        optimiser = self.optimiser
        begun = time.perf_counter()
        chosen = optimiser.choose(least=least)
        solving = time.perf_counter() - begun
        outcome, kept = None, []
        begun = time.perf_counter()
        if draws and chosen.moved:
            chances = Chances(optimiser, draws, seed)
            chosen, outcome = self._backed_off(chances, chosen, keep, least)
            sizes = np.array([bound.scale for bound in optimiser.bounds])
            shares = outcome.kept(sizes) if optimiser.bounds else np.zeros(0)
            kept = [
                (bound.words, float(share))
                for bound, share in zip(optimiser.bounds, shares, strict=True)
            ]
        drawing = time.perf_counter() - begun
        return self._advice(chosen, outcome, kept, (solving, drawing), keep)

    def _backed_off(
        self, chances: Chances, chosen: Chosen, keep: float, least: float | None
    ) -> tuple[Chosen, Outcome]:
        """Advice that stays so far inside its limits that each is kept with the probability.

        How far is the spread of the limited quantity times the normal quantile; the draws then
        say how often it is kept, and correct that once.
        """
        optimiser = self.optimiser
        outcome = chances.outcome(chosen.best.settings)
        if not optimiser.bounds:
            return chosen, outcome
        sizes = np.array([bound.scale for bound in optimiser.bounds])
        signs = np.array([bound.sign for bound in optimiser.bounds])
        room = np.zeros(len(signs))
        for attempt in range(2):
            short = outcome.kept(sizes) < keep
            if not short.any():
                break
            if attempt == 0:
                more = float(special.ndtri(keep)) * outcome.excess.std(axis=0)
            else:
                more = np.maximum(np.quantile(outcome.excess, keep, axis=0), 0.0)
            room = room + np.where(short, more, 0.0)
            given = type(optimiser.given)(
                **{**vars(optimiser.given), "limits": optimiser.given.limits - signs * room}
            )
            chosen = optimiser.choose(given, least, may_pass=room)
            outcome = chances.outcome(chosen.best.settings)
        return chosen, outcome

    # -- telling it ---------------------------------------------------------------------------

    def _advice(
        self,
        chosen: Chosen,
        outcome: Outcome | None,
        kept: list[tuple[str, float]],
        seconds: tuple[float, float],
        keep: float,
    ) -> Advice:
        optimiser = self.optimiser
        settings, found = chosen.best.settings, optimiser.settings_found
        pairs = [(settings, found)] + [
            (settings, optimiser.with_moves(settings, [j for j in chosen.moved if j != k]))
            for k in chosen.moved
        ]
        gains = gains_of(optimiser, [after for after, _ in pairs], [less for _, less in pairs])
        question = WhatIf(self.account, stocks=self.stocks, assumed=self.assumed, draws=0)
        together = question.ask(self._typed(settings, chosen.moved), intervals=False)
        moves = self._moves(chosen, gains[1:], question)
        binding = binding_of(optimiser, chosen)
        whole = gains[0]
        interval = whole.interval if outcome is None else outcome.interval
        chance = whole.chance if outcome is None else outcome.chance_better
        sure = bool(moves) and chance >= SURE
        behind = lagging(optimiser, LEAST / 100 * max(whole.value, 0.0))[:LAGGING_FIRST]
        return Advice(
            account=self.account,
            optimiser=optimiser,
            chosen=chosen,
            moves=moves,
            binding=binding,
            coming=next_binding(optimiser, chosen),
            dropped=[(optimiser.settings[k].name, value) for k, value in chosen.dropped],
            money_before=optimiser.money_found,
            gain=whole.value if outcome is None else outcome.gain,
            gain_interval=interval,
            chance_better=chance if moves else 0.0,
            first_order=whole,
            outcome=outcome,
            kept=kept,
            told=regime(optimiser.model, optimiser.found.values, binding),
            worths=self.worths(chosen),
            assumed=list(dict.fromkeys([*optimiser.program.responses]))
            if together.forecast.moved
            else [],
            cautions=sentences_of(
                list(
                    dict.fromkeys(
                        key
                        for cautions in (
                            *(move.cautions for move in moves),
                            *(one.cautions for one in behind),
                        )
                        for key in cautions
                    )
                )
            ),
            notes=self._notes(chosen, whole, outcome, sure),
            lagging=behind,
            measure=[] if sure or not moves else self._to_measure(whole),
            together=together,
            seconds=seconds[0],
            seconds_drawing=seconds[1],
            keep=keep,
        )

    def _typed(self, settings: np.ndarray, moved: list[int]) -> list[str]:
        found = self.optimiser.settings_found
        return [f"{self.optimiser.settings[k].name}={settings[k] - found[k]:+.15g}" for k in moved]

    def _moves(self, chosen: Chosen, gains: list[Gain], question: WhatIf) -> list[Move]:
        optimiser = self.optimiser
        known = self._known()
        cautions = {p.name: tuple(p.cls.cautions) for p in optimiser.model.flowsheet.placed}
        found = []
        for (k, alone, together), gain in zip(optimiser.gains(chosen), gains, strict=True):
            one = optimiser.settings[k]
            answer = question.ask(self._typed(chosen.best.settings, [k]), intervals=False)
            found.append(
                Move(
                    one.name,
                    one.label,
                    one.unit,
                    float(optimiser.settings_found[k]),
                    float(chosen.best.settings[k]),
                    alone,
                    together,
                    gain.interval,
                    gain.chance,
                    tuple(effects(answer)),
                    bool(known[k]),
                    together <= 0,
                    cautions.get(one.name.rpartition(".")[0], ()),
                    self._keeps(chosen, k) if together <= 0 else "",
                )
            )
        return sorted(found, key=lambda move: -move.gain_together)

    def _keeps(self, chosen: Chosen, k: int) -> str:
        """The limit that would be passed furthest, for its size, without one of the moves."""
        optimiser, given = self.optimiser, chosen.given or self.optimiser.given
        rest = optimiser.with_moves(chosen.best.settings, [j for j in chosen.moved if j != k])
        signs = np.array([bound.sign / bound.scale for bound in optimiser.bounds])
        with_it, without = (
            signs * (optimiser.program.limit_values(values, given) - given.limits)
            for values in (chosen.best.values, optimiser.state(rest).values)
        )
        more = np.where(without > 0, without - np.maximum(with_it, 0.0), 0.0)
        more[list(given.absent)] = 0.0
        most = int(np.argmax(more)) if more.size else 0
        return optimiser.bounds[most].words if more.size and more[most] > 0 else ""

    def _known(self) -> np.ndarray:
        """Of each movable setting, whether the readings tell where it stands."""
        optimiser = self.optimiser
        estimate = optimiser.estimate
        directions = np.zeros((len(optimiser.settings), estimate.reconciler.problem.size))
        for k, one in enumerate(optimiser.settings):
            directions[k, one.place] = 1.0
        variances = estimate.posterior.variances(directions)
        share = information_from_priors(estimate, directions, variances)
        return np.asarray(share <= DETERMINED_UP_TO)

    def _notes(self, chosen: Chosen, gain: Gain, outcome: Outcome | None, sure: bool) -> list[str]:
        if not chosen.moved:
            return ["Nothing is worth moving: the settings are where they earn most."]
        notes = []
        if not sure:
            notes.append(
                "The readings do not support this advice: doing nothing may well be better. "
                "Do not act on it before more is known."
            )
        if gain.sd > 0 and gain.assumed**2 > DETERMINED_UP_TO * gain.sd**2:
            notes.append(
                "Most of what is unsure in the gain comes from assumed responses. Readings of one "
                "shift cannot narrow those; a trial can: move one setting, keep the others, and "
                "compare the balances before and after."
            )
        if outcome is not None and outcome.failed:
            what = "1 draw makes" if outcome.failed == 1 else f"{outcome.failed} draws make"
            notes.append(f"{what} a factory that cannot run: not counted.")
        return notes

    def _to_measure(self, gain: Gain) -> list[Candidate]:
        measuring = Measuring(self.account.estimate)
        return measuring.ranked(gain.value, gain.direction, gain.assumed)[:5]

    def worths(self, chosen: Chosen) -> list[Worth]:
        """Marginal values: sucrose won back, and steam. [money a tonne]."""
        optimiser, best, given = self.optimiser, chosen.best, chosen.given
        model = optimiser.model
        book = Book(model, {}, {})
        juice = _name(book, "mixed_juice")
        worth: list[Worth] = []
        in_juice = (
            None if juice is None else component_worth(optimiser, best, juice, "sucrose", given)
        )
        for part, words in (
            ("bagasse", "won back from bagasse into juice"),
            ("filter_cake", "won back from filter cake into juice"),
            ("final_molasses", "kept out of final molasses, in juice"),
        ):
            stream = _name(book, part)
            if stream is None or in_juice is None:
                continue
            there = component_worth(optimiser, best, stream, "sucrose", given)
            if there is not None:
                worth.append(
                    Worth(f"sucrose in {stream}", in_juice - there, f"a tonne of sucrose {words}")
                )
        for main in model.flowsheet.mains:
            if main.kind.name in ("steam", "vapour") and any(
                placed.cls.kind in ("turbine", "boiler", "desuperheater", "let_down")
                and set(main.feeds) & {s for own in placed.connections.values() for s in own}
                for placed in model.flowsheet.placed
            ):
                value = component_worth(optimiser, best, main.feeds[0], "water", given)
                if value is not None:
                    worth.append(
                        Worth(f"steam in {main.name}", value, f"a tonne of steam in {main.name}")
                    )
        return worth


def _name(book: Book, part: str) -> str | None:
    state = book.stream(part)
    return state.name if state is not None and state.name in book.model.states else None
