"""Advice as plain data with stable keys, for `--json` and other programs."""

from __future__ import annotations

from typing import Any

from canewright.account.advice_parts import Advice, Move
from canewright.engine.measuring.value_of_readings import Candidate


def payload(advice: Advice) -> dict[str, Any]:
    """The advice as plain data with stable keys, for `--json`."""
    return {
        "factory": advice.account.factory.name,
        "invented": advice.account.factory.invented,
        "money_before": advice.money_before,
        "gain": advice.gain,
        "gain_interval": list(advice.gain_interval),
        "chance_better": advice.chance_better,
        "chance_of_four_fifths": advice.chance_of_most,
        "supported": advice.sure,
        "moves": [_move(move) for move in advice.moves],
        "binding": [
            {
                "limit": one.words,
                "name": one.name,
                "side": one.side,
                "value": one.value,
                "unit": one.unit,
                "shadow_price": one.price,
                "kind": one.kind,
            }
            for one in advice.binding
        ],
        "next_limit": None
        if advice.coming is None
        else {
            "limit": advice.coming.limit,
            "after": None if advice.coming.eased is None else advice.coming.eased.words,
            "gain_between": advice.coming.gain,
            "further_percent": advice.coming.further,
        },
        "dropped": [{"setting": name, "value": value} for name, value in advice.dropped],
        "limits_kept": [{"limit": words, "probability": p} for words, p in advice.kept],
        "regime": advice.told.regime,
        "regime_words": advice.told.sentence,
        "worth": [{"what": one.what, "per_tonne": one.value} for one in advice.worths],
        "lagging": [
            {
                "performance": one.name,
                "unit": one.unit,
                "found": one.found,
                "usual": one.usual,
                "read": one.read,
                "gain": one.gain,
                "gain_interval": list(one.interval),
                "chance_better": one.chance,
                "remedy": one.remedy,
            }
            for one in advice.lagging
        ],
        "assumed": [response.name for response in advice.assumed],
        "measure": [candidate(one) for one in advice.measure],
        "notes": advice.notes,
        "cautions": advice.cautions,
        "seconds": advice.seconds,
        "seconds_drawing": advice.seconds_drawing,
    }


def _move(move: Move) -> dict[str, Any]:
    return {
        "setting": move.setting,
        "unit": move.unit,
        "from": move.before,
        "to": move.after,
        "gain_alone": move.gain_alone,
        "gain_together": move.gain_together,
        "gain_interval": list(move.interval),
        "chance_better": move.chance,
        "known": move.known,
        "for_a_limit": move.for_limit,
        "keeps": move.keeps,
        "effects": [
            {
                "kind": one.kind,
                "figure": one.label,
                "unit": one.unit,
                "before": one.before,
                "after": one.after,
                "money_per_day": one.money_per_day,
                "assumed": one.assumed,
                "words": one.words,
            }
            for one in move.effects
        ],
    }


def candidate(one: Candidate) -> dict[str, Any]:
    """A candidate reading as plain data."""
    return {
        "kind": one.kind,
        "point": one.point,
        "analysis": one.analysis,
        "cost_hours": one.cost_hours,
        "interval_before": list(one.interval_before),
        "interval_after": list(one.interval_after),
    }
