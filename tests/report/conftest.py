"""The demonstration on disk, balanced once, for all tests of reports."""

import dataclasses
from pathlib import Path

import pytest

from canewright.account import balance
from canewright.demo.factory import WELL_RUN, write_demonstration
from canewright.report.content import Letterhead
from canewright.report.same_again import input_file
from canewright.report.sheets import shift_report

SHIFTS = 4
HEAD = Letterhead(
    name="Halcyon Bend",
    lines=("Invented Road 1", "Telephone 000"),
    document="F-12, issue 3",
    signatures=("Shift chemist", "Chief chemist"),
)


@pytest.fixture(scope="session")
def made_up(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("made-up")
    write_demonstration(WELL_RUN, folder, SHIFTS)
    return folder


@pytest.fixture(scope="session")
def account(made_up):
    return balance(made_up / "factory.toml", made_up / "readings.csv")


@pytest.fixture(scope="session")
def report_of(made_up, account):
    """A report of a kind on the demonstration's shift."""
    files = (
        input_file("factory", made_up / "factory.toml"),
        input_file("readings", made_up / "readings.csv"),
    )
    made = {}

    def report(kind, **changes):
        if kind not in made:
            made[kind] = shift_report(kind, account, files, HEAD)
        return dataclasses.replace(made[kind], **changes) if changes else made[kind]

    return report
