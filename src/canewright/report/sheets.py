"""The reports on one shift: shift report, mass balance, laboratory sheet."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from canewright.account import Account
from canewright.report import parts
from canewright.report.citations import Citations
from canewright.report.content import Block, Input, Letterhead, Report, Section
from canewright.report.laboratory_sheet import laboratory_sections
from canewright.report.mass_balance import stock_table, stream_table
from canewright.report.pictures.brix_curve import brix_curve
from canewright.report.pictures.flow import flow_picture
from canewright.report.same_again import made_with
from canewright.report.standing import standing_words
from canewright.report.words import _

SHIFT_KINDS = ("shift", "balance", "laboratory")
LEDGERS = ("sucrose", "solids", "fibre", "water", "steam", "heating")


def shift_report(
    kind: str, account: Account, inputs: tuple[Input, ...], letterhead: Letterhead
) -> Report:
    """The report of a kind on a shift that is balanced."""
    cited = Citations()
    title, sections = _KINDS[kind](account, cited)
    return Report(
        kind=kind,
        title=title,
        factory=account.factory.name,
        invented=account.factory.invented,
        facts=parts.facts(account),
        sections=tuple(sections),
        definitions=tuple(cited.definitions),
        sources=cited.sources,
        cautions=parts.cautions(account),
        inputs=inputs,
        made_with=made_with(),
        words=standing_words(),
        letterhead=letterhead,
        dated=account.shift.start,
    )


def _shift(account: Account, cited: Citations) -> tuple[str, list[Section]]:
    figures: list[Block] = [parts.figures_table(account, account.shown, cited)]
    sections = [Section(_("Finding"), tuple(parts.verdict(account)))]
    if "sucrose" in account.ledgers:
        ledger = parts.ledger_table(account.ledgers["sucrose"], parts=False)
        sections.append(Section("", (ledger,)))
    sections.append(Section("", tuple(figures)))
    hints = parts.helped(account, account.shown)
    if hints:
        sections.append(Section(_("What would settle what is not determined"), tuple(hints)))
    shown = parts.notable(account.readings)
    title = _("Readings furthest from their neighbours ({shown} of {all})").format(
        shown=len(shown), all=len(account.readings)
    )
    readings = parts.readings_table(account, shown, title, by_point=False)
    sections.append(Section("", (readings, parts.unchecked(account))))
    pictures = [brix_curve(account), flow_picture(account)]
    sections.append(Section("", tuple(picture for picture in pictures if picture is not None)))
    return _("Shift report"), sections


def _balance(account: Account, cited: Citations) -> tuple[str, list[Section]]:
    sections = [Section(_("Finding"), tuple(parts.verdict(account)))]
    for name in LEDGERS:
        if name in account.ledgers:
            ledger = parts.ledger_table(account.ledgers[name], parts=True)
            sections.append(Section("", (ledger,)))
    stocks = stock_table(account)
    sections.append(Section("", (stream_table(account), stocks)))
    losses = [name for name in account.shown if account.figures[name].group == "Losses"]
    sections.append(Section("", (parts.figures_table(account, losses, cited),)))
    picture = flow_picture(account)
    if picture is not None:
        sections.append(Section("", (picture,)))
    return _("Mass balance"), sections


def _laboratory(account: Account, cited: Citations) -> tuple[str, list[Section]]:
    del cited  # no figure is reduced on this sheet
    return _("Laboratory sheet"), laboratory_sections(account)


_KINDS: Mapping[str, Callable[[Account, Citations], tuple[str, list[Section]]]] = {
    "shift": _shift,
    "balance": _balance,
    "laboratory": _laboratory,
}
