"""Control figures of losses: % of sucrose in cane by place, and what is undetermined."""

from __future__ import annotations

from canewright.figures.figure import Book, slug
from canewright.figures.ledgers import UNDETERMINED
from canewright.figures.loss_and_stock_formulas import loss_percent_pol


def write_losses(book: Book) -> None:
    """Every row of the sucrose ledger that is not sugar or stock, on sucrose in cane."""
    ledger = book.ledgers.get("sucrose")
    if ledger is None:
        return
    book.group = "Losses"
    on = ledger.base_name.replace("sucrose", "of sucrose", 1)
    for row in ledger.leaving:
        if row.kind in ("product", "stock"):
            continue
        undetermined = row.kind == UNDETERMINED
        name = "undetermined_loss" if undetermined else f"loss_{slug(row.name)}"
        book.write(
            name,
            "undetermined loss" if undetermined else f"sucrose: {row.name}",
            f"% {on}",
            loss_percent_pol(row.expression, ledger.base),
            f"Sucrose of the ledger's row '{row.name}' over {ledger.base_name}.",
            formula=loss_percent_pol,
            headline=True,
        )
        if undetermined and len(row.parts) > 1:
            for part in row.parts:
                book.write(
                    f"undetermined_loss_{slug(part.name)}",
                    f"undetermined loss, {part.name}",
                    f"% {on}",
                    loss_percent_pol(part.expression, ledger.base),
                    f"Undetermined sucrose of {part.name} over {ledger.base_name}.",
                    formula=loss_percent_pol,
                    headline=True,
                )
