"""What is loaded when: the library of the screens only with a screen, the one for numbers only with a forecast.

The contracts in pyproject.toml read the import statements; these tests look at what a running program has loaded.
"""

import json
import sys
from pathlib import Path

import pytest

from tests.architecture.project import ROOT, commands, package_files, run
from tests.stores import make_tables

MODULES = [
    ".".join(file.with_suffix("").parts).removesuffix(".__init__") for file in package_files() if file.suffix == ".py"
]
DATABASES = ("sqlmodel", "sqlalchemy", "pydantic", "sqlite3", "psycopg", "alembic")
NUMBERS = ("numpy", "scipy")
SCREENS = ("textual", "rich")
LOAD = """
import importlib, json, sys
for name in sys.argv[1:]:
    importlib.import_module(name)
print(json.dumps(sorted({name.split(".")[0] for name in sys.modules})))
"""
COMMANDS = """
import contextlib, io, json, sys
from tui.__main__ import main
for name in json.loads(sys.argv[1]):
    with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):
        assert main([name, *sys.argv[2:]]) in {0, 1, 2}, name
print(json.dumps(sorted({name.split(".")[0] for name in sys.modules})))
"""


def loaded_by(*modules: str) -> set[str]:
    """Import the modules in a program of their own and return the libraries it has loaded then."""
    return set(json.loads(run(sys.executable, "-c", LOAD, *modules, cwd=ROOT)))


def loaded_by_commands(names: list[str], *options: str) -> set[str]:
    """Give the commands to a program of their own, one after the other, and return the libraries it has loaded then."""
    return set(json.loads(run(sys.executable, "-c", COMMANDS, json.dumps(names), *options, cwd=ROOT)))


def modules_of(package: str) -> list[str]:
    """List the modules of a package, but for the scripts that only the library for migrations can start."""
    found = [module for module in MODULES if f"{module}.".startswith(f"{package}.") and ".migrations." not in module]
    assert len(found) > 1, f"{package} has no modules"
    return found


def test_help_for_every_command_costs_no_more_than_reading_the_command_line() -> None:
    loaded = loaded_by_commands(commands(), "--help")
    assert loaded.isdisjoint({*DATABASES, *NUMBERS, *SCREENS})


def test_the_server_for_browsers_leaves_the_screens_to_the_processes_it_starts() -> None:
    assert loaded_by("tui.serving.server", "tui.commands.serving").isdisjoint({*SCREENS, *DATABASES, *NUMBERS})


@pytest.mark.parametrize("package", ["inventory.service", "inventory.store"])
def test_no_service_and_no_store_loads_the_screens(package: str) -> None:
    assert loaded_by(*modules_of(package)).isdisjoint({*SCREENS, "tui"})


def test_the_rules_of_the_trade_load_neither_a_database_nor_numbers_nor_screens() -> None:
    assert loaded_by(*modules_of("inventory.domain")).isdisjoint({*DATABASES, *NUMBERS, *SCREENS})


def test_a_service_starts_without_the_library_for_numbers_and_without_the_one_for_migrations() -> None:
    assert loaded_by(*modules_of("inventory.service")).isdisjoint({*NUMBERS, "alembic"})


def test_no_plain_command_loads_the_screens(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path}/practice.db"
    make_tables(url)
    # living two years takes long, and a server never ends by itself
    plain = [name for name in commands() if name not in {"demo", "seed", "serve"}]
    loaded = loaded_by_commands(plain, "--database", url)
    assert "sqlmodel" in loaded, "no command got as far as the store"
    assert loaded.isdisjoint(SCREENS)
