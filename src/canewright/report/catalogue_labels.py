"""Fixed labels of the layers below a report that it prints as they are."""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Iterator
from importlib import resources
from pathlib import Path


def fixed_labels() -> dict[str, list[str]]:
    """File -> the labels in it that reports print."""
    from canewright.account import season_plan
    from canewright.account.cautions import CAUTIONS
    from canewright.account.sentences import NOT_TOLD_APART, SMALLEST_TOLD
    from canewright.account.words import MONTHS
    from canewright.engine.equations.points import ONE_A_POINT
    from canewright.engine.suspects.first_checks_words import FIRST_CHECKS
    from canewright.figures.ledgers import LEDGERS, STOCK, UNDETERMINED
    from canewright.figures.to_date import RULES
    from canewright.files.stops import CAUSES
    from canewright.laboratory import chart_drawing
    from canewright.laboratory.instruments import ONE_DAY
    from canewright.laboratory.readings import READINGS
    from canewright.report.pictures.flow_graph import ROWS

    bases = [f"{name} {where}" for name in LEDGERS for where in ("in cane", "entering")]
    kinds = list(dict.fromkeys(CAUSES.values()))
    return {
        "account/cautions.py": list(CAUTIONS.values()),
        "account/sentences.py": [
            NOT_TOLD_APART,
            SMALLEST_TOLD,
            "and",
            *(f"of {base}" for base in bases if base.startswith("sucrose")),
        ],
        "account/words.py": list(MONTHS),
        "engine/suspects/first_checks_words.py": list(FIRST_CHECKS.values()),
        "account/season_plan.py": [
            *(name for name, *_rest in season_plan.LINES),
            season_plan.HOURS,
        ],
        "engine/equations/points.py": [f"{{point}} {kind}" for kind in ONE_A_POINT],
        "laboratory/instruments.py": [ONE_DAY],
        "engine/chain/periods.py": ["week {week} of {year}"],
        "engine/chain/comparison.py": ["cane", "extraction", "boiling house", "measurement"],
        "figures/ledgers.py": [STOCK, UNDETERMINED, *LEDGERS, *bases],
        "figures/loss_figures.py": ["undetermined loss", "% of sucrose in cane"],
        "figures/to_date.py": [rule.split()[0] for rule in RULES.values()],
        "files/stops.py": [*CAUSES, *kinds],
        "laboratory/control_charts.py": [
            "means",
            "ranges",
        ],
        "laboratory/chart_drawing.py": [
            *chart_drawing.LIMITS,
            chart_drawing.CHART,
            chart_drawing.NO_SIGNAL,
            chart_drawing.SIGNALS,
            chart_drawing.POINT,
        ],
        "laboratory/readings.py": [
            *(name.replace("_", " ") for name in READINGS),
            *dict.fromkeys(reading.instrument for reading in READINGS.values()),
        ],
        "laboratory/run_rules.toml": list(dict.fromkeys(_rules())),
        "report/pictures/flow_graph.py": [" and ".join(names) for names in ROWS],
        **_stations(),
    }


def _rules() -> Iterator[str]:
    file = resources.files("canewright.laboratory").joinpath("run_rules.toml")
    for rule in tomllib.loads(file.read_text(encoding="utf-8"))["rule"].values():
        yield from (rule["words"], rule["look_for"])


def _stations() -> dict[str, list[str]]:
    """Labels of quantities, their units in words, and the names of what is lost or made."""
    from canewright.model.quantities import Quantity
    from canewright.model.station import stations

    found: dict[str, list[str]] = {}
    for cls in stations().values():
        texts = found.setdefault(
            f"{cls.__module__.removeprefix('canewright.').replace('.', '/')}.py", []
        )
        texts.append(cls.section)
        for name, quantity in cls.quantities.items():
            assert isinstance(quantity, Quantity)
            if quantity.role != "design":
                texts.append(name.replace("_", " "))
            texts += [quantity.label, quantity.unit if " " in quantity.unit else ""]
    package = Path(str(resources.files("canewright")))
    for path in sorted(package.glob("stations/*.py")):
        texts = found.setdefault(path.relative_to(package).as_posix(), [])
        texts += _rows(ast.parse(path.read_text(encoding="utf-8")))
    return {
        place: list(dict.fromkeys(text for text in texts if text)) for place, texts in found.items()
    }


def _rows(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if (
            isinstance(node, ast.keyword)
            and node.arg == "less"
            and isinstance(node.value, ast.Dict)
        ):
            for key in node.value.keys:
                if isinstance(key, ast.Constant) and isinstance(key.value, str):
                    yield key.value
