"""What all tests share: a server, fresh stores, a known environment, and how hard properties are tried."""

import gc
import os

import pytest
from hypothesis import settings

pytest_plugins = ["tests.postgres", "tests.stores", "tests.demos", "tests.surroundings"]

# "ci" tries the same examples in every run; "deep" is for a long look by hand: --hypothesis-profile deep
settings.register_profile("dev", deadline=None)
settings.register_profile("ci", max_examples=60, deadline=None, derandomize=True, database=None, print_blob=True)
settings.register_profile("deep", deadline=None, max_examples=5_000)
settings.load_profile("ci" if os.environ.get("CI") == "true" else "dev")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """Use two workers a core: a third of the time is spent waiting for disks, servers and timers of the screens."""
    return 2 * (os.cpu_count() or 1)


def pytest_collection_finish() -> None:
    """Look for garbage less often: what was imported stays anyway, and screens leave much behind in little time."""
    gc.freeze()
    gc.set_threshold(100_000, 20, 50)
