"""Rules of the house that no linter knows: files, sources, documents that tell the truth."""

import ast
import re
import subprocess
import tomllib
from pathlib import Path

import pytest
import typer.main

from canewright import registry
from canewright.cli import docs_pages
from canewright.cli.main import application

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "src" / "canewright"
LONGEST = 400
TABLES = re.compile(r"(_tables|_coefficients|_words)\.py$")
"""Files of coefficients or words, without equations: as long as the table is."""


def tracked():
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    paths = [ROOT / name for name in listed.stdout.split("\0") if name]
    return [path for path in paths if path.is_file()]


def python_files(*folders):
    return sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py"))


def name_of(path):
    return str(path.relative_to(ROOT))


@pytest.mark.parametrize("path", python_files("src", "tests", "benchmarks"), ids=name_of)
def test_no_file_is_longer_than_a_reader_has_patience_for(path):
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines <= LONGEST or TABLES.search(path.name), f"{name_of(path)} has {lines} lines."


def test_tables_hold_no_functions():
    for path in python_files("src"):
        if TABLES.search(path.name):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            functions = [node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
            assert not functions, f"{name_of(path)} is named as a table but defines {functions}."


def test_no_import_is_relative():
    for path in python_files("src", "tests", "benchmarks"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            assert not (isinstance(node, ast.ImportFrom) and node.level), (
                f"{name_of(path)}, line {node.lineno}: a relative import."
            )


def test_every_package_says_what_it_is():
    folders = {path.parent for path in python_files("src")}
    for folder in folders:
        first = folder / "__init__.py"
        assert first.is_file(), f"{name_of(folder)} has no __init__.py."
        text = ast.get_docstring(ast.parse(first.read_text(encoding="utf-8"))) or ""
        assert len(text.split()) >= 3, f"{name_of(first)} does not say what the folder is for."


def test_the_map_of_the_folders_is_whole_and_in_the_order_of_the_layers():
    text = (ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8")
    part = text[text.index("## Where things are") : text.index("## Add a formula")]
    told = re.findall(r"`([a-z/]+)`", "\n".join(re.findall(r"^\| (`.+?) \|", part, re.MULTILINE)))
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    contracts = {each["id"]: each for each in project["tool"]["importlinter"]["contracts"]}
    layers = []
    for line in contracts["layers"]["layers"]:
        for name in re.findall(r"[a-z]+", line):
            inside = contracts["engine"]["layers"] if name == "engine" else [""]
            layers += [f"{name}/{each}".rstrip("/") for each in inside]
    modules = {"registry", "ops"}
    assert told == [name for name in layers if name not in modules]


def test_every_make_target_in_the_documents_exists():
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    targets = set(re.findall(r"^([a-z-]+):", makefile, re.MULTILINE))
    for document in ("README.md", "CONTRIBUTING.md", "docs/index.md", ".ci/run"):
        text = (ROOT / document).read_text(encoding="utf-8")
        asked = set(re.findall(r"(?:`|^|: )make ([a-z-]+)", text, re.MULTILINE))
        assert asked <= targets, f"{document} names {sorted(asked - targets)}."
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "make demo\nmake test\n" in readme


@pytest.mark.parametrize("document", ["README.md", "docs/index.md"])
def test_every_command_in_the_documents_exists(document):
    commands = set(typer.main.get_command(application()).commands)
    text = (ROOT / document).read_text(encoding="utf-8")
    blocks = "\n".join(re.findall(r"^```\w*\n(.*?)^```", text, re.MULTILINE | re.DOTALL))
    asked = set(re.findall(r"^canewright ([a-z]+)", blocks, re.MULTILINE))
    asked |= set(re.findall(r"`canewright ([a-z]+)", text))
    assert asked
    assert asked <= commands, f"{document} names {sorted(asked - commands)}."


def test_every_formula_example_in_the_readme_answers(capsys):
    from canewright.cli.formula_command import answer

    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    examples = re.findall(r"^canewright formula((?: \S+)*)", readme, re.MULTILINE)
    assert len(examples) >= 3
    for example in examples:
        answer(example.split(), as_json=False)
        assert capsys.readouterr().out


def test_links_between_documents_lead_somewhere():
    for document in [*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")]:
        for target in re.findall(r"\]\(([^)#:]+)\)", document.read_text(encoding="utf-8")):
            assert (document.parent / target).exists(), f"{name_of(document)} links to {target}."


def test_the_changelog_has_an_unreleased_part_with_its_four_headings():
    text = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    newest = text.split("\n## ")[1]
    assert newest.startswith("Unreleased\n")
    headings = re.findall(r"^### (.+)$", newest, re.MULTILINE)
    assert headings == ["Added", "Changed", "Fixed", "Numbers that changed"]


def test_no_tracked_file_names_a_path_of_somebodys_machine():
    folders = ("work", "tmp", "home", "root", "opt", "Users")
    machine = re.compile(r"(?<![\w.$*})~-])/(?:" + "|".join(folders) + r")/")
    assert machine.search("written to /" + "tmp/readings.csv")
    for path in tracked():
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        for number, line in enumerate(text.splitlines(), start=1):
            assert not machine.search(line), f"{name_of(path)}, line {number}: {line.strip()}"


def test_the_lock_files_pin_everything_and_name_no_index():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = {
        "requirements.txt": project["dependencies"],
        "requirements-test.txt": project["dependencies"] + project["optional-dependencies"]["test"],
    }
    pins = {}
    for name, dependencies in wanted.items():
        lines = (ROOT / name).read_text(encoding="utf-8").splitlines()
        pins[name] = {line.split(" ;")[0] for line in lines if line and line.lstrip()[0] != "#"}
        assert all(re.fullmatch(r"[a-z0-9.-]+==[\w.]+", pin) for pin in pins[name]), name
        locked = {pin.split("==")[0] for pin in pins[name]}
        for dependency in dependencies:
            package = re.match(r"[\w-]+", dependency)[0].lower()
            assert package in locked, f"{name} lacks {package}: run `make lock`."
    assert pins["requirements.txt"] <= pins["requirements-test.txt"]


def source_keys_in_use():
    """Keys by a file that uses each: decorators, check points, typical ranges, docstrings."""
    keys = {}
    for formula in registry.formulas().values():
        keys[formula.source] = formula.name
    for check in registry.checks():
        keys[check.source] = check.file
    known = registry.sources()
    for path in PACKAGE.rglob("*"):
        if path.suffix not in {".py", ".toml"} or path.name == "sources.toml":
            continue
        text = path.read_text(encoding="utf-8")
        for key in re.findall(r"\bsource\s*=\s*\"([a-z0-9_]+)\"", text):
            keys[key] = name_of(path)
        for paragraph in re.findall(r"^ *Sources:.*?(?:\n\s*\n|\"\"\")", text, re.M | re.S):
            for key in re.findall(r"\[([a-z0-9_]+)\]", paragraph):
                keys[key] = name_of(path)
        # Also tables of a data file named after their source: [tolerable.some_key].
        for key in re.findall(r"[\[\"'.]([a-z0-9_]+)[\]\"']", text):
            if key in known:
                keys.setdefault(key, name_of(path))
    return keys


def test_every_source_named_is_in_the_bibliography():
    known = registry.sources()
    missing = {key: where for key, where in source_keys_in_use().items() if key not in known}
    assert not missing


def test_every_source_in_the_bibliography_is_used():
    unused = set(registry.sources()) - set(source_keys_in_use())
    assert not unused, f"Nothing stands on {sorted(unused)}: use them or take them out."


def test_every_source_says_how_it_is_known():
    for source in registry.sources().values():
        assert source.known in registry.KNOWN, source.key
        assert len(source.text.split()) >= 4, f"{source.key}: {source.text!r} is no reference."


def test_the_generated_pages_name_every_formula_and_source():
    pages = docs_pages.pages()
    for name in registry.formulas():
        assert f"### {name}\n" in pages["formulas.md"]
    for key in registry.sources():
        assert f"## {key}\n" in pages["sources.md"]


def test_the_docs_command_writes_the_pages(tmp_path, capsys):
    from canewright.cli.main import main

    with pytest.raises(SystemExit) as left:
        main(["docs", "--write", str(tmp_path / "pages")])
    assert not left.value.code
    assert sorted(path.name for path in (tmp_path / "pages").iterdir()) == sorted(
        docs_pages.pages()
    )
    assert capsys.readouterr().err == ""


def test_a_folder_that_cannot_be_written_is_said_in_a_sentence(tmp_path, capsys):
    from canewright.cli.main import main

    occupied = tmp_path / "pages"
    occupied.write_text("a file", encoding="utf-8")
    with pytest.raises(SystemExit) as left:
        main(["docs", "--write", str(occupied)])
    assert left.value.code == 2
    assert "exists already" in capsys.readouterr().err
