"""Instruments of a factory file: what they read, how well, and what is known of their bias."""

from collections.abc import Mapping
from typing import Any

from canewright.engine.equations.points import point_name
from canewright.files.factory_lines import Place
from canewright.files.factory_names import Names
from canewright.files.factory_reader import Reader
from canewright.files.point_entries import add_point, unknown
from canewright.files.problems import known_names
from canewright.flowsheet import Certificate, CheckStandard, Instrument, Spread
from canewright.units import UnitError, canonical

CERTIFICATE = ("certificate", "certificate_value", "found", "certificate_uncertainty")
CHECKS = ("checks", "check_uncertainty", "check_repeatability")
INSTRUMENT = (
    "name", "reads", "point", "random", "bias", "calibrated", "due", *CERTIFICATE, *CHECKS, "why",
)  # fmt: skip
ROTATION = "degZ"
"""Unit of the standards of a polarimeter, whose readings in the balance are % pol."""


def read(
    reader: Reader,
    document: Mapping[str, Any],
    names: Names | None,
    points: dict[str, str],
) -> tuple[Instrument, ...]:
    """The [[instrument]] tables; points that they name are added to `points`."""
    instruments: list[Instrument] = []
    readers: dict[tuple[str, str], str] = {}
    for place, table in reader.tables(document, "instrument"):
        reader.known_keys(place, table, INSTRUMENT)
        name = reader.text(place, table, "name", "juice scale")
        reads = reader.texts(place, table, "reads", "mixed juice.weight")
        if name is None or reads is None:
            continue
        if any(other.name == name for other in instruments):
            reader.refuse(
                place.at("name"),
                f"Two instruments are called '{name}'.",
                "Give each its own name: what one instrument reads shares its bias.",
            )
        unit = _unit_of_reads(reader, place, name, reads, names, readers)
        if "point" in table:
            _point_of(reader, place, table, reads, names, points)
        spreads: dict[str, Spread] = {}
        for key in ("random", "bias"):
            if key in table and unit is not None:
                found = reader.spread(place.at(key), table[key], unit)
                if found is not None:
                    spreads[key] = found
        calibrated, due = (reader.date(place, table, key) for key in ("calibrated", "due"))
        if calibrated and due and due < calibrated:
            reader.refuse(
                place.at("due"),
                f"It is due {due} before it was calibrated, {calibrated}.",
                "Check the two dates.",
            )
        known = _Known(reader, place, table, unit or "", reads, spreads.get("bias"))
        instruments.append(
            Instrument(
                name,
                reads,
                spreads.get("random"),
                spreads.get("bias"),
                calibrated,
                due,
                known.certificate(),
                known.checks(),
                unit or "",
            )
        )
    return tuple(instruments)


class _Known:
    """What an entry tells of the instrument's error: its certificate and its checks."""

    def __init__(
        self,
        reader: Reader,
        place: Place,
        table: Mapping[str, Any],
        unit: str,
        reads: tuple[str, ...],
        bias: Spread | None,
    ) -> None:
        self.reader, self.place, self.table = reader, place, table
        self.bias = bias
        self.rotates = any(read.rpartition(".")[2] == "pol" for read in reads)
        self.units = (unit, ROTATION) if self.rotates else (unit,)

    def certificate(self) -> Certificate | None:
        """The certificate, where one is written."""
        if not any(key in self.table for key in CERTIFICATE):
            return None
        number = ""
        if "certificate" in self.table:
            number = self.reader.text(self.place, self.table, "certificate", "no. 4711") or ""
        numbers = {key: self._number(key) for key in CERTIFICATE[1:] if key in self.table}
        if not numbers:
            return Certificate(self.units[0], number=number)
        if not self._counts("A certificate") or any(found is None for found in numbers.values()):
            return None
        written = {found[1] for found in numbers.values() if found is not None}
        if len(written) > 1:
            self.reader.refuse(
                self.place.at("found"),
                f"The certificate is written in {' and '.join(sorted(written))}.",
                "Write all its numbers in one of them.",
            )
            return None
        values = {key: found[0] for key, found in numbers.items() if found is not None}
        value, uncertainty = values.get("certificate_value"), values.get(CERTIFICATE[3], 0.0)
        if ("found" in values) != ("certificate_value" in values):
            self.reader.refuse(
                self.place.at("found"),
                "'certificate_value' and 'found' come together.",
                "Write what the standard was, and what the instrument read of it.",
            )
        if uncertainty < 0 or (self.bias and self.bias.relative and not value):
            what = "An uncertainty is not below zero."
            if uncertainty >= 0:
                what = "The bias is of the value, but the value of the standard is not written."
            self.reader.refuse(
                self.place.at(CERTIFICATE[3]), what, "Copy both numbers from the certificate."
            )
            return None
        return Certificate(written.pop(), value, values.get("found"), uncertainty, number)

    def checks(self) -> CheckStandard | None:
        """The record of checks, where one is named."""
        if not any(key in self.table for key in CHECKS):
            return None
        file = self.reader.text(self.place, self.table, "checks", "checks/refractometer.csv")
        spreads = {
            key: self._spread(key) for key in CHECKS[1:] if key in self.table and self.units[0]
        }
        if file is None or not self._counts("A record of checks"):
            return None
        return CheckStandard(file, spreads.get(CHECKS[1]), spreads.get(CHECKS[2]))

    def _counts(self, what: str) -> bool:
        """Whether the entry says how an error of the standard counts in the readings."""
        if self.bias is None:
            if "bias" not in self.table and self.units[0]:
                self.reader.refuse(
                    self.place.at("bias"),
                    f"{what} tells the bias, and the entry does not say how a bias counts.",
                    'Write bias = "0.05 %" or bias = "0.2 % of value": how far off it may be.',
                )
            return False
        if self.rotates and not self.bias.relative:
            self.reader.refuse(
                self.place.at("bias"),
                f"{what} of a polarimeter is in degrees, and its bias here in % pol.",
                'State the bias in % of the value, bias = "0.1 % of value": a degree too many '
                "on the quartz is as many % of every rotation.",
            )
            return False
        return True

    def _number(self, key: str) -> tuple[float, str] | None:
        """A number of the certificate, and the unit it is in."""
        value, unit = self.table[key], self._unit(key)
        number = self.reader.number(self.place.at(key), value, unit)
        return None if number is None else (number, unit)

    def _spread(self, key: str) -> Spread | None:
        return self.reader.spread(self.place.at(key), self.table[key], self._unit(key))

    def _unit(self, key: str) -> str:
        """The unit a text is written in, of those the instrument's standards come in."""
        written = str(self.table[key]).strip().lstrip("+-0123456789., ")
        try:
            rotation = self.rotates and canonical(written) == ROTATION
        except UnitError:
            rotation = False
        return ROTATION if rotation else self.units[0]


def _point_of(
    reader: Reader,
    place: Place,
    table: Mapping[str, Any],
    reads: tuple[str, ...],
    names: Names | None,
    points: dict[str, str],
) -> None:
    """The name of the point given with the instrument that reads it."""
    point = reader.text(place, table, "point", "mixed_juice")
    owners = {read.rpartition(".")[0] for read in reads}
    if point is None:
        return
    if len(owners) > 1:
        reader.refuse(
            place.at("point"),
            f"'{point}' cannot be the point of {len(owners)} streams.",
            "Leave it out here, and write a [[point]] for each.",
        )
        return
    add_point(reader, place, "reads", point, owners.pop(), names, points)


def _unit_of_reads(
    reader: Reader,
    place: Place,
    instrument: str,
    reads: tuple[str, ...],
    names: Names | None,
    readers: dict[tuple[str, str], str],
) -> str | None:
    """Unit of what an instrument reads; None where that is unknown or not one."""
    from canewright.laboratory.readings import READINGS

    units: dict[str, str] = {}
    for read in reads:
        owner, dot, analysis = read.rpartition(".")
        if not dot or not owner or not analysis:
            reader.refuse(
                place.at("reads"),
                f"'{read}' does not say what is read of which stream.",
                'Write "stream.analysis", such as "mixed juice.weight".',
            )
            continue
        if names is None:
            if analysis in READINGS:
                units[analysis] = READINGS[analysis].unit
            continue
        if point_name(owner) not in names.owners:
            what, remedy = unknown(owner, list(names.owners.values()), "streams and stations")
            reader.refuse(place.at("reads"), what, remedy)
            continue
        analyses = names.analyses(owner)
        if analysis not in analyses:
            reader.refuse(
                place.at("reads"),
                f"'{analysis}' cannot be read of '{owner}'.",
                known_names(analysis, list(analyses), f"analyses of '{owner}'"),
            )
            continue
        units[analysis] = analyses[analysis]
        before = readers.setdefault((names.owners[point_name(owner)], analysis), instrument)
        if before != instrument:
            reader.refuse(
                place.at("reads"),
                f"'{read}' is read by '{before}' already.",
                "One instrument gives one reading; name the second stream apart, or leave it out.",
            )
    if len(set(units.values())) > 1:
        written = ", ".join(f"{name} [{unit}]" for name, unit in units.items())
        reader.refuse(
            place.at("reads"),
            f"One instrument cannot read in several units: {written}.",
            "Write an instrument for each.",
        )
        return None
    return next(iter(units.values()), None)
