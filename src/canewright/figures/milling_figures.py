"""Control figures of cane and mills."""

from __future__ import annotations

from canewright.figures import cane_quality_formulas, extraction_formulas, juice_formulas
from canewright.figures.figure import Book
from canewright.streams import State

BRIX_FREE_WATER = 25.0
"""Brix-free water % fibre [south_african_terms]."""


def write_milling(book: Book) -> None:
    """Cane quality, extraction and its reduced forms, imbibition, bagasse."""
    cane, juice, bagasse = (book.stream(part) for part in ("cane", "mixed_juice", "bagasse"))
    if cane is None:
        return
    book.group = "Cane"
    _cane(book, cane)
    book.group = "Milling"
    if juice is not None:
        _extraction(book, cane, juice)
        if bagasse is not None:
            _dilution(book, cane, juice, bagasse)
    water = book.stream("imbibition")
    if water is not None:
        book.write(
            "imbibition_percent_fibre",
            "imbibition",
            "% fibre",
            extraction_formulas.imbibition_percent_fibre(water.flow, cane.fibre),
            "Imbibition water over fibre in cane.",
            formula=extraction_formulas.imbibition_percent_fibre,
            headline=True,
        )
        book.write(
            "imbibition_percent_cane",
            "imbibition",
            "% cane",
            100 * water.flow / cane.flow,
            "Imbibition water over cane.",
        )
    if bagasse is not None:
        _bagasse(book, cane, bagasse)
    _first_juice(book, cane)


def _cane(book: Book, cane: State) -> None:
    book.write(
        "cane_tonnes", "cane crushed", "t", book.hours * cane.flow, "Cane over the period.",
        headline=True,
    )  # fmt: skip
    for name, label, amount in (
        ("sucrose_percent_cane", "sucrose", cane.sucrose),
        ("fibre_percent_cane", "fibre", cane.fibre),
        ("solids_percent_cane", "dissolved solids", cane.dissolved),
    ):
        book.write(
            name,
            f"{label} in cane",
            "% cane",
            100 * amount / cane.flow,
            f"{label.capitalize()} in cane as crushed over cane.",
            headline=name != "solids_percent_cane",
        )
    book.write("pol_percent_cane", "pol in cane", "% cane", book.pol(cane), _POL_OF + "cane.")


_POL_OF = "What a polarimeter would read, reducing sugars by their own rotation, of "


def _extraction(book: Book, cane: State, juice: State) -> None:
    fibre = 100 * cane.fibre / cane.flow
    made = extraction_formulas.extraction(juice.all_sucrose, cane.sucrose)
    book.write(
        "sucrose_extraction",
        "sucrose extraction",
        "%",
        made,
        "Sucrose in mixed juice over sucrose in cane as crushed.",
        formula=extraction_formulas.extraction,
        headline=True,
    )
    book.write(
        "pol_extraction",
        "pol extraction",
        "%",
        extraction_formulas.extraction(book.pol_mass(juice), book.pol_mass(cane)),
        "Pol in mixed juice over pol in cane as crushed.",
        formula=extraction_formulas.extraction,
    )
    book.write(
        "solids_extraction",
        "extraction of dissolved solids",
        "%",
        extraction_formulas.extraction(juice.dissolved, cane.dissolved),
        "Dissolved solids in mixed juice over those in cane as crushed.",
        formula=extraction_formulas.extraction,
    )
    for name, formula, words in (
        ("reduced_extraction", extraction_formulas.reduced_extraction_deerr, "Deerr"),
        (
            "reduced_extraction_proportional",
            extraction_formulas.reduced_extraction_proportional,
            "proportional",
        ),
    ):
        book.write(
            name,
            f"reduced extraction, {words}",
            "%",
            formula(made, fibre),
            f"Sucrose extraction reduced to 12.5 % fibre, {words} form.",
            formula=formula,
            headline=words == "Deerr",
        )
    book.write(
        "lost_absolute_juice_percent_fibre",
        "lost absolute juice",
        "% fibre",
        extraction_formulas.lost_absolute_juice_percent_fibre(made, fibre),
        "Absolute juice lost in bagasse over fibre, from sucrose extraction.",
        formula=extraction_formulas.lost_absolute_juice_percent_fibre,
    )
    book.write(
        "mixed_juice_percent_cane",
        "mixed juice",
        "% cane",
        100 * juice.flow / cane.flow,
        "Mixed juice as weighed, suspended solids included, over cane.",
        headline=True,
    )


def _dilution(book: Book, cane: State, juice: State, bagasse: State) -> None:
    fibre = 100 * cane.fibre / cane.flow
    undiluted = book.write(
        "undiluted_juice_percent_cane",
        "undiluted juice",
        "% cane",
        juice_formulas.undiluted_juice_percent_cane(fibre, BRIX_FREE_WATER),
        "Cane less its fibre and the Brix-free water bound to it, 25 % on fibre.",
        formula=juice_formulas.undiluted_juice_percent_cane,
    )
    solids = extraction_formulas.percent_cane_from_juice_and_bagasse(
        juice.dissolved, bagasse.dissolved, cane.flow
    )
    strength = juice_formulas.undiluted_juice_brix(solids, undiluted)
    for name, base, formula in (
        (
            "dilution_percent_undiluted_juice",
            "undiluted juice",
            juice_formulas.dilution_percent_undiluted_juice,
        ),
        (
            "dilution_percent_mixed_juice",
            "mixed juice",
            juice_formulas.dilution_percent_mixed_juice,
        ),
    ):
        book.write(
            name,
            "dilution",
            f"% {base}",
            formula(strength, juice.liquor_solids_percent),
            f"Water added to undiluted juice, on {base}; dissolved solids, not Brix.",
            formula=formula,
        )


def _bagasse(book: Book, cane: State, bagasse: State) -> None:
    book.write(
        "bagasse_percent_cane",
        "bagasse",
        "% cane",
        100 * bagasse.flow / cane.flow,
        "Bagasse of the last mill over cane.",
        headline=True,
    )
    book.write(
        "bagasse_moisture",
        "moisture of bagasse",
        "%",
        100 * bagasse.water / bagasse.flow,
        "Water in bagasse over bagasse.",
        headline=True,
    )
    book.write(
        "pol_percent_fibre_in_bagasse",
        "pol in bagasse",
        "% fibre",
        extraction_formulas.pol_percent_fibre_in_bagasse(
            book.pol(bagasse), 100 * bagasse.fibre / bagasse.flow
        ),
        "Pol over fibre, both in bagasse; in several countries the milling loss.",
        formula=extraction_formulas.pol_percent_fibre_in_bagasse,
        headline=True,
    )


def _first_juice(book: Book, cane: State) -> None:
    first, last = book.stream("first_juice"), book.stream("last_juice")
    if first is None:
        return
    book.write(
        "java_ratio",
        "Java ratio",
        "%",
        juice_formulas.java_ratio(book.pol(cane), book.pol(first)),
        "Pol % cane over pol % first expressed juice.",
        formula=juice_formulas.java_ratio,
    )
    book.write(
        "commercial_cane_sugar",
        "commercial cane sugar (CCS)",
        "%",
        cane_quality_formulas.commercial_cane_sugar(
            book.pol(first), book.brix(first), 100 * cane.fibre / cane.flow
        ),
        "From pol and Brix of first expressed juice and fibre of cane.",
        formula=cane_quality_formulas.commercial_cane_sugar,
    )
    for part, state in (("first", first), ("last", last)):
        if state is not None:
            book.write(
                f"purity_of_{part}_expressed_juice",
                f"purity of {part} expressed juice",
                "%",
                state.purity,
                "Sucrose over dissolved solids: true purity.",
            )
