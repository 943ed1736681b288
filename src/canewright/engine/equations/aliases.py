"""Variables that an equation makes equal: one variable under several names."""

from collections.abc import Sequence

import casadi

from canewright.ops import Numeric


def aliases(
    symbols: Sequence[casadi.SX], sides: Sequence[tuple[Numeric, Numeric]]
) -> tuple[list[list[int]], set[int]]:
    """Groups of symbols that equations make equal, and the equations that say more.

    Parameters
    ----------
    symbols : sequence of SX
        Every variable.
    sides : sequence of (left, right)
        The two sides of every equation.

    Returns
    -------
    groups : list of list of int
        Positions of symbols that are one variable, in the order of the first of each.
    kept : set of int
        Positions of the equations that do more than name an alias.
    """
    position = {symbol.element_hash(): i for i, symbol in enumerate(symbols)}
    parent = list(range(len(symbols)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    def place(side: Numeric) -> int | None:
        symbolic = isinstance(side, casadi.SX) and side.is_symbolic()
        return position.get(side.element_hash()) if symbolic else None

    kept: set[int] = set()
    for number, (left_side, right_side) in enumerate(sides):
        left, right = place(left_side), place(right_side)
        if left is None or right is None:
            kept.add(number)
            continue
        first, second = sorted((root(left), root(right)))
        parent[second] = first
    groups: dict[int, list[int]] = {}
    for i in range(len(parent)):
        groups.setdefault(root(i), []).append(i)
    return [members for _, members in sorted(groups.items())], kept
