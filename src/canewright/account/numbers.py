"""Numbers in sentences: as many digits as the uncertainty deserves."""

import math

from canewright.account.words import _


def rounded(value: float, sd: float) -> str:
    """A number to two digits of its standard uncertainty; four digits where there is none."""
    if not math.isfinite(value):
        return _("unknown")
    if not (math.isfinite(sd) and sd > 0):
        return f"{value:.4g}"
    decimals = max(0, 1 - math.floor(math.log10(sd)))
    text = f"{value:,.{decimals}f}".replace(",", " ")
    return text.replace("-", "") if float(text.replace(" ", "")) == 0 else text


def span(low: float, high: float, sd: float) -> str:
    """An interval in brackets: (1.4 to 2.8), smaller end first by size."""
    ends = sorted((low, high), key=abs) if low * high > 0 else [low, high]
    if low * high > 0:
        ends = [abs(end) for end in ends]
    return _("{low} to {high}").format(low=rounded(ends[0], sd), high=rounded(ends[1], sd))


def times(factor: float) -> str:
    """How many times less likely, in words."""
    if factor > 1000:
        return _("far less likely")
    if factor < 1.5:
        return _("about as likely")
    by = f"{factor:.0f}" if factor >= 3 else f"{factor:.1f}"
    return _("{factor} times less likely").format(factor=by)
