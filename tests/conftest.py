"""The demonstration factory, prepared once for all tests that want a whole factory."""

import os
from pathlib import Path

# Before numpy is imported: its library of linear algebra starts a thread for each core, and
# tests that run at the same time then wait for each other (measured on 2 busy cores: 23 s
# instead of 4 s for ten shifts of the demonstration factory).
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Prepared factories are shared by the processes that test, and kept apart from the user's.
os.environ["CANEWRIGHT_CACHE"] = str(Path(__file__).parents[1] / ".pytest_cache" / "prepared")

import pytest

from canewright.demo.factory import WELL_RUN
from canewright.demo.plan import planned
from canewright.demo.truth import Workshop
from canewright.engine.equations.cache import prepared
from canewright.engine.equations.points import Points
from canewright.files.factory import read_factory


@pytest.fixture(scope="session")
def halcyon_bend():
    """The demonstration factory, compiled and solved at its usual point."""
    return prepared(read_factory(WELL_RUN.path))


@pytest.fixture(scope="session")
def workshop(halcyon_bend):
    """Makes up shifts of it, read as the demonstration is read."""
    return Workshop(halcyon_bend, planned(Points(halcyon_bend.model), WELL_RUN.plan))
