"""Building the demonstration factory's functions: model, simulator, usual point, reconciler."""

from benchmarks.measuring import Row, Table, once
from canewright.demo.factory import WELL_RUN
from canewright.demo.plan import planned
from canewright.engine.adjusting.reconcile import Reconciler
from canewright.engine.equations.model import compile
from canewright.engine.equations.nominal import prepare
from canewright.engine.equations.points import Points
from canewright.files.factory import read_factory

PROMISED = 2.0


def run(table: Table) -> None:
    factory = read_factory(WELL_RUN.path)
    made = []

    def everything():
        prepared = prepare(factory)
        channels = [c for c, _ in planned(Points(prepared.model), WELL_RUN.plan)]
        made.append((prepared, channels))
        return Reconciler(prepared.model, channels, prepared.statements)

    whole = min(once(everything) for _ in range(3))
    prepared, channels = made[-1]
    table.add(Row("building everything", whole, "2 s", PROMISED, 1.0))
    table.add(Row("  of which the model's expressions", once(lambda: compile(factory))))
    table.add(
        Row(
            "  of which the reconciler",
            once(lambda: Reconciler(prepared.model, channels, prepared.statements)),
        )
    )
