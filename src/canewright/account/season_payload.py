"""The season for another program: stable keys, numbers as numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from itertools import pairwise
from typing import Any

from canewright import __version__
from canewright.account.held import held_in
from canewright.account.season import SeasonAccount
from canewright.account.season_checks import late_at_the_end
from canewright.account.season_periods import CALENDAR, PeriodRow
from canewright.account.season_plan import PlanLine
from canewright.account.season_scatter import scatter_of
from canewright.engine.adjusting.explain import COVERAGE
from canewright.engine.chain.carried import BIAS_DRIFT, LEVEL_SHARE, PARAMETER_DRIFT, RELATION_DRIFT
from canewright.figures.to_date import PeriodFigure
from canewright.files.rows import ReadingRow


def _readings(rows: Sequence[ReadingRow]) -> dict[str, list[float]]:
    """What was read of each point, those that do not count left out."""
    found: dict[str, list[float]] = {}
    for row in rows:
        if not row.excluded:
            found.setdefault(f"{row.point} {row.analysis}", []).append(row.value)
    return found


def payload(account: SeasonAccount) -> dict[str, Any]:
    """Everything `canewright season` knows."""
    time, pace = account.time, account.pace
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
                "readings": _readings(account.files.shifts[r.number].rows),
            }
            for r in account.results
        ],
        "left_out": [
            {"file": item.file, "sentences": list(item.sentences)} for item in account.files.left
        ]
        + [{"file": name, "sentences": [why]} for name, why in account.skipped],
        "stock_jumps": [{**asdict(jump), "number": jump.number + 1} for jump in account.jumps],
        "held": [
            {
                "quantity": one.quantity,
                "unit": one.unit,
                "lowest": one.lowest,
                "value": one.value,
                "shifts": [number + 1 for number in one.shifts],
            }
            for one in held_in(account.chain.reconciler, account.results)
        ],
        "to_date": {f.name: _figure(f) for f in account.figures},
        "ledgers": {
            name: _rows(ledger.unit, account.ledger(name))
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
        "overdue": [
            {"instrument": late.instrument, "due": str(late.due), "days": late.days}
            for late in late_at_the_end(account.factory, account.files.starts())
        ],
        "periods": {
            kind: {
                period.name: {f.name: _figure(f) for f in figures}
                for period, figures in account.periods(kind)
            }
            for kind in CALENDAR
        },
        "period_ledgers": {
            kind: {
                standing.period.name: {
                    name: _rows(account.ledgers[name].unit, rows)
                    for name, rows in standing.ledgers.items()
                }
                for standing in account.standings(kind)
            }
            for kind in CALENDAR
        },
        "gamma_per_degree_of_freedom": account.gamma_per_degree,
        "time": None if time is None else asdict(time),
        "time_by_period": {
            kind: {
                standing.period.name: asdict(own)
                for standing in account.standings(kind)
                if (own := account.time_of(standing)) is not None
            }
            for kind in CALENDAR
        },
        "plan": {
            "to_date": [_line(line) for line in account.plan_of(account.season)],
            "by_period": {
                kind: {
                    standing.period.name: [_line(line) for line in account.plan_of(standing)]
                    for standing in account.standings(kind)
                }
                for kind in CALENDAR
            }
            if account.plan
            else {},
            "pace": None
            if pace is None
            else {
                "planned_cane": pace.planned_cane,
                "planned_end": pace.planned_end.isoformat(),
                "end": pace.end.isoformat(),
                "late_days": pace.late,
            },
        },
        "performance": [
            {**asdict(history), "moved": history.moved} for history in account.histories()
        ],
        "changes": {
            kind: [
                {
                    "from": before.period.name,
                    "to": after.period.name,
                    "before": change.before,
                    "after": change.after,
                    "contributions": change.contributions,
                }
                for before, after in pairwise(account.standings(kind))
                if (change := account.compare(before.period, after.period)) is not None
            ]
            for kind in CALENDAR
        },
        "last_season": None if account.last is None else _last_season(account.last),
        "scatter": _scatter(account),
        "assumed": {
            "level_share": LEVEL_SHARE,
            "parameter_drift": PARAMETER_DRIFT,
            "bias_drift": BIAS_DRIFT,
            "relation_drift": RELATION_DRIFT,
        },
    }


def _scatter(account: SeasonAccount) -> dict[str, Any] | None:
    found = scatter_of(account.results)
    if found is None:
        return None
    scatter, noise = found
    return {
        "of_settings_and_performance": scatter.value,
        "of_settings_and_performance_half_width_95": COVERAGE * scatter.sd,
        "of_readings": noise.value,
        "of_readings_half_width_95": COVERAGE * noise.sd,
    }


def _figure(figure: PeriodFigure) -> dict[str, Any]:
    return {
        "label": figure.label,
        "unit": figure.unit,
        "value": figure.value,
        "half_width_95": COVERAGE * figure.sd,
        "determined": figure.determined,
        "prior_share": figure.prior_share,
        "weighting": figure.rule,
    }


def _line(line: PlanLine) -> dict[str, Any]:
    return {
        "name": line.name,
        "unit": line.unit,
        "planned": line.planned,
        "actual": line.actual,
        "half_width_95": COVERAGE * line.sd,
        "difference": line.difference,
    }


def _last_season(last: SeasonAccount) -> dict[str, Any]:
    """Last season over the same days of its crop, its periods named as this season's."""
    first = last.results[0].start
    return {
        "inputs": last.files.fingerprint,
        "shifts": len(last.results),
        "began": None if first is None else first.isoformat(),
        "days_between": last.shifted.days,
        "to_date": {figure.name: _figure(figure) for figure in last.figures},
        "periods": {
            kind: {
                standing.period.name: {figure.name: _figure(figure) for figure in standing.figures}
                for standing in last.standings(kind)
            }
            for kind in CALENDAR
        },
    }


def _rows(unit: str, rows: list[PeriodRow]) -> list[dict[str, Any]]:
    return [
        {
            "side": row.side,
            "row": row.name,
            "unit": unit,
            "amount": row.amount,
            "half_width_95": COVERAGE * row.sd,
            "percent_of_base": row.share,
            "determined": row.determined,
            "prior_share": row.prior_share,
        }
        for row in rows
    ]
