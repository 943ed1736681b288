"""The account as plain data with stable keys, for `--json` and other programs."""

from __future__ import annotations

from typing import Any

from canewright.account.account import Account
from canewright.account.lines import LedgerAccount, LedgerLine
from canewright.account.sentences import headline, why
from canewright.engine.adjusting.statistics import GlobalTest
from canewright.engine.suspects.suspects import Suspect
from canewright.figures.ledgers import UNDETERMINED
from canewright.laboratory.standing import Standing


def payload(account: Account) -> dict[str, Any]:
    """Everything of an account, with the keys that stay."""
    clean = account.estimate
    return {
        "factory": account.factory.name,
        "invented": account.factory.invented,
        "shift": {
            "name": account.shift.name,
            "start": account.shift.start.isoformat() if account.shift.start else None,
            "hours": account.hours,
        },
        "verdict": account.verdict,
        "global_test": {
            **_test(account.suspects.after),
            "explained": account.suspects.explained,
            "before": _test(account.suspects.before),
        },
        "instruments": [_instrument(known) for known in account.instruments],
        "bench": [
            {
                "reading": name,
                "method": result.method.name,
                "value": result.value,
                "unit": result.method.unit,
                "standard_uncertainty": result.uncertainty,
                "beside_the_balance": name in account.beside,
            }
            for name, result in account.bench.items()
        ],
        "remarks": [{"kind": one.kind, "words": one.words} for one in account.remarks],
        "suspects": [_suspect(finding) for finding in account.suspects.findings],
        "readings": [
            {
                "point": line.point,
                "analysis": line.analysis,
                "unit": line.unit,
                "value": line.value,
                "estimate": line.estimate,
                "interval": list(line.interval),
                "adjustment_in_sd": line.adjustment_in_sd,
                "redundancy": line.redundancy,
                "smallest_detectable_bias": line.smallest_detectable_bias,
                "set_aside": line.set_aside,
            }
            for line in account.readings
        ],
        "figures": {
            name: {
                "value": account.statements[name].value,
                "unit": figure.unit,
                "interval": list(account.statements[name].interval),
                "determined": account.statements[name].determined,
                "formula": figure.formula,
                "sources": list(figure.sources),
                "label": figure.label,
                "group": figure.group,
                "prior_share": account.statements[name].prior_share,
                "one_sided": account.statements[name].one_sided,
                "definition": figure.definition,
            }
            for name, figure in account.figures.items()
        },
        "ledgers": {name: _ledger(ledger) for name, ledger in account.ledgers.items()},
        "engine": {
            "variables": len(account.plain.solution.z),
            "equations": account.plain.reconciler.problem.constraint_count,
            "iterations": account.plain.solution.iterations,
            "seconds": clean.seconds + (0.0 if clean is account.plain else account.plain.seconds),
        },
    }


def _instrument(known: Standing) -> dict[str, Any]:
    late, verdict = known.overdue, known.verdict
    return {
        "instrument": known.instrument,
        "unit": known.unit,
        "known_from": known.origin,
        "bias": known.mean,
        "standard_uncertainty": known.sd,
        "notable": known.notable,
        "words": known.words,
        "certificate": known.certificate,
        "checks": None
        if verdict is None
        else {
            "count": len(verdict.record.values),
            "newest": verdict.record.times[-1].isoformat() if verdict.record.times else None,
            "in_control": verdict.fit,
        },
        "overdue": None
        if late is None
        else {"due": late.due.isoformat(), "days": late.days, "widening": late.widening},
    }


def _test(test: GlobalTest) -> dict[str, Any]:
    return {
        "chi_square": test.gamma,
        "degrees_of_freedom": test.degrees_of_freedom,
        "limit": test.limit,
        "passes": test.passes,
    }


def _suspect(suspect: Suspect) -> dict[str, Any]:
    points = list(dict.fromkeys(name.split()[0] for name in suspect.readings))
    analyses = list(dict.fromkeys(name.split()[1] for name in suspect.readings))
    return {
        "kind": suspect.kind,
        "point": ", ".join(points) if points else suspect.place,
        "analysis": ", ".join(analyses) if analyses else suspect.kind,
        "instrument": suspect.place if suspect.kind == "shared bias" else "",
        "unit": suspect.unit,
        "reading": suspect.reading,
        "estimate": suspect.estimate,
        "bias": suspect.bias,
        "interval": list(suspect.interval),
        "equivalent": list(suspect.equivalents),
        "next_best": suspect.next_best,
        "less_likely": suspect.less_likely,
        "summary": headline(suspect),
        "why": why(suspect),
        "cautions": list(suspect.cautions),
    }


def _ledger(ledger: LedgerAccount) -> dict[str, Any]:
    return {
        "unit": ledger.unit,
        "base": ledger.base_name,
        "covers": ledger.covers,
        "total_in": ledger.total_in,
        "total_out": ledger.total_out,
        "rows": [_line(line, "in") for line in ledger.entering]
        + [_line(line, "out") for line in ledger.leaving],
    }


def _line(line: LedgerLine, side: str) -> dict[str, Any]:
    said: dict[str, Any] = {
        "name": line.name,
        "side": side,
        "kind": line.kind,
        "value": line.amount.value,
        "interval": list(line.amount.interval),
        "percent": line.percent.value,
        "percent_interval": list(line.percent.interval),
        "determined": line.amount.determined,
        "parts": [_line(part, side) for part in line.parts],
    }
    if line.kind == UNDETERMINED:
        said["smallest_told_from_zero"] = line.told_from_zero
        said["parts_told_apart"] = line.told_apart
    return said
