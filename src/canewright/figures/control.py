"""The control figures of a factory: everything a chemist reports that its equations give."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from canewright.figures.boiling_house_figures import write_boiling_house
from canewright.figures.figure import Book, Figure, relation_values
from canewright.figures.ledger import Ledger
from canewright.figures.ledgers import ledgers
from canewright.figures.loss_figures import write_losses
from canewright.figures.milling_figures import write_milling
from canewright.figures.process_figures import write_process
from canewright.figures.sugar_figures import write_sugar
from canewright.ops import Numeric

if TYPE_CHECKING:
    from canewright.engine.equations.model import Model


def control_figures(
    model: Model,
    relations: Mapping[str, Numeric] | None = None,
    factory_ledgers: Mapping[str, Ledger] | None = None,
) -> dict[str, Figure]:
    """Every control figure whose parts the factory has, by name, in the order of the process.

    Parameters
    ----------
    model : Model
        The compiled factory.
    relations : mapping, optional
        Symbols of the relations between state and pol, as in a reconciliation; their usual
        values when left out.
    factory_ledgers : mapping, optional
        The factory's ledgers, if they have been made already.
    """
    found = ledgers(model) if factory_ledgers is None else factory_ledgers
    book = Book(model, relations or relation_values(), found)
    write_milling(book)
    write_boiling_house(book)
    write_losses(book)
    write_sugar(book)
    write_process(book)
    return book.figures
