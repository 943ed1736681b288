"""The small factory and a made-up shift of it, as files."""

from datetime import datetime

from canewright.files.rows import ReadingRow, ShiftFacts
from canewright.files.writing import write_readings
from tests.engine.small_factory import made_up_shift, small_reconciler, text, usual_readings

FACTS = ShiftFacts(datetime(2026, 8, 14, 14, 0), 8.0, "Shift 2")


def write_files(folder, *, off=None, seed=7, only=None, invented=True):
    """Write factory.toml and readings.csv; `only` keeps the readings of these names."""
    factory, readings = folder / "factory.toml", folder / "readings.csv"
    words = text() if invented else text().replace("invented = true", "invented = false")
    factory.write_text(words, encoding="utf-8")
    reconciler = small_reconciler()
    units = {channel.name: channel.unit for channel in reconciler.channels}
    rows = [
        ReadingRow.of(m.point, m.analysis, float(m.value), units[m.name])
        for m in made_up_shift(reconciler, usual_readings(), seed, off)
        if only is None or m.name in only
    ]
    write_readings(readings, rows, FACTS)
    return factory, readings
