"""The page on what if and what next: its plan and its keys are those of the tool."""

import re
from pathlib import Path

from canewright.account.study_plan import read_plan
from canewright.demo.factory import WELL_RUN

PAGE = Path(__file__).parents[2] / "docs" / "what-if-and-advice.md"


def test_the_plan_on_the_page_is_a_plan(tmp_path):
    (written,) = re.findall(r"```toml\n(.*?)```", PAGE.read_text("utf8"), re.DOTALL)
    (tmp_path / "plan.toml").write_text(written, "utf8")
    (tmp_path / "factory.toml").write_bytes(WELL_RUN.path.read_bytes())
    (tmp_path / "readings.csv").write_text("", "utf8")
    plan = read_plan(tmp_path / "plan.toml")
    assert plan.draws == 1000
    assert [vary.name for vary in plan.vary] == ["imbibition", "C crystallisers.temperature"]


def test_every_option_on_the_page_is_one_of_the_commands():
    from typer.main import get_command

    from canewright.cli.main import application

    command = get_command(application())
    known = {
        option
        for name in ("whatif", "advise", "measure", "study", "demo")
        for parameter in command.commands[name].params
        for option in parameter.opts
    }
    written = set(re.findall(r"--[a-z][a-z-]+", PAGE.read_text("utf8")))
    assert written - known == set()
