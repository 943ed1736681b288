"""The demonstration factory, prepared once for all tests that want a whole factory."""

import os

# Before numpy is imported: its library of linear algebra starts a thread for each core, and
# tests that run at the same time then wait for each other (measured on 2 busy cores: 23 s
# instead of 4 s for ten shifts of the demonstration factory).
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest

from canewright.demo.factory import WELL_RUN
from canewright.demo.plan import planned
from canewright.demo.truth import Workshop
from canewright.engine.nominal import prepare
from canewright.engine.points import Points
from canewright.files.factory import read_factory


@pytest.fixture(scope="session")
def halcyon_bend():
    """The demonstration factory, compiled and solved at its usual point."""
    return prepare(read_factory(WELL_RUN.path))


@pytest.fixture(scope="session")
def workshop(halcyon_bend):
    """Makes up shifts of it, read as the demonstration is read."""
    return Workshop(halcyon_bend, planned(Points(halcyon_bend.model), WELL_RUN.plan))
