"""The season for another program: stable keys, numbers as numbers."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from canewright import __version__
from canewright.account.season import SeasonAccount
from canewright.engine.carried import BIAS_DRIFT, LEVEL_SHARE, PARAMETER_DRIFT, RELATION_DRIFT
from canewright.engine.explain import COVERAGE
from canewright.engine.periods import KINDS
from canewright.figures.to_date import PeriodFigure


def payload(account: SeasonAccount) -> dict[str, Any]:
    """Everything `canewright season` knows."""
    time = account.time
    return {
        "canewright": __version__,
        "factory": account.factory.name,
        "invented": account.factory.invented,
        "inputs": account.files.fingerprint,
        "shifts": [
            {
                "shift": r.number + 1,
                "name": r.name,
                "start": None if r.start is None else r.start.isoformat(),
                "hours": r.hours,
                "joined": r.joined,
                "gamma": r.gamma,
                "degrees_of_freedom": r.degrees_of_freedom,
                "file": account.files.shifts[r.number].file,
                "fingerprint": account.files.fingerprints[r.number],
                "set_aside": [asdict(item) for item in r.aside],
            }
            for r in account.results
        ],
        "left_out": [
            {"file": item.file, "sentences": list(item.sentences)} for item in account.files.left
        ]
        + [{"file": name, "sentences": [why]} for name, why in account.skipped],
        "to_date": {f.name: _figure(f) for f in account.figures},
        "ledgers": {
            name: [
                {
                    "side": side,
                    "row": row,
                    "unit": ledger.unit,
                    "amount": amount,
                    "half_width_95": COVERAGE * sd,
                    "percent_of_base": share,
                }
                for side, row, amount, sd, share in account.ledger(name)
            ]
            for name, ledger in account.ledgers.items()
        },
        "undetermined_to_date": [
            {
                "shift": point.number + 1,
                "value": point.value,
                "half_width_95": COVERAGE * point.sd,
                "half_width_95_if_independent": COVERAGE * point.independent_sd,
            }
            for point in account.undetermined
        ],
        "floor": [
            {"instrument": f.instrument, "share_of_variance": f.share} for f in account.floor()[:10]
        ],
        "calls": [asdict(call) for call in account.calls],
        "periods": {
            kind: {
                period.name: {f.name: _figure(f) for f in figures}
                for period, figures in account.periods(kind)
            }
            for kind in KINDS[:-1]
        },
        "gamma_per_degree_of_freedom": account.gamma_per_degree,
        "time": None if time is None else asdict(time),
        "assumed": {
            "level_share": LEVEL_SHARE,
            "parameter_drift": PARAMETER_DRIFT,
            "bias_drift": BIAS_DRIFT,
            "relation_drift": RELATION_DRIFT,
        },
    }


def _figure(figure: PeriodFigure) -> dict[str, Any]:
    return {
        "label": figure.label,
        "unit": figure.unit,
        "value": figure.value,
        "half_width_95": COVERAGE * figure.sd,
        "weighting": figure.rule,
    }
