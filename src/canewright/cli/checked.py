"""What `canewright check` found."""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from canewright.engine.equations.model import Model
    from canewright.engine.equations.plausibility import Strange
    from canewright.engine.equations.points import Points
    from canewright.engine.equations.simulate import Solved
    from canewright.files.problems import Problem
    from canewright.files.readings import CombinedReading, ReadingsFile
    from canewright.flowsheet import Factory, Instrument
    from canewright.laboratory.standing import Standing


@dataclass
class Checked:
    """What was found; `problems` empty means that all is in order."""

    factory_file: str
    problems: list["Problem"] = field(default_factory=list)
    factory: "Factory | None" = None
    model: "Model | None" = None
    points: "Points | None" = None
    solved: "Solved | None" = None
    results: list["Strange"] = field(default_factory=list)
    givens: list["Strange"] = field(default_factory=list)
    empty: list[str] = field(default_factory=list)
    overdue: list["Instrument"] = field(default_factory=list)
    standings: list["Standing"] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    readings: "ReadingsFile | None" = None
    combined: list["CombinedReading"] = field(default_factory=list)
