"""Control figures of the boiling house: purities, recoveries, final molasses."""

from __future__ import annotations

from canewright.figures import boiling_house_formulas as house
from canewright.figures import extraction_formulas, molasses_formulas
from canewright.figures.figure import Book, together
from canewright.figures.ledgers import products
from canewright.ops import Numeric
from canewright.streams import State

PURITIES = ("mixed_juice", "clear_juice", "syrup", "final_molasses")


def write_boiling_house(book: Book) -> None:
    """Purities along the house, recoveries and their reduced forms, target purity."""
    book.group = "Boiling house"
    for part in PURITIES:
        state = book.stream(part)
        if state is not None:
            book.write(
                f"purity_of_{part}",
                f"purity of {part.replace('_', ' ')}",
                "%",
                house.purity(100 * state.all_sucrose / state.flow, state.solids_percent),
                "Sucrose over dissolved solids and crystal: true purity.",
                formula=house.purity,
                headline=True,
            )
    cane, juice = book.stream("cane"), book.stream("mixed_juice")
    molasses, sugar = book.stream("final_molasses"), all_sugar(book)
    if molasses is not None:
        _molasses(book, molasses, cane)
    if juice is None or sugar is None:
        return
    recovery = _recovery(book, juice, sugar, molasses)
    if recovery is None:
        return
    _theory(book, juice, sugar, molasses, recovery)
    reduced = _reduced(book, juice, sugar, recovery)
    if cane is not None:
        _overall(book, cane, juice, recovery, reduced)


def all_sugar(book: Book) -> State | None:
    """All sugar that leaves the factory, as one; nothing where none is made."""
    streams = [stream for names in products(book.model).values() for stream in names]
    if not streams:
        return None
    return together("sugar", [book.model.states[name] for name in streams])


def stocks(book: Book) -> list[tuple[State, State]]:
    """Opening and closing content of every vessel that holds sucrose. [t]."""
    states = book.model.states
    return [
        (state, states[name.removesuffix(" opening") + " closing"])
        for name, state in states.items()
        if name.endswith(" opening")
        and name not in book.model.flowsheet.streams
        and "sucrose" in state.values
    ]


def _recoverable(stock: State, sugar: Numeric, molasses: Numeric) -> Numeric:
    """Sucrose of a stock that will become sugar, by SJM, multiplied through. [t].

    100 S (J - M)/(J (S - M)) of its sucrose, with J = 100 sucrose/solids: an empty vessel
    has no purity but recovers nothing.
    """
    return sugar * (100 * stock.all_sucrose - molasses * stock.solids) / (100 * (sugar - molasses))


def _recovery(book: Book, juice: State, sugar: State, molasses: State | None) -> Numeric | None:
    """Boiling house recovery on sugar made and estimated."""
    held = stocks(book)
    gain: Numeric = 0.0
    if held:
        if molasses is None:
            return None
        for opening, closing in held:
            gain = gain + (
                _recoverable(closing, sugar.purity, molasses.purity)
                - _recoverable(opening, sugar.purity, molasses.purity)
            )
        book.write(
            "recoverable_stock_gain",
            "sucrose recoverable from stock, gain",
            "t",
            gain,
            "Closing less opening stock of every vessel, each by SJM at its own purity.",
            sources=("issct1971",),
        )
    return book.write(
        "boiling_house_recovery",
        "boiling house recovery",
        "%",
        house.boiling_house_recovery(sugar.all_sucrose + gain / book.hours, juice.all_sucrose),
        "Sucrose in sugar made and estimated (stock by SJM) over sucrose in mixed juice.",
        formula=house.boiling_house_recovery,
        headline=True,
    )


def _theory(
    book: Book, juice: State, sugar: State, molasses: State | None, recovery: Numeric
) -> None:
    if molasses is not None:
        book.write(
            "sjm_recovery",
            "recovery by SJM",
            "%",
            house.sjm_recovery(sugar.purity, juice.purity, molasses.purity),
            "What true purities of sugar, mixed juice and final molasses would give "
            "without losses.",
            formula=house.sjm_recovery,
        )
        book.write(
            "non_sucrose_balance",
            "non-sucrose balance",
            "%",
            house.non_pol_balance(molasses.non_sucrose, sugar.non_sucrose, juice.non_sucrose),
            "Non-sucrose in molasses and sugar over non-sucrose in mixed juice; "
            "stocks are not counted.",
            formula=house.non_pol_balance,
            headline=True,
        )
    basic = book.write(
        "basic_boiling_house_recovery",
        "basic boiling house recovery",
        "%",
        house.basic_boiling_house_recovery(juice.purity),
        "SJM with pure sugar and molasses of 28.57 purity.",
        formula=house.basic_boiling_house_recovery,
    )
    book.write(
        "boiling_house_efficiency",
        "boiling house efficiency",
        "%",
        house.boiling_house_efficiency(recovery, basic),
        "Boiling house recovery over the basic one.",
        formula=house.boiling_house_efficiency,
    )
    book.write(
        "virtual_molasses_purity",
        "virtual purity of molasses",
        "%",
        house.virtual_molasses_purity(sugar.purity, juice.purity, recovery),
        "Purity of a molasses that would carry every loss of the boiling house.",
        formula=house.virtual_molasses_purity,
    )


def _reduced(book: Book, juice: State, sugar: State, recovery: Numeric) -> Numeric:
    deerr = book.write(
        "reduced_boiling_house_recovery",
        "reduced boiling house recovery, Deerr",
        "%",
        house.reduced_boiling_house_recovery_deerr(recovery, juice.purity),
        "Boiling house recovery reduced to mixed juice of 85 purity, Deerr form.",
        formula=house.reduced_boiling_house_recovery_deerr,
        headline=True,
    )
    book.write(
        "reduced_boiling_house_recovery_gundu_rao",
        "reduced boiling house recovery, Gundu Rao",
        "%",
        house.reduced_boiling_house_recovery_gundu_rao(recovery, juice.purity, sugar.purity),
        "Boiling house recovery reduced to 85 purity at the virtual purity of molasses.",
        formula=house.reduced_boiling_house_recovery_gundu_rao,
    )
    return deerr


def _overall(book: Book, cane: State, juice: State, recovery: Numeric, reduced: Numeric) -> None:
    extraction = extraction_formulas.extraction(juice.all_sucrose, cane.sucrose)
    book.write(
        "overall_recovery",
        "overall recovery",
        "%",
        house.overall_recovery(extraction, recovery),
        "Sucrose extraction times boiling house recovery.",
        formula=house.overall_recovery,
        headline=True,
    )
    reduced_extraction = extraction_formulas.reduced_extraction_deerr(
        extraction, 100 * cane.fibre / cane.flow
    )
    book.write(
        "reduced_overall_recovery",
        "reduced overall recovery, Deerr",
        "%",
        house.reduced_overall_recovery(reduced_extraction, reduced),
        "Reduced extraction times reduced boiling house recovery, both in the Deerr form.",
        formula=house.reduced_overall_recovery,
        headline=True,
    )


def _molasses(book: Book, molasses: State, cane: State | None) -> None:
    ratio = molasses.reducing_sugars / molasses.ash
    smith = molasses_formulas.target_purity_smith
    target = book.write(
        "target_purity",
        "target purity of final molasses, Smith",
        "%",
        smith(ratio),
        "From reducing sugars over ash of final molasses.",
        formula=smith,
    )
    book.write(
        "target_purity_difference",
        "final molasses above target purity, Smith",
        "%",
        molasses_formulas.target_purity_difference(molasses.purity, target),
        "True purity of final molasses less its target purity by the Smith formula.",
        formula=molasses_formulas.target_purity_difference,
        headline=True,
    )
    for word in ("equilibrium", "australia", "reunion"):
        formula = getattr(molasses_formulas, f"target_purity_{word}")
        book.write(
            f"target_purity_{word}",
            f"target purity of final molasses, {word.capitalize()}",
            "%",
            formula(ratio),
            "From reducing sugars over ash of final molasses.",
            formula=formula,
        )
    if cane is not None:
        book.write(
            "molasses_percent_cane",
            "final molasses",
            "% cane",
            100 * molasses.flow / cane.flow,
            "Final molasses that leaves over cane.",
        )
        book.write(
            "molasses_85_brix_percent_cane",
            "final molasses at 85 % solids",
            "% cane",
            molasses_formulas.molasses_85_brix_percent_cane(
                molasses.flow, molasses.solids_percent, cane.flow
            ),
            "Final molasses brought to 85 % dry solids (not Brix) over cane.",
            formula=molasses_formulas.molasses_85_brix_percent_cane,
            headline=True,
        )
