"""The whole bench sheet of a shift in raw numbers: nothing worked out by hand."""

import csv

import numpy as np
import pytest
from scipy.optimize import brentq

from canewright.account import account_of
from canewright.account.explanation import explanation
from canewright.cli.main import main
from canewright.engine.equations.points import Points
from canewright.files.catalogue import FactoryCatalogue
from canewright.files.readings import combine_all, read_readings
from canewright.laboratory.method import methods_for
from tests.laboratory.typical import TYPICAL

LEAD = (
    "rotation", "reading", "titre", "conductivity", "absorbance", "extract_brix", "dish_and_dry",
)  # fmt: skip
"""Raw readings from which an analysis is worked back; the others are usual ones."""


def raw_sheet(rows, catalogue):
    """The rows as they would have been read at the bench, as far as a usual reading makes them."""
    known = {}
    for point, analysis, value, *_ in rows:
        known.setdefault((point, analysis), []).append(value)
    found = []
    for row in rows:
        point, analysis, value, unit, _, time, _ = row
        suited = []
        if analysis in catalogue.analyses(point) and unit in ("%", "IU", "mg/kg"):
            suited = methods_for(analysis, catalogue.stream_class(point))
        made = worked_back(suited[0], point, float(value), known) if suited else None
        if made is None:
            found.append(row)
            continue
        units = {raw.name: raw.unit for raw in suited[0].inputs}
        found += [
            [point, f"{analysis}.{name}", repr(float(read)), units[name], "", time, ""]
            for name, read in made.items()
        ]
    return found


def worked_back(method, point, value, known):
    """Raw readings that make a value; none where usual ones cannot."""
    lead = next((name for name in LEAD if any(raw.name == name for raw in method.inputs)), None)
    if lead is None:
        return None
    base, taken = dict(TYPICAL[method.name]), []
    for raw in method.inputs:
        # What the sheet takes from the sample itself; written down where that was read twice.
        of = known.get((point, raw.takes), []) if raw.takes else []
        if of:
            base[raw.name] = float(of[0])
        if len(of) == 1:
            taken.append(raw.name)
    limits = method.input(lead)
    low, high = limits.low + 1e-6, limits.high
    if lead == "dish_and_dry":
        low, high = base["dish"] + 1e-6, base["dish_and_sample"]
    with np.errstate(all="ignore"):

        def off(read):
            return float(method.result({**base, lead: read})) - value

        if off(low) * off(high) > 0:
            return None
        base[lead] = brentq(off, low, high, xtol=1e-13)
    return {name: read for name, read in base.items() if name not in taken}


@pytest.mark.slow
def test_a_shift_balances_from_raw_numbers_alone(halcyon_bend, tmp_path):
    with pytest.raises(SystemExit):
        main(["demo", "--write", str(tmp_path)])
    with (tmp_path / "readings.csv").open(encoding="utf-8") as file:
        head, *rows = csv.reader(line for line in file if not line.startswith("#"))
    catalogue = FactoryCatalogue(Points(halcyon_bend.model))
    facts = [row for row in rows if row[0] == "shift"]
    raw = raw_sheet([row for row in rows if row[0] != "shift"], catalogue)
    with (tmp_path / "bench.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([head, *facts, *raw])
    accounts = []
    for name in ("readings.csv", "bench.csv"):
        taken = read_readings(tmp_path / name, catalogue)
        readings, _ = combine_all(taken.rows, catalogue)
        accounts.append(account_of(halcyon_bend, readings, taken))
    by_result, by_raw = accounts
    # Most of the laboratory's analyses, of every class of stream.
    assert len(by_raw.bench) > 60
    classes = {catalogue.stream_class(name.split()[0]) for name in by_raw.bench}
    assert classes == {
        "cane", "juice", "bagasse", "cake", "syrup", "massecuite", "molasses", "sugar",
    }  # fmt: skip
    values = {line.name: line.value for line in by_result.readings}
    for line in by_raw.readings:
        # The table of a factor is smooth and every method is solved back: rounding only.
        assert line.value == pytest.approx(values[line.name], rel=1e-9)
    for name in ("sucrose_extraction", "boiling_house_recovery", "undetermined_loss"):
        one, other = by_result.statements[name], by_raw.statements[name]
        # Weights differ by what the bench knows of its own precision: no other finding.
        assert other.value == pytest.approx(one.value, abs=one.sd)
    assert not by_raw.suspects.findings
    inputs = explanation(by_raw, "sucrose_extraction").bench["mixed_juice pol"].determinations[0]
    assert {"rotation", "temperature"} <= set(inputs.worked.inputs)
