"""What is loaded when: the library of the screens only with a screen, the one for numbers only with a forecast.

The contracts in pyproject.toml read the import statements; these tests look at what a running program has loaded.
"""

import json
import sys

import pytest

from tests.architecture.project import ROOT, commands, package_files, run

MODULES = [
    ".".join(file.with_suffix("").parts).removesuffix(".__init__") for file in package_files() if file.suffix == ".py"
]
LOAD = """
import importlib, json, sys
for name in sys.argv[1:]:
    importlib.import_module(name)
print(json.dumps(sorted({name.split(".")[0] for name in sys.modules})))
"""

HELP = """
import contextlib, io, json, sys
from tui.__main__ import main
for name in sys.argv[1:]:
    with contextlib.redirect_stdout(io.StringIO()) as printed, contextlib.suppress(SystemExit):
        main([name, "--help"])
    assert f"usage: impression-stock {name}" in printed.getvalue()
print(json.dumps(sorted({name.split(".")[0] for name in sys.modules})))
"""


def loaded_by(*modules: str) -> set[str]:
    """Import the modules in a program of their own and return the libraries it has loaded then."""
    return set(json.loads(run(sys.executable, "-c", LOAD, *modules, cwd=ROOT)))


def test_help_for_every_command_costs_no_more_than_reading_the_command_line() -> None:
    loaded = set(json.loads(run(sys.executable, "-c", HELP, *commands(), cwd=ROOT)))
    assert loaded.isdisjoint({"textual", "rich", "sqlmodel", "sqlalchemy", "pydantic", "psycopg", "alembic", "numpy"})


def modules_of(package: str) -> list[str]:
    """List the modules of a package, but for the scripts that only the library for migrations can start."""
    found = [module for module in MODULES if f"{module}.".startswith(f"{package}.") and ".migrations." not in module]
    assert len(found) > 1, f"{package} has no modules"
    return found


@pytest.mark.parametrize("package", ["inventory.service", "inventory.store"])
def test_no_service_and_no_store_loads_the_screens(package: str) -> None:
    assert loaded_by(*modules_of(package)).isdisjoint({"textual", "rich", "tui"})


def test_the_rules_of_the_trade_load_neither_a_database_nor_numbers_nor_screens() -> None:
    unwanted = {
        "sqlmodel",
        "sqlalchemy",
        "sqlite3",
        "psycopg",
        "alembic",
        "pydantic",
        "numpy",
        "scipy",
        "textual",
        "rich",
    }
    assert loaded_by(*modules_of("inventory.domain")).isdisjoint(unwanted)


def test_a_service_starts_without_the_library_for_numbers_and_without_the_one_for_migrations() -> None:
    assert loaded_by(*modules_of("inventory.service")).isdisjoint({"numpy", "scipy", "alembic"})
