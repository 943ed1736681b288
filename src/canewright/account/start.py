"""From a factory file to the compiled factory that all accounts start from."""

from pathlib import Path

from canewright.engine.equations.cache import prepared
from canewright.engine.equations.nominal import Prepared
from canewright.files.factory import read_factory
from canewright.files.factory_reader import FactoryProblem
from canewright.files.problems import InputRefused
from canewright.flowsheet import Factory, FactoryRefused


def prepared_from(path: str | Path) -> Prepared:
    """The factory of a file, compiled and solved at its usual point.

    Raises
    ------
    InputRefused
        With everything that is wrong with the file.
    SolveFailed
        If the usual point cannot be solved.
    """
    return prepared_of(read_factory(path), path)


def prepared_of(factory: Factory, path: str | Path) -> Prepared:
    """The same for a factory read already; `path` is named in what is refused."""
    try:
        return prepared(factory)
    except FactoryRefused as refusal:
        name = Path(path).name
        raise InputRefused(
            [FactoryProblem(name, None, "", sentence, "") for sentence in refusal.problems]
        ) from refusal
