"""Equations: a name that is also the report's row, and two sides that can both be printed."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from canewright.ops import Numeric
from canewright.streams import CARRIED, MASS, State, in_words


@dataclass(frozen=True)
class Equation:
    """`left = right`, named as the row of the report that shows both sides."""

    name: str
    left: Numeric
    right: Numeric


@dataclass(frozen=True)
class Balance(Equation):
    """What comes in of one component equals what goes out, is lost, and stays.

    `less` holds what leaves otherwise than by a stream, by the name of the ledger's row:
    inverted, undetermined, burnt; negative where the station makes the component.
    `stock` is the gain of stock, t/h.
    """

    component: str = ""
    less: Mapping[str, Numeric] = field(default_factory=dict)
    stock: Numeric = 0.0


Equations = Iterator[Equation | tuple[str, Numeric, Numeric]]


def _states(streams: State | Iterable[State]) -> Sequence[State]:
    return [streams] if isinstance(streams, State) else [s for s in streams if s.connected]


class HasChange:
    """Anything with `change(component)`, the gain of stock in t/h."""

    def change(self, component: str) -> Numeric:
        """Gain of stock of a component. [t/h]."""
        raise LookupError(component)


def conserved(
    inlets: State | Iterable[State],
    *,
    to: State | Iterable[State],
    less: Mapping[str, Mapping[str, Numeric]] | None = None,
    stock: HasChange | None = None,
    together: Mapping[str, Sequence[str]] | None = None,
    without: Sequence[str] = (),
) -> Iterator[Balance]:
    """One balance per component present on either side, named after it.

    Parameters
    ----------
    inlets, to : state or states
        Streams entering and leaving. [t/h]
    less : mapping of row -> component -> amount
        What leaves otherwise than by a stream, by the name of the ledger's row. Negative
        where the station makes the component (inversion makes reducing sugars). [t/h]
    stock : stock, optional
        The station's stock: its gain is added to what leaves.
    together : mapping of name -> components
        Components that turn into each other here, balanced as one: in a pan
        `{"sucrose": ("sucrose", "crystal")}`.
    without : sequence of components
        Components for which the station writes its own equation.

    Yields
    ------
    Balance
        In the order of the components.
    """
    sources, sinks = _states(inlets), _states(to)
    less = less or {}
    groups: dict[str, tuple[str, ...]] = {}
    joined = {member: name for name, members in (together or {}).items() for member in members}
    present = {component for state in (*sources, *sinks) for component in state.components}
    present |= {component for amounts in less.values() for component in amounts}
    for component in (*MASS, *CARRIED, "power"):
        if component in present and component not in without:
            name = joined.get(component, component)
            groups[name] = (*groups.get(name, ()), component)
    for name, members in groups.items():
        left: Numeric = 0.0
        for state in sources:
            left = left + state.sum(*members)
        right: Numeric = 0.0
        for state in sinks:
            right = right + state.sum(*members)
        lost = {}
        for row, amounts in less.items():
            amount: Numeric = 0.0
            for member in members:
                if member in amounts:
                    amount = amount + amounts[member]
                    lost[row] = amount
            right = right + amount
        gain: Numeric = 0.0
        if stock is not None:
            for member in members:
                gain = gain + stock.change(member)
            right = right + gain
        yield Balance(in_words(name), left, right, component=name, less=lost, stock=gain)


def same_composition(
    state: State, share: Numeric, of: State, components: Iterable[str] | None = None
) -> Iterator[tuple[str, Numeric, Numeric]]:
    """Each component of `state` is the same share (% of it) of that component of another.

    Used for a part drawn from a whole: a split, a film, the liquor left in a cake.
    """
    for component in components if components is not None else of.components:
        if component in state.values:
            yield (
                f"{in_words(component)} as in {of.name}",
                getattr(state, component),
                share / 100 * getattr(of, component),
            )
