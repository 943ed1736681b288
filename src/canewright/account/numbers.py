"""Numbers in sentences: as many digits as the uncertainty deserves."""

import math


def rounded(value: float, sd: float) -> str:
    """A number to two digits of its standard uncertainty; four digits where there is none."""
    if not math.isfinite(value):
        return "unknown"
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
    return f"{rounded(ends[0], sd)} to {rounded(ends[1], sd)}"


def times(factor: float) -> str:
    """How many times less likely, in words."""
    if factor > 1000:
        return "far less likely"
    if factor < 1.5:
        return "about as likely"
    return f"{factor:.0f} times less likely" if factor >= 3 else f"{factor:.1f} times less likely"
