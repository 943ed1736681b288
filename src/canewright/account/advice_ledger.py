"""The ledger of advice: what was advised with its forecast, and what then came of it."""

from __future__ import annotations

import datetime
import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from canewright.account.account import Account
from canewright.account.advice import Adviser
from canewright.account.advice_parts import Advice
from canewright.engine.adjusting.explain import COVERAGE
from canewright.engine.advising.contributions import Contributions, Given, contributions
from canewright.engine.advising.movable import rules
from canewright.files.writing import write_whole

FORMAT = 1
CAME = 0.8
"""Part of the forecast from which the gain is said to have come; our choice."""
MADE = 0.5
"""Part of a move from which it is said to have been made; our choice."""
FIRST = 8


class LedgerRefused(ValueError):
    """The file is no ledger of advice, or has nothing for this factory; one sentence."""


@dataclass(frozen=True)
class MoveReview:
    """One advised move, a shift later.

    `forecast` is what it was to earn, `earned` what its change brought, with the performance
    that answers it where the move was made. [money a day] `known` says whether the readings
    tell where the setting stands.
    """

    setting: str
    label: str
    unit: str
    before: float
    advised: float
    found: float
    forecast: float
    earned: float
    known: bool = True

    @property
    def made(self) -> bool:
        """Whether it was made, at least in half, as far as the readings tell."""
        wanted = self.advised - self.before
        return self.known and wanted != 0 and (self.found - self.before) / wanted >= MADE

    @property
    def left(self) -> bool:
        """Whether the readings tell that it was not made."""
        return self.known and not self.made


@dataclass(frozen=True)
class Review:
    """Whether the gain came.

    Attributes
    ----------
    forecast : float
        Gain advised. [money a day]
    forecast_interval : (float, float)
    earned, earned_sd : float
        What the moves brought, and the performance that answers them; those that the readings
        say were not made are left out.
    change : float
        Change of all money from that shift to this one.
    moves : list of MoveReview
    groups : list of (words, money)
        The whole change by causes, advised moves included; they add up to it.
    largest : list of (name, before, after, money)
        What else moved money most.
    sentences : list of str
    """

    forecast: float
    forecast_interval: tuple[float, float]
    earned: float
    earned_sd: float
    change: float
    moves: list[MoveReview]
    groups: list[tuple[str, float]]
    largest: list[tuple[str, float, float, float]]
    sentences: list[str]


def read_ledger(path: Path) -> dict[str, Any]:
    """A ledger; an empty one where there is no file.

    Raises
    ------
    LedgerRefused
        If the file is something else.
    """
    if not path.exists():
        return {"ledger_of_advice": FORMAT, "entries": []}
    try:
        found = json.loads(path.read_text("utf8"))
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise LedgerRefused(
            f"{path} is no ledger of advice: {error}. Name another file."
        ) from error
    if not isinstance(found, dict) or found.get("ledger_of_advice") != FORMAT:
        raise LedgerRefused(f"{path} is no ledger of advice. Name another file.")
    return found


def _write(path: Path, ledger: dict[str, Any]) -> None:
    """Write beside and put in place, so that a full disk leaves the old file."""
    text = json.dumps(ledger, indent=1, ensure_ascii=False)
    write_whole(path, f"{text}\n".encode())


def keep(path: Path, advice: Advice, now: datetime.datetime | None = None) -> int:
    """Append an advice with its forecast; returns how many the ledger has."""
    ledger = read_ledger(path)
    shift = advice.account.shift
    ledger["entries"].append(
        {
            "made": (now or datetime.datetime.now()).isoformat(timespec="seconds"),
            "factory": advice.account.factory.name,
            "shift": shift.start.isoformat() if shift.start else shift.name,
            "money_before": advice.money_before,
            "gain": advice.gain,
            "gain_interval": list(advice.gain_interval),
            "chance_better": advice.chance_better,
            "moves": [
                {
                    "setting": move.setting,
                    "unit": move.unit,
                    "from": move.before,
                    "to": move.after,
                    "gain_together": move.gain_together,
                    "known": move.known,
                }
                for move in advice.moves
            ],
            "answers": sorted(
                {
                    advice.optimiser.model.variables[link.effect].name
                    for link, _, _ in advice.together.forecast.moved
                }
            ),
            "figures": {
                row.name: {"before": row.values.before, "after": row.values.after}
                for row in advice.together.rows
                if row.headline or row.money is not None
            },
            "state": asdict(Given.of(advice.optimiser)),
        }
    )
    _write(path, ledger)
    return len(ledger["entries"])


def review(path: Path, account: Account) -> Review:
    """What came of the last advice for this factory, by the balance of a later shift.

    The review is written into the ledger, beside the advice.

    Raises
    ------
    LedgerRefused
        If the ledger has no advice for this factory.
    """
    if not path.exists():
        raise LedgerRefused(f"{path}: there is no such ledger. Keep an advice first, with --keep.")
    ledger = read_ledger(path)
    own = [entry for entry in ledger["entries"] if entry["factory"] == account.factory.name]
    if not own:
        raise LedgerRefused(f"{path} has no advice for {account.factory.name}.")
    entry = own[-1]
    start = account.shift.start.isoformat() if account.shift.start else account.shift.name
    if start and start == entry["shift"]:
        raise LedgerRefused(
            f"The readings are of the shift that the advice was made from ({start}). Give those "
            "of a later one."
        )
    adviser = Adviser(account)
    found = contributions(adviser.optimiser, Given(**entry["state"]))
    result = _review(adviser, entry, found)
    entry["review"] = {
        "shift": start,
        "earned": result.earned,
        "earned_sd": result.earned_sd,
        "change": result.change,
        "groups": [list(group) for group in result.groups],
        "sentences": result.sentences,
    }
    _write(path, ledger)
    return result


def _review(adviser: Adviser, entry: dict[str, Any], found: Contributions) -> Review:
    optimiser = adviser.optimiser
    model = optimiser.model
    settings = {
        model.variables[model.position(move["setting"])].name: move for move in entry["moves"]
    }
    answers = {name for name in entry["answers"] if name in found.by_held}
    linked: dict[str, list[str]] = {name: [] for name in settings}
    for link in optimiser.case.links:
        cause, effect = model.variables[link.cause].name, model.variables[link.effect].name
        if cause in linked and effect in answers:
            linked[cause].append(effect)
    shared = [effect for effects in linked.values() for effect in effects]
    moves, advised = [], set()
    for name, move in settings.items():
        before, now = found.changes[name]
        one = MoveReview(
            move["setting"],
            model.variables[model.position(name)].label or name,
            move["unit"],
            move["from"],
            move["to"],
            move["from"] + now - before,
            move["gain_together"],
            found.by_held[name],
            move.get("known", True),
        )
        if not one.left:
            through = sum(found.by_held[e] / shared.count(e) for e in linked[name])
            one = replace(one, earned=one.earned + through)
            advised |= {name, *linked[name]}
        moves.append(one)
    earned = sum(found.by_held[name] for name in advised)
    groups, others = _groups(adviser, found, advised)
    change = found.after - found.before
    sd = _spread(optimiser, found, sorted(advised))
    forecast = float(entry["gain"])
    return Review(
        forecast,
        (float(entry["gain_interval"][0]), float(entry["gain_interval"][1])),
        earned,
        sd,
        change,
        moves,
        [("the moves made, and what answers them", earned), *groups],
        others,
        _sentences(forecast, earned, sd, change, moves, groups),
    )


def _groups(
    adviser: Adviser, found: Contributions, advised: set[str]
) -> tuple[list[tuple[str, float]], list[tuple[str, float, float, float]]]:
    model = adviser.optimiser.model
    kinds = {placed.name: placed.cls.kind for placed in model.flowsheet.placed}
    sums = {
        "cane, juice and weather": 0.0,
        "other settings": 0.0,
        "performance": 0.0,
        "undetermined losses": 0.0,
    }
    rest = []
    for name, money in found.by_held.items():
        if name in advised:
            continue
        variable = model.variables[model.position(name)]
        station, _, quantity = name.rpartition(".")
        rule = rules().get(f"{kinds.get(station, '')}.{quantity}")
        if quantity == "undetermined":
            group = "undetermined losses"
        elif variable.role == "fitted":
            group = "performance"
        elif rule is not None and rule.moved == "no":
            group = "cane, juice and weather"
        else:
            group = "other settings"
        sums[group] += money
        rest.append((variable.label or name, *found.changes[name], money))
    rest.sort(key=lambda one: -abs(one[3]))
    groups = [
        *sums.items(),
        ("gains of stocks", sum(found.by_stock.values())),
        ("what is left: relations, hours, losses allowed for", found.rest),
    ]
    return groups, rest[:FIRST]


def _spread(optimiser: Any, found: Contributions, names: list[str]) -> float:
    """Standard uncertainty of what the moves brought, the earlier shift being as sure as this."""
    direction = np.zeros(optimiser.estimate.reconciler.problem.size)
    for name in names:
        direction[optimiser.model.position(name)] = found.slopes[name]
    variance = float(optimiser.estimate.posterior.variances(direction[None, :])[0])
    return float(np.sqrt(2 * variance))


def _sentences(
    forecast: float,
    earned: float,
    sd: float,
    change: float,
    moves: list[MoveReview],
    groups: list[tuple[str, float]],
) -> list[str]:
    low, high = earned - COVERAGE * sd, earned + COVERAGE * sd
    left = [move for move in moves if move.left]
    unknown = [move for move in moves if not move.known]
    made = len(moves) - len(left) - len(unknown)
    count = f"{made} of {len(moves)}" if made else f"None of the {len(moves)}"
    said = [f"{count} moves {'were' if made != 1 else 'was'} made, as far as the readings tell."]
    if unknown:
        said.append(
            f"Of {len(unknown)} they do not tell: {'; '.join(move.label for move in unknown)}."
        )
    if not made and not unknown:
        said.append(f"So the {_money(forecast)} a day that was forecast could not come.")
    else:
        wanted = forecast - sum(move.forecast for move in left)
        said.append(
            f"{'They were' if not left else 'These were'} to earn {_money(wanted)} a day; they "
            f"brought {_money(earned)} ({_money(low)} to {_money(high)}, 95 %)."
        )
        if low >= CAME * wanted:
            said.append("The gain came.")
        elif high >= CAME * wanted:
            said.append(
                "It may have come: one shift cannot tell it from other changes. Later shifts will."
            )
        else:
            said.append("The gain did not come.")
    if left:
        said.append(
            f"Not made, or less than half ({_money(sum(move.forecast for move in left))} of the "
            f"forecast): {'; '.join(move.label for move in left)}."
        )
    heaviest = max(groups, key=lambda one: abs(one[1]))
    said.append(
        f"All money changed by {_money(change)} a day; beside the moves most by {heaviest[0]} "
        f"({_money(heaviest[1])})."
    )
    return said


def _money(amount: float) -> str:
    return f"{amount:,.0f}".replace(",", " ")


def payload(found: Review) -> dict[str, Any]:
    """A review as plain data."""
    return {
        "forecast": found.forecast,
        "forecast_interval": list(found.forecast_interval),
        "earned": found.earned,
        "earned_interval": [
            found.earned - COVERAGE * found.earned_sd,
            found.earned + COVERAGE * found.earned_sd,
        ],
        "change": found.change,
        "moves": [
            {**asdict(move), "made": move.made, "not_made": move.left} for move in found.moves
        ],
        "groups": [{"cause": words, "money_per_day": money} for words, money in found.groups],
        "largest": [
            {"what": name, "before": before, "after": after, "money_per_day": money}
            for name, before, after, money in found.largest
        ],
        "sentences": found.sentences,
    }
