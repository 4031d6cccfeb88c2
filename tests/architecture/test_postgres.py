"""The half of the tests that needs PostgreSQL is never silently left out."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.architecture.project import ROOT
from tests.postgres import SERVER, Postgres

# A run of one test that asks for a store, on a machine without a server, or with one.
RUN = """
import sys, pytest, tests.postgres
if sys.argv[1] == "without":
    tests.postgres.why_no_server = lambda: "this machine has none"
sys.exit(pytest.main(["-n0", "-p", "tests.postgres", "-p", "tests.stores", "-c", "pytest.ini", "test_one.py"]))
"""


def run(folder: Path, server: str, **environment: str) -> tuple[int, str]:
    """Run the one test and return the exit status with what was printed."""
    (folder / "pytest.ini").write_text("[pytest]\naddopts = -q\n")
    (folder / "test_one.py").write_text("def test_one(store):\n    assert store.revision() >= 0\n")
    around = (
        {name: value for name, value in os.environ.items() if name != "CI"} | {"PYTHONPATH": str(ROOT)} | environment
    )
    command = [sys.executable, "-c", RUN, server]
    done = subprocess.run(command, cwd=folder, env=around, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


def test_without_a_server_the_run_passes_on_sqlite_and_says_loudly_what_was_left_out(tmp_path: Path) -> None:
    status, printed = run(tmp_path, "without")
    assert status == 0
    assert "PostgreSQL DID NOT RUN" in printed
    assert "1 tests were left out: this machine has none." in printed
    assert "1 passed" in printed


def test_without_a_server_a_run_in_ci_fails(tmp_path: Path) -> None:
    status, printed = run(tmp_path, "without", CI="true")
    assert status == pytest.ExitCode.TESTS_FAILED
    assert "1 passed" in printed


def test_a_server_of_ones_own_is_used_and_left_as_it_was(tmp_path: Path, postgres: Postgres) -> None:
    status, printed = run(tmp_path, "with", CI="true", **{SERVER: postgres.url})
    assert status == 0, printed
    assert "2 passed" in printed
    names = {name for (name,) in postgres.connection.execute("SELECT datname FROM pg_database").fetchall()}
    own = {name for name in names if name.startswith(postgres.folder.name)}
    assert names - own == {"postgres", "template0", "template1"}
