"""Stocks that jump by more than could have flowed, by the dips of one shift and the next.

A vessel gains at most what flows in and loses at most what flows out. Flows are those of the
balanced shift; between two shifts that join nothing flows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import casadi
import numpy as np

from canewright.account.words import _
from canewright.engine.adjusting.reconcile import Reconciler
from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.evaluate import Evaluator
from canewright.engine.chain.chain import JOINED
from canewright.engine.chain.chain_parts import ShiftReadings, ShiftResult
from canewright.engine.chain.setting_aside import GROSS
from canewright.engine.equations.nominal import stocks

HELD = ("mass", "volume_held")
"""Readings of what a vessel holds."""


@dataclass(frozen=True)
class StockJump:
    """A vessel whose stock jumped.

    Attributes
    ----------
    number : int
        Of the shift in which the second reading was taken.
    vessel : str
    before, after : float
        The two readings, in `unit`.
    hours : float
        Between them.
    change, could : float
        What they differ by, and what could have flowed in that time. [t]
    sentence : str
        What is wrong and what to do.
    """

    number: int
    vessel: str
    before: float
    after: float
    unit: str
    hours: float
    change: float
    could: float
    sentence: str


@dataclass(frozen=True)
class _Dip:
    """A reading of what a vessel held, with the flows of its shift [t/h]; tonnes a unit."""

    result: ShiftResult
    closing: bool
    moment: datetime | None
    value: float
    sd: float
    tonnes: float
    inflow: float
    outflow: float

    def words(self, unit: str) -> str:
        """When it was read, and what."""
        text = _("end of {shift} ({read})") if self.closing else _("start of {shift} ({read})")
        return text.format(shift=self.result.name, read=f"{self.value:.4g} {unit}")


@dataclass(frozen=True)
class _Vessel:
    """A vessel that is dipped: the channels, and where its flows stand among the values."""

    name: str
    opening: int | None
    closing: int | None
    unit: str
    first: int


class StockCheck:
    """Looks for jumps of stock in the shifts of a season.

    Parameters
    ----------
    reconciler : Reconciler
        For the channels of all shifts.
    """

    def __init__(self, reconciler: Reconciler) -> None:
        self._reconciler = reconciler
        model = reconciler.model
        place = {
            (channel.owner, channel.analysis): k for k, channel in enumerate(reconciler.channels)
        }
        placed = {station.name: station for station in model.flowsheet.placed}
        self._vessels: list[_Vessel] = []
        expressions: list[casadi.SX] = []
        for stock in stocks(model):
            for analysis in HELD:
                opening = place.get((stock.opening, analysis))
                closing = place.get((stock.closing, analysis))
                read = closing if closing is not None else opening
                if read is None:
                    continue
                outflow = placed[stock.station].connections["out"][0]
                unit = reconciler.channels[read].unit
                first = len(expressions)
                self._vessels.append(_Vessel(stock.station, opening, closing, unit, first))
                content = stock.closing if closing is not None else stock.opening
                expressions += [
                    casadi.SX(model.states[content].flow),
                    casadi.SX(reconciler.plain[read]),
                    casadi.SX(model.states[stock.feed].flow),
                    casadi.SX(model.states[outflow].flow),
                ]
        given = casadi.vertcat(model.parameters, casadi.SX.sym("unused", reconciler.sizes))
        stacked = casadi.vertcat(*expressions) if expressions else casadi.SX(0, 1)
        self._values = Evaluator(reconciler.variables, given, stacked)

    def jumps(
        self, shifts: Sequence[ShiftReadings], results: Sequence[ShiftResult]
    ) -> list[StockJump]:
        """Jumps in the order of the shifts.

        Parameters
        ----------
        shifts : sequence of ShiftReadings
            Of the season, in order.
        results : sequence of ShiftResult
            Of those that were balanced.
        """
        if not self._vessels:
            return []
        last: dict[tuple[str, str], _Dip] = {}
        found = []
        for result in results:
            shift = shifts[result.number]
            values, sd = self._reconciler.data(shift.measurements)
            parameters = self._reconciler.parameters(shift.hours, shift.measurements)
            told = self._values(result.point, parameters)[0].copy()
            for vessel in self._vessels:
                for dip in _dips(vessel, shift, result, values, sd, told):
                    key = vessel.name, vessel.unit
                    if key in last:
                        jump = _jump(vessel, last[key], dip, shift.hours)
                        if jump is not None:
                            found.append(jump)
                    last[key] = dip
        return found


def _dips(
    vessel: _Vessel,
    shift: ShiftReadings,
    result: ShiftResult,
    values: Vector,
    sd: Vector,
    told: Vector,
) -> list[_Dip]:
    """The readings of a vessel in a shift, in order of time."""
    content, held, inflow, outflow = told[vessel.first : vessel.first + 4]
    tonnes = float(content / held) if held > 0 else float("nan")
    found = []
    for place, moment in ((vessel.opening, shift.start), (vessel.closing, shift.end)):
        if place is None or not np.isfinite(sd[place]) or not np.isfinite(tonnes):
            continue
        closing = place == vessel.closing
        numbers = float(values[place]), float(sd[place]), tonnes, float(inflow), float(outflow)
        found.append(_Dip(result, closing, moment, *numbers))
    return found


def _jump(vessel: _Vessel, before: _Dip, after: _Dip, length: float) -> StockJump | None:
    """The jump from one reading to the next, if it is more than could flow."""
    hours = length if after.closing else 0.0
    if before.moment is not None and after.moment is not None:
        apart = after.moment - before.moment
        hours = 0.0 if apart <= JOINED else apart / timedelta(hours=1)
    gained = after.value > before.value
    flows = [dip.inflow if gained else dip.outflow for dip in (before, after)]
    # Within a shift its own flow; over a stretch that was not balanced the larger of both.
    flow = flows[1] if after.closing and not before.closing else max(flows)
    change, could = (after.value - before.value) * after.tonnes, max(flow, 0.0) * hours
    sd = float(np.hypot(before.sd, after.sd)) * after.tonnes
    if abs(change) - could <= GROSS * sd:
        return None
    could_flow = _("nothing can have flowed in between")
    if hours:
        could_flow = (
            _("in {hours} h at most {could} t could have flowed in")
            if gained
            else _("in {hours} h at most {could} t could have flowed out")
        ).format(hours=f"{hours:.3g}", could=f"{could:.0f}")
    text = (
        _(
            "{vessel}: by its dips it gained {change} t from the {before} to the {after}, but "
            "{could_flow}."
        )
        if gained
        else _(
            "{vessel}: by its dips it lost {change} t from the {before} to the {after}, but "
            "{could_flow}."
        )
    )
    sentence = text.format(
        vessel=vessel.name,
        change=f"{abs(change):.0f}",
        before=before.words(vessel.unit),
        after=after.words(vessel.unit),
        could_flow=could_flow,
    )
    sentence += " " + _(
        "One of the two readings is wrong, or liquor was moved by a way that the balance does not "
        "know: look at the sheet of both shifts, and dip it again."
    )
    return StockJump(
        after.result.number, vessel.name, before.value, after.value, vessel.unit, hours, change,
        could, sentence,
    )  # fmt: skip
