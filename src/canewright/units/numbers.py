"""Numbers as a person writes them, and the error that says what is wrong with them."""

import re
import unicodedata

_NUMBER = r"[+-]?(?:\d{1,3}(?: \d{3})+|\d+)?(?:\.\d*)?(?:[eE][+-]?\d{1,3})?"
LONGEST = 60


class UnitError(ValueError):
    """A unit that is not known, or of the wrong kind, or a quantity that cannot be read.

    `what` and `remedy` are a sentence each; `str` gives both.
    """

    def __init__(self, what: str, remedy: str = "") -> None:
        self.what, self.remedy = what, remedy
        super().__init__(f"{what} {remedy}".rstrip())


def tidy(text: str) -> str:
    """A unit's text with one kind of space, of degree sign, of multiplication dot."""
    text = unicodedata.normalize("NFKC", text.replace("º", "°").replace("˚", "°"))
    text = text.replace("⋅", ".").replace("·", ".").replace("−", "-")
    text = re.sub(r"\s+", " ", text).strip()
    return text


def read_number(text: str) -> float:
    """A number as written by a person: decimal point, spaces between thousands allowed.

    Raises
    ------
    UnitError
        If it is no number, has a comma, or is too large to hold.
    """
    shown = tidy(text)
    compact = shown if len(shown) <= LONGEST else ""
    if re.fullmatch(_NUMBER, compact) and re.search(r"\d", compact):
        value = float(compact.replace(" ", ""))
        if value in (float("inf"), float("-inf")):
            raise UnitError(f"'{shown}' is too large a number.", "Check the exponent.")
        return value
    with_point = comma_as_point(compact)
    if with_point is not None:
        raise UnitError(
            f"'{shown}' is written with a comma.",
            f"Write {with_point}, with a decimal point and no comma.",
        )
    brief = shown if len(shown) <= LONGEST else f"{shown[:LONGEST]}..."
    raise UnitError(f"'{brief}' is not a number.", "Write a number, such as 11.93.")


def comma_as_point(text: str) -> str | None:
    """The number a text with commas most likely means, written with a point; None if none.

    With both signs, the last one is the decimal sign: 1.234,5 and 1,234.5 are both 1234.5.
    """
    text = text.replace(" ", "")
    if not re.fullmatch(r"[+-]?[\d.,]*\d[\d.,]*(?:[eE][+-]?\d{1,3})?", text) or "," not in text:
        return None
    decimal = max(text.rfind(","), text.rfind("."))
    if text.count(text[decimal]) > 1:
        return re.sub(r"[.,]", "", text)
    return re.sub(r"[.,]", "", text[:decimal]) + "." + text[decimal + 1 :]
