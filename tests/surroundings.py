"""The same surroundings for every test, and for every program that a test starts, on whatever machine.

Zone, language and size of the terminal are set, what a user has set is put away, and the folders where programs keep
their settings and data lie in the run's own, so no test can read or change a user's practice.
"""

import os
import time

import pytest

from tests.postgres import AS_ROOT, SERVER, run_folder

OF_TERMINALS = ("NO_COLOR", "FORCE_COLOR", "COLUMNS", "LINES")
KNOWN = {"TZ": "UTC", "LANG": "C.UTF-8", "LC_ALL": "C.UTF-8", "LANGUAGE": ""}


def pytest_configure(config: pytest.Config) -> None:
    of_users = [name for name in os.environ if name.startswith("IMPRESSION_STOCK_")]
    for name in {*OF_TERMINALS, *of_users} - {SERVER, AS_ROOT}:
        os.environ.pop(name, None)
    os.environ |= KNOWN
    for kind in ("CONFIG", "DATA", "STATE", "CACHE"):
        os.environ[f"XDG_{kind}_HOME"] = str(run_folder(config) / kind.lower())
    if hasattr(time, "tzset"):
        time.tzset()
