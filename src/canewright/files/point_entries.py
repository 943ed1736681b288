"""Sampling points of a factory file: names of streams in a file of readings."""

from collections.abc import Mapping
from typing import Any

from canewright.engine.equations.points import point_name
from canewright.files.factory_lines import Place
from canewright.files.factory_names import Names
from canewright.files.factory_reader import Reader
from canewright.files.problems import known_names

POINT = ("name", "stream")


def unknown(name: str, known: list[str], what: str) -> tuple[str, str]:
    """What is wrong with a name, and what it may have been meant for."""
    return f"There is no '{name}'.", known_names(name, known, what)


def read(reader: Reader, document: Mapping[str, Any], names: Names | None) -> dict[str, str]:
    """The [[point]] tables: name of the point -> name of the stream."""
    points: dict[str, str] = {}
    for place, table in reader.tables(document, "point"):
        reader.known_keys(place, table, POINT)
        name = reader.text(place, table, "name", "juice_to_scale")
        stream = reader.text(place, table, "stream", "mixed juice")
        if name is not None and stream is not None:
            add_point(reader, place, "stream", name, stream, names, points)
    return points


def add_point(
    reader: Reader,
    place: Place,
    key: str,
    name: str,
    stream: str,
    names: Names | None,
    points: dict[str, str],
) -> None:
    """Keep a point, or a problem where its name or its stream cannot be."""
    if any(point_name(other) == point_name(name) and points[other] != stream for other in points):
        reader.refuse(
            place.at("name"),
            f"The point '{name}' is given to two streams.",
            "Give each its own name.",
        )
        return
    if names is not None:
        if point_name(stream) not in names.kinds:
            reader.refuse(
                place.at(key), *unknown(stream, [names.owners[p] for p in names.kinds], "streams")
            )
            return
        owner = names.owners[point_name(stream)]
        if names.owners.get(point_name(name), owner) != owner and point_name(name) in names.kinds:
            reader.refuse(
                place.at("name"),
                f"'{name}' is already the point of stream '{names.owners[point_name(name)]}'.",
                "Take a name that no stream has.",
            )
            return
        names.add_point(name, stream)
        main = next((main for main in names.flowsheet.mains if main.name == owner), None)
        stream = main.feeds[0] if main else owner
    points[name] = stream
