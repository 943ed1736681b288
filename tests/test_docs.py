"""The handbook: pages made from declarations hold everything, pages by hand tell the truth."""

import re
from pathlib import Path

import pytest

from canewright import registry
from canewright.cli import docs_pages, station_facts
from canewright.laboratory.readings import READINGS, RELATIONS
from canewright.model import stations

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def pages():
    return docs_pages.pages()


def test_there_is_a_page_of_each_kind(pages):
    assert set(pages) == {"formulas.md", "sources.md", "stations.md", "readings.md", "points.md"}
    index = (ROOT / "docs" / "index.md").read_text(encoding="utf-8")
    for name in pages:
        assert f"`{name}`" in index, f"docs/index.md does not speak of {name}."


@pytest.mark.parametrize("kind", stations())
def test_every_station_has_its_section(pages, kind):
    cls = stations()[kind]
    section = re.search(rf"^### {kind}\n(.*?)(?=^##|\Z)", pages["stations.md"], re.M | re.S)
    assert section, f"stations.md has no section {kind}."
    text = section[1]
    assert "Assumes" in text
    assert "Sources: [" in text
    for name, port in cls.ports.items():
        assert f"| `{name}` | {port.direction} |" in text
    for name, quantity in cls.quantities.items():
        row = next(line for line in text.splitlines() if line.startswith(f"| `{name}` |"))
        assert quantity.label in row
        assert f"sources.md#{quantity.source})" in row
    for caution in cls.cautions:
        assert caution in text
    facts = station_facts.facts_of(cls)
    for equation in (*facts.balances, *facts.equations):
        assert equation in text


def test_a_station_without_sources_would_be_seen():
    text, assumes, sources = station_facts.parts_of(
        "What it is.\n\nMore of it,\nin two lines.\n\nAssumes this\nand that.\nSources: [own], a."
    )
    assert text == ("What it is.", "More of it, in two lines.")
    assert assumes == "Assumes this and that."
    assert sources == "[own], a."


@pytest.mark.parametrize("name", READINGS)
def test_every_reading_has_its_section(pages, name):
    reading = READINGS[name]
    section = re.search(rf"^## {name}\n(.*?)(?=^##|\Z)", pages["readings.md"], re.M | re.S)
    assert section, f"readings.md has no section {name}."
    assert reading.label[1:] in section[1]
    assert f"Unit: {reading.unit}." in section[1]
    assert f"sources.md#{reading.source})" in section[1]
    for uncertainty in reading.uncertainty.values():
        assert f"{uncertainty.random:g} " in section[1]


def test_every_relation_that_is_not_exact_is_told(pages):
    for name in RELATIONS:
        assert f"| `{name}` |" in pages["readings.md"]


def test_the_points_of_the_demonstration_say_that_they_are_invented(pages):
    assert "invented" in pages["points.md"]
    for point in ("mixed_juice", "final_molasses", "syrup_tank_closing"):
        assert f"| `{point}` |" in pages["points.md"]


def test_links_of_the_made_pages_lead_to_a_heading(pages):
    for name, text in pages.items():
        for page, heading in re.findall(r"\]\((\w+\.md)#([a-z0-9_]+)\)", text):
            level = "##" if page == "sources.md" else "###"
            assert f"{level} {heading}\n" in pages[page], f"{name} links to {page}#{heading}."


def test_sources_said_in_stations_are_in_the_bibliography(pages):
    known = registry.sources()
    for line in re.findall(r"^Sources: (.*)$", pages["stations.md"], re.M):
        for key in re.findall(r"\[([a-z0-9_]+)\]", line):
            assert key in known
