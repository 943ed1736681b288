"""The handbook: pages made from declarations hold everything, pages by hand tell the truth."""

import re
from pathlib import Path

import pytest
import typer.main
from typer.testing import CliRunner

from canewright import registry
from canewright.cli import docs_pages, station_facts
from canewright.cli.main import application
from canewright.cli.new_command import starter
from canewright.engine.equations import soundness
from canewright.engine.equations.model import compile
from canewright.engine.equations.points import Points
from canewright.files.catalogue import FactoryCatalogue
from canewright.files.factory import read_text
from canewright.files.readings import read_readings
from canewright.laboratory.readings import READINGS, RELATIONS
from canewright.model import stations
from canewright.units import parse_quantity

ROOT = Path(__file__).parents[1]
BY_HAND = sorted((ROOT / "docs").glob("*.md"))


def snippets(page, language):
    text = (ROOT / "docs" / page).read_text(encoding="utf-8")
    found = re.findall(rf"^```{language}\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    assert found, f"{page} has no {language}."
    return found


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


@pytest.mark.parametrize("page", BY_HAND, ids=lambda page: page.name)
def test_pages_by_hand_name_commands_and_files_that_exist(page):
    commands = set(typer.main.get_command(application()).commands)
    text = page.read_text(encoding="utf-8")
    blocks = "\n".join(re.findall(r"^```\n(.*?)^```", text, re.MULTILINE | re.DOTALL))
    asked = set(re.findall(r"^canewright ([a-z]+)", blocks, re.MULTILINE))
    asked |= set(re.findall(r"`canewright ([a-z]+)", text))
    assert asked
    assert asked <= commands
    for path in re.findall(r"`((?:tests|src)/[\w/]+(?:\.py)?)`", text):
        assert (ROOT / path).exists() or "NAME" in path, path


def test_every_page_by_hand_is_reached_from_the_index():
    index = (ROOT / "docs" / "index.md").read_text(encoding="utf-8")
    for page in BY_HAND:
        assert page.name == "index.md" or f"]({page.name})" in index


def test_the_entries_on_the_page_of_the_factory_file_are_taken():
    heater, *others = snippets("factory-file.md", "toml")
    text = re.sub(r"^\[control\].*\n.*\n", "", starter().decode(), flags=re.MULTILINE)
    before = text[text.index('name = "juice heater 1"') :]
    before = before[: before.index("\n\n")]
    text = text.replace(before, heater.removeprefix("[[station]]\n").replace("mixed juice", "raw"))
    text = text.replace('mixture = "juice to heaters"', 'mixture = "raw"')
    scale = text[text.index('[[instrument]]\nname = "juice scale"') :]
    scale = scale[: scale.index("\n\n")]
    factory = read_text("\n".join([text.replace(scale, ""), *others]))
    assert factory.points == {"juice_scale": "mixed juice", "scale house": "mixed juice"}
    assert factory.holds[0].by == "turbine.steam_flow"
    assert factory.limits[0].at_most == 95
    assert factory.control == {"mixed_juice": "juice to process"}
    assert soundness.structure(compile(factory)) == []


def test_the_units_on_the_page_of_the_factory_file_are_understood():
    # 4.2 bar and 1.01325 bar of air; 660 of 760 mm of mercury off it; a foot is 0.3048 m.
    page = (ROOT / "docs" / "factory-file.md").read_text(encoding="utf-8")
    for written, unit, value in (
        ("4.2 barg", "bar abs", 5.21325),
        ("660 mmHg vacuum", "bar abs", 1.01325 * 100 / 760),
        ("12 000 ft2", "m2", 12000 * 0.3048**2),
    ):
        assert f'`"{written}"`' in page
        # The millimetre of mercury is 1/760 atmosphere to 1.5e-7 only.
        assert parse_quantity(written, internal=unit) == pytest.approx(value, rel=2e-6)


def test_the_sentences_on_the_page_of_the_factory_file_are_those_of_the_check():
    page = (ROOT / "docs" / "factory-file.md").read_text(encoding="utf-8")
    said = Path(soundness.__file__).read_text(encoding="utf-8")
    said = re.sub(r"\"\s*\n\s*f?\"", "", said)
    for quoted in re.findall(r"^- \*(.*?)\*:", page, re.MULTILINE):
        for part in quoted.split(" ... "):
            words = re.sub(r"\b(it|stations)\b.*", "", part).strip()
            assert words in said, words


def test_the_files_on_the_page_of_the_readings_are_taken(tmp_path):
    catalogue = FactoryCatalogue(Points(compile(read_text(starter().decode()))))
    counts = []
    for number, text in enumerate(snippets("readings-file.md", "csv")):
        path = tmp_path / f"{number}.csv"
        path.write_text(text, encoding="utf-8")
        counts.append(len(read_readings(path, catalogue).rows))
    assert counts == [5, 6, 5]


def test_no_summary_of_a_command_is_cut_short(monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    shown = CliRunner().invoke(application(), ["--help"]).output
    assert "specification" in shown
    assert "..." not in shown.replace("[ARGS]...", "")
