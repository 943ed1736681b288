"""The plan of a study: which scenarios, from which file, and how each is drawn.

    [study]
    factory = "factory.toml"
    readings = "readings.csv"       # start from a balanced shift; else from the usual point
    draws = 1000                    # drawn anew for every point of the grid
    uncertain = "posterior"         # what the balance left open; or "priors", or "nothing"
    seed = 1
    figures = ["earned", "sucrose_extraction"]

    [[vary]]
    name = "imbibition"
    from = 180
    to = 280
    step = 10

`[[vary]]` takes `values = [...]`, `from`/`to`/`step`, or what is drawn: `mean`/`sd` or
`low`/`high`. Draw k is the same for every point of the grid and on every machine.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from canewright.files.problems import InputRefused, KeyProblem, Problem, known_names

Uncertain = Literal["posterior", "priors", "nothing"]
KEYS = ("factory", "readings", "draws", "uncertain", "seed", "figures", "stocks", "assumed")
VARY = ("name", "values", "from", "to", "step", "mean", "sd", "low", "high")
MOST = 50_000_000
"""Scenarios; more would not fit a table."""
LARGEST_FILE = 1_000_000


@dataclass(frozen=True)
class Vary:
    """One quantity that differs: in the steps of a grid, or drawn.

    `values` are the grid's; `normal` is (mean, sd) and `uniform` (low, high) of a draw.
    """

    name: str
    values: tuple[float, ...] = ()
    normal: tuple[float, float] | None = None
    uniform: tuple[float, float] | None = None


@dataclass(frozen=True)
class Plan:
    """A study as written."""

    factory: Path
    readings: Path | None
    draws: int
    uncertain: Uncertain
    seed: int
    figures: tuple[str, ...]
    stocks: Literal["settled", "as found"]
    assumed: bool
    vary: tuple[Vary, ...]

    @property
    def grid(self) -> list[Vary]:
        """Those in steps."""
        return [vary for vary in self.vary if vary.values]

    @property
    def points(self) -> int:
        """Points of the grid."""
        return math.prod(len(vary.values) for vary in self.grid)

    @property
    def count(self) -> int:
        """Scenarios in all."""
        return self.points * self.draws


def read_plan(path: Path) -> Plan:
    """Read and check a plan; files in it are sought beside it.

    Raises
    ------
    InputRefused
        With everything that is wrong with it.
    """
    if path.stat().st_size > LARGEST_FILE:
        raise InputRefused([_problem(path, "", "The file is larger than a plan can be.", "")])
    try:
        document = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise InputRefused([_problem(path, "", f"The file is not TOML: {error}.", "")]) from error
    return _Reader(path, document).plan()


def _problem(path: Path, key: str, what: str, remedy: str) -> Problem:
    return KeyProblem(path.name, None, key, what, remedy)


class _Reader:
    """Takes a plan's tables, gathering every problem on the way."""

    def __init__(self, path: Path, document: Mapping[str, Any]) -> None:
        self.path, self.document = path, document
        self.problems: list[Problem] = []

    def refuse(self, key: str, what: str, remedy: str = "") -> None:
        self.problems.append(_problem(self.path, key, what, remedy))

    def known(self, table: Mapping[str, Any], keys: tuple[str, ...], where: str) -> None:
        for key in table:
            if key not in keys:
                self.refuse(key, f"{where} has no '{key}'.", known_names(key, keys, "keys"))

    def plan(self) -> Plan:
        document = self.document
        self.known(document, ("study", "vary"), "A plan")
        study = document.get("study", {})
        if not isinstance(study, Mapping):
            study = {}
        if not study:
            self.refuse("study", "The plan has no [study].", 'Write [study] and factory = "...".')
        self.known(study, KEYS, "[study]")
        raw = document.get("vary", [])
        tables = raw if isinstance(raw, list) else [raw]
        vary = [self._vary(table) for table in tables]
        readings = self._file(study, "readings", needed=False)
        plan = Plan(
            factory=self._file(study, "factory", needed=True) or self.path,
            readings=readings,
            draws=self._whole(study, "draws", 1, 1),
            uncertain=self._choice(
                study,
                "uncertain",
                ("posterior", "priors", "nothing"),
                "nothing" if "draws" not in study else "posterior" if readings else "priors",
            ),
            seed=self._whole(study, "seed", 1, 0),
            figures=self._figures(study),
            stocks=self._choice(study, "stocks", ("settled", "as found"), "settled"),
            assumed=self._choice(study, "assumed", (True, False), True),
            vary=tuple(item for item in vary if item is not None),
        )
        if plan.uncertain == "posterior" and readings is None and not self.problems:
            self.refuse(
                "uncertain",
                "What a balance left open needs a balance.",
                'Write readings = "...", or uncertain = "priors".',
            )
        names = [item.name for item in plan.vary]
        for name in {name for name in names if names.count(name) > 1}:
            self.refuse("vary", f"'{name}' is varied twice.", "Keep one.")
        if plan.count > MOST:
            self.refuse("study", f"{plan.count} scenarios are more than {MOST}.", "Take fewer.")
        drawn = plan.uncertain != "nothing" or len(plan.grid) < len(plan.vary)
        if not plan.vary and not drawn:
            self.refuse("vary", "Nothing differs between scenarios.", "Write a [[vary]].")
        if plan.draws > 1 and not drawn:
            self.refuse("draws", "All draws would be the same.", 'Write uncertain = "priors".')
        if self.problems:
            raise InputRefused(self.problems)
        return plan

    def _file(self, table: Mapping[str, Any], key: str, *, needed: bool) -> Path | None:
        value = table.get(key)
        if value is None:
            if needed:
                self.refuse(key, f"'{key}' is missing.", f'Write {key} = "{key}.toml".')
            return None
        if not isinstance(value, str):
            self.refuse(key, f"'{value}' is no name of a file.", "Write it in quotes.")
            return None
        place = self.path.parent / value
        if not place.is_file():
            self.refuse(key, f"There is no file {value} beside the plan.", "Check its name.")
        return place

    def _whole(self, table: Mapping[str, Any], key: str, usual: int, least: int) -> int:
        value = table.get(key, usual)
        if not isinstance(value, int) or isinstance(value, bool) or value < least:
            self.refuse(key, f"'{value}' is no whole number from {least} up.", "")
            return usual
        return value

    def _choice(self, table: Mapping[str, Any], key: str, choices: tuple[Any, ...], u: Any) -> Any:
        value = table.get(key, u)
        if value not in choices:
            listed = " or ".join(str(choice).lower() for choice in choices)
            self.refuse(key, f"'{value}' is not known.", f"Write {listed}.")
            return u
        return value

    def _figures(self, table: Mapping[str, Any]) -> tuple[str, ...]:
        value = table.get("figures", [])
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            self.refuse("figures", "'figures' is a list of names.", 'Write ["earned"].')
            return ()
        return tuple(value)

    def _number(self, table: Mapping[str, Any], key: str) -> float:
        value = table[key]
        good = isinstance(value, int | float) and not isinstance(value, bool)
        if not good or not math.isfinite(value):
            self.refuse(key, f"'{value}' is no number.", "Write a plain number in internal units.")
            return 0.0
        return float(value)

    def _vary(self, table: Any) -> Vary | None:
        if not isinstance(table, Mapping) or not isinstance(table.get("name"), str):
            self.refuse("vary", "A [[vary]] needs a name.", 'Write name = "imbibition".')
            return None
        self.known(table, VARY, "[[vary]]")
        name = table["name"]
        given = set(table) - {"name"}
        before = len(self.problems)
        if given == {"values"} and isinstance(table["values"], list) and table["values"]:
            values = tuple(self._number({"values": value}, "values") for value in table["values"])
            return Vary(name, values)
        if given == {"from", "to", "step"}:
            first, last, step = (self._number(table, key) for key in ("from", "to", "step"))
            if len(self.problems) == before and (step <= 0 or last < first):
                self.refuse("step", f"'{name}' runs backwards or stands still.", "step > 0.")
                return None
            count = int((last - first) / step + 1e-9) + 1 if step > 0 else 1
            if count > MOST:
                self.refuse("step", f"'{name}' takes {count} steps.", "Take larger ones.")
                return None
            return Vary(name, tuple(first + k * step for k in range(count)))
        for pair, kind in ((("mean", "sd"), "normal"), (("low", "high"), "uniform")):
            if given == set(pair):
                one, two = (self._number(table, key) for key in pair)
                wrong = two <= 0 if kind == "normal" else two <= one
                if len(self.problems) == before and wrong:
                    self.refuse(pair[1], f"'{name}' would not differ.", f"Raise '{pair[1]}'.")
                    return None
                return Vary(name, (), **{kind: (one, two)})
        self.refuse(
            "vary",
            f"'{name}' does not say how it differs.",
            "Write values, or from, to and step, or mean and sd, or low and high.",
        )
        return None
