"""Numbers as they are printed: as many digits as their uncertainty deserves."""

from __future__ import annotations

import math
from datetime import datetime

from canewright.account.numbers import rounded
from canewright.engine.adjusting.explain import COVERAGE, Statement
from canewright.report.content import BLANK, MINUS, Moment, Number, kept
from canewright.report.words import _, dated

MOMENT = "%d %b %Y, %H:%M"
UNITS = (("degC", "°C"), ("m2", "m²"), ("m3", "m³"), ("K2", "K²"), (".", BLANK))


def _typeset(text: str) -> str:
    return text.replace(" ", BLANK).replace("-", MINUS)


def measured(value: float, sd: float) -> Number:
    """A value to two digits of its standard uncertainty."""
    if not math.isfinite(value):
        return missing(_("unknown"))
    return Number(kept(value), _typeset(rounded(value, sd)))


def half_width(sd: float) -> Number:
    """Half of a 95 % interval, to the digits of its standard uncertainty."""
    if not math.isfinite(sd):
        return missing(_("unbounded"))
    if sd <= 0:
        return missing("")
    return Number(kept(COVERAGE * sd), _typeset(rounded(COVERAGE * sd, sd)))


def fixed(value: float, decimals: int) -> Number:
    """A value to so many decimals, thousands parted."""
    if not math.isfinite(value):
        return missing(MINUS)
    text = f"{value:,.{decimals}f}".replace(",", " ")
    if not text.strip("-0. "):
        text = text.replace("-", "")
    return Number(kept(value), _typeset(text))


def signed(value: float, decimals: int) -> Number:
    """A value to so many decimals with its sign."""
    if not math.isfinite(value):
        return missing(MINUS)
    text = f"{value:+,.{decimals}f}".replace(",", " ")
    return Number(kept(value), _typeset(text if text.strip("+-0.") else text[1:]))


def written(value: float) -> Number:
    """A reading with the digits that it was written with."""
    if not math.isfinite(value):
        return missing(MINUS)
    return Number(kept(value), _typeset(f"{value:.7g}"))


def significant(value: float, digits: int = 4) -> Number:
    """A value to so many significant digits, never as a power of ten."""
    if not math.isfinite(value):
        return missing(MINUS)
    size = math.floor(math.log10(abs(value))) if value else 0
    return fixed(value, min(max(digits - 1 - size, 0), 9))


def moment(value: datetime | None) -> Moment | None:
    """A moment as it is printed; nothing where it is not known."""
    return None if value is None else Moment(value, dated(value, MOMENT))


def unit_text(unit: str) -> str:
    """A unit as it is printed: degC -> °C, kW/(m2.K) -> kW/(m² K)."""
    for written, printed in UNITS:
        unit = unit.replace(written, printed)
    return "" if unit == "1" else unit


def missing(why: str) -> Number:
    """No number, and why."""
    return Number(None, why)


def stated(known: Statement) -> tuple[Number, Number]:
    """A figure and half its 95 % interval; not determined where only the usual carries it."""
    if not known.determined:
        return missing(_("not determined")), missing("")
    value = measured(known.value, known.sd)
    if known.one_sided == "at least":
        value = Number(value.value, _("at least {value}").format(value=value.text))
    elif known.one_sided == "at most":
        value = Number(value.value, _("at most {value}").format(value=value.text))
    return value, half_width(known.sd)
