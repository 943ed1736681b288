"""Control figures of sugar made: tonnes, quality, colour."""

from __future__ import annotations

from itertools import pairwise

from canewright.figures import loss_and_stock_formulas as made
from canewright.figures import sugar_formulas
from canewright.figures.boiling_house_figures import all_sugar
from canewright.figures.figure import Book, slug, together
from canewright.figures.ledgers import products
from canewright.streams import State


def write_sugar(book: Book) -> None:
    """Each product, all sugar together, and the removal of colour."""
    book.group = "Sugar"
    cane = book.stream("cane")
    for product, streams in products(book.model).items():
        sugar = together(product, [book.model.states[name] for name in streams])
        _product(book, product, sugar, cane)
    whole = all_sugar(book)
    if whole is not None:
        book.write(
            "sugar_tonnes",
            "all sugar",
            "t",
            book.hours * whole.flow,
            "All sugar of every product that left over the period.",
            headline=len(products(book.model)) > 1,
        )
    if whole is not None and cane is not None:
        book.write(
            "sugar_percent_cane",
            "sugar made",
            "% cane",
            made.sugar_percent_cane(whole.flow, cane.flow),
            "All sugar that left over cane.",
            formula=made.sugar_percent_cane,
            headline=True,
        )
        book.write(
            "cane_per_sugar",
            "cane per sugar",
            "t/t",
            made.cane_per_sugar(cane.flow, whole.flow),
            "Cane over all sugar that left.",
            formula=made.cane_per_sugar,
        )
    _colour(book)


def _product(book: Book, product: str, sugar: State, cane: State | None) -> None:
    key = slug(product)
    book.write(
        f"{key}_tonnes",
        product,
        "t",
        book.hours * sugar.flow,
        f"All {product} that left over the period.",
        headline=True,
    )
    if cane is not None:
        book.write(
            f"{key}_percent_cane",
            product,
            "% cane",
            made.sugar_percent_cane(sugar.flow, cane.flow),
            f"All {product} that left over cane.",
            formula=made.sugar_percent_cane,
        )
    pol, moisture = book.pol(sugar), 100 * sugar.water / sugar.flow
    book.write(f"pol_of_{key}", f"pol of {product}", "%", pol, "What a polarimeter would read.")
    book.write(f"moisture_of_{key}", f"moisture of {product}", "%", moisture, "Water over sugar.")
    for name, label, formula, unit in (
        (
            "equivalent_standard_granulated",
            "equivalent standard granulated",
            sugar_formulas.equivalent_standard_granulated,
            "%",
        ),
        ("safety_factor", "safety factor", sugar_formulas.safety_factor, "-"),
    ):
        book.write(
            f"{name}_of_{key}",
            f"{label}, {product}",
            unit,
            formula(pol, moisture),
            "From pol and moisture of the sugar.",
            formula=formula,
        )
    if "colour" in sugar.values:
        book.write(
            f"colour_of_{key}",
            f"colour of {product}",
            "IU",
            sugar.colour / sugar.solids,
            "Colour on solids, ICUMSA units.",
        )


def _colour(book: Book) -> None:
    steps = [(part, book.stream(part)) for part in ("mixed_juice", "clear_juice", "syrup")]
    present = [(part, state) for part, state in steps if state and "colour" in state.values]
    for (before, first), (after, second) in pairwise(present):
        from_, to = before.replace("_", " "), after.replace("_", " ")
        book.write(
            f"colour_removal_{before}_to_{after}",
            f"colour removed, {from_} to {to}",
            "%",
            100 - 100 * (second.colour / second.solids) / (first.colour / first.solids),
            f"Fall of colour on solids from {from_} to {to}; negative where colour forms.",
            headline=after == "clear_juice",
        )
