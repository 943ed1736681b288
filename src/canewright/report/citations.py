"""Definitions of the figures that a report prints, and the numbered list of their sources."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from canewright import registry
from canewright.figures.figure import Figure
from canewright.report.content import Cited, Definition
from canewright.report.words import _, told
from canewright.report.writing_numbers import unit_text

OWN = "own_derivation"


def _known(known: str) -> str:
    return {
        "read": _("read in the source"),
        "memory": _("from memory, not yet read again in the source"),
        "derived": _("our own derivation"),
        "assumed": _("assumed"),
    }[known]


class Citations:
    """Numbers sources in the order in which they are first called on."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}
        self._bibliography = registry.sources()
        self.definitions: list[Definition] = []
        self._defined: set[str] = set()

    def numbers(self, keys: Iterable[str]) -> tuple[int, ...]:
        """Numbers of these sources; a plain ratio of ours needs none."""
        wanted = [key for key in keys if key != OWN and key in self._bibliography]
        return tuple(self._numbers.setdefault(key, len(self._numbers) + 1) for key in wanted)

    def define(self, figures: Sequence[Figure]) -> None:
        """Take up the definitions of figures, each once."""
        formulas = registry.formulas()
        for figure in figures:
            if figure.name in self._defined:
                continue
            self._defined.add(figure.name)
            formula = formulas.get(figure.formula)
            numbers = self.numbers(figure.sources)
            equation = formula.equation if formula else ""
            self.definitions.append(
                Definition(
                    told(figure.label),
                    unit_text(told(figure.unit)),
                    told(figure.definition),
                    equation,
                    numbers,
                )
            )

    @property
    def sources(self) -> tuple[Cited, ...]:
        """The list, in the order of the numbers."""
        return tuple(
            Cited(number, self._bibliography[key].text, _known(self._bibliography[key].known))
            for key, number in self._numbers.items()
        )


def mark(numbers: Sequence[int]) -> str:
    """Numbers of sources as they stand beside a figure: [1], [2, 3] or nothing."""
    return f"[{', '.join(str(number) for number in numbers)}]" if numbers else ""
