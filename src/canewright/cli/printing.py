"""How anything reaches the screen: tables without borders, numbers, JSON, progress.

On a terminal the width is the terminal's; elsewhere it is 80 columns unless `COLUMNS` says
otherwise. Colour and bold never carry meaning alone, and are left out when the output is
not a terminal or `NO_COLOR` is set.
"""

import json
import math
import os
import re
import sys
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Literal, Protocol

from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

WIDEST = 120
"""Columns beyond which lines are no longer easier to read."""


@dataclass(frozen=True)
class Column:
    """One column of a table: its heading, its side, whether it may wrap, and how wide it is."""

    heading: str = ""
    align: Literal["left", "right"] = "left"
    wrap: bool = False
    style: str = ""
    widest: int | None = None
    narrowest: int | None = None


def console(*, error: bool = False) -> Console:
    """Return a console for standard output, or for standard error."""
    stream = sys.stderr if error else sys.stdout
    plain = bool(os.environ.get("NO_COLOR")) or not stream.isatty()
    screen = Console(
        file=stream,
        highlight=False,
        markup=False,
        emoji=False,
        color_system=None if plain else "auto",
    )
    screen.width = min(screen.width, WIDEST)
    return screen


def emit(screen: Console, content: RenderableType) -> None:
    """Print anything rich can render, without the spaces it leaves at the ends of lines."""
    with screen.capture() as printed:
        screen.print(content)
    for line in printed.get().splitlines():
        screen.file.write(line.rstrip() + "\n")


def heading(screen: Console, text: str) -> None:
    """Print a heading line, after an empty line."""
    emit(screen, "")
    emit(screen, Text(text, style="bold"))


def paragraph(screen: Console, text: str, indent: int = 0, style: str = "") -> None:
    """Print text wrapped to the width, every line indented alike."""
    emit(screen, Padding(Text(text, style=style), (0, 0, 0, indent)))


def verbatim(screen: Console, text: str, indent: int = 0) -> None:
    """Print lines as they were written; one that is too long goes on a little further in."""
    for line in text.splitlines():
        pieces = textwrap.wrap(line, screen.width - indent, subsequent_indent="    ")
        for piece in pieces or [""]:
            emit(screen, Text(" " * indent + piece))


def table(
    screen: Console,
    columns: Sequence[Column],
    rows: Sequence[Sequence[str]],
    *,
    indent: int = 2,
) -> None:
    """Print rows under their headings, two spaces between columns and no borders.

    Only columns declared with `wrap` give way when the screen is narrow.
    """
    grid = Table(
        box=None,
        padding=(0, 2, 0, 0),
        pad_edge=False,
        show_header=any(column.heading for column in columns),
        header_style="dim",
    )
    for column in columns:
        grid.add_column(
            Text(column.heading),
            justify=column.align,
            no_wrap=not column.wrap,
            overflow="fold",
            style=column.style,
            max_width=column.widest,
            min_width=column.narrowest,
        )
    for row in rows:
        grid.add_row(*(Text(cell, overflow="fold") for cell in row))
    emit(screen, Padding(grid, (0, 0, 0, indent)))


def packed(pieces: Sequence[str], width: int, between: str = "  ", further: str = "") -> str:
    """Put pieces on lines of a width, never parting one; later lines start with `further`."""
    lines: list[str] = []
    for piece in pieces:
        if lines and len(lines[-1]) + len(between) + len(piece) <= width:
            lines[-1] += between + piece
        else:
            lines.append((further if lines else "") + piece)
    return "\n".join(lines)


def folded(name: str, width: int) -> str:
    """Break a name between the words that underscores and dots join."""
    return packed(re.findall(r"[^_.]*[_.]?", name)[:-1], width, between="", further="  ")


def number(value: float, standard_uncertainty: float | None = None, *, grouped: bool = True) -> str:
    """Write a number with the digits it deserves.

    Parameters
    ----------
    value : float
        The number.
    standard_uncertainty : float, optional
        Written so that two digits of it would show. Without it, six significant digits.
    grouped : bool
        Part thousands with a space, as the forms do; not for numbers meant to be copied.

    Returns
    -------
    str
        `"-"` for a value that is not a number.
    """
    if not math.isfinite(value):
        return "-"
    if standard_uncertainty is None or not standard_uncertainty > 0:
        return f"{value:.0f}" if 1e6 <= abs(value) < 1e15 else f"{value:.6g}"
    if not math.isfinite(standard_uncertainty):
        return "-"
    decimals = 1 - int(f"{standard_uncertainty:.1e}".split("e")[1])
    rounded = round(value, decimals)
    text = f"{rounded:{',' if grouped else ''}.{max(decimals, 0)}f}".replace(",", " ")
    return text if rounded else text.replace("-", "")


def write_json(payload: Mapping[str, Any]) -> None:
    """Print a mapping as JSON; a number that is not finite becomes null."""
    utf8 = (sys.stdout.encoding or "").lower().replace("-", "") == "utf8"
    text = json.dumps(_for_json(payload), indent=2, ensure_ascii=not utf8, allow_nan=False)
    sys.stdout.write(text + "\n")


def _for_json(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _for_json(entry) for key, entry in value.items()}
    if isinstance(value, str | bool | int) or value is None:
        return value
    if hasattr(value, "tolist"):
        return _for_json(value.tolist())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return [_for_json(entry) for entry in value]


class Step(Protocol):
    """Called as work goes on, with how many more units of it are done."""

    def __call__(self, done: int = 1) -> None:
        """Move the progress on."""


@contextmanager
def progress(label: str, total: int | None = None) -> Iterator[Step]:
    """Show progress on standard error while the work goes on, if that is a terminal.

    Parameters
    ----------
    label : str
        What is being done.
    total : int, optional
        How many steps there are; left out when that is not known.

    Yields
    ------
    Step
        To be called after each step.
    """
    if not sys.stderr.isatty():
        yield lambda done=1: None
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    counted = [MofNCompleteColumn()] if total is not None else []
    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        *counted,
        TimeElapsedColumn(),
        console=console(error=True),
        transient=True,
    )
    with bar:
        task = bar.add_task(label, total=total)
        yield lambda done=1: bar.advance(task, done)
