"""Rules of the house that no other tool checks."""

import ast
import re
import tomllib
from collections.abc import Iterator
from importlib.metadata import requires
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.architecture.project import ROOT, project_files

TOP = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "inventory", "tui", "seed_data", "tests"}
# Written so that this file doesn't hold what it looks for.
REGISTRIES = re.compile(r"pypi[.]org|python(?:hosted)[.]org|registry[.]npm(?:js)|(?:deb|security)[.]debian[.]org")
MACHINE_PATHS = re.compile(r"(?<![\w.~-])/(?:home|root|work|Users|mnt|opt)/[\w.]")
LONGEST_MODULE = 500
README, CI_RUN = (ROOT / "README.md").read_text(), (ROOT / ".ci/run").read_text()
CONSTRAINTS = (ROOT / ".ci/constraints.txt").read_text()
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]


def texts() -> Iterator[tuple[Path, str]]:
    for file in project_files():
        yield file, (ROOT / file).read_text()


def modules() -> Iterator[tuple[Path, str]]:
    yield from ((file, text) for file, text in texts() if file.suffix == ".py" and file.parts[0] != "tests")


def declared() -> list[Requirement]:
    """Return what the program and its tests ask for."""
    return [Requirement(line) for line in PROJECT["dependencies"] + PROJECT["optional-dependencies"]["test"]]


def pinned() -> dict[str, str]:
    lines = [line for line in CONSTRAINTS.splitlines() if not line.startswith("#")]
    return dict(line.split("==") for line in lines)


def test_the_top_folder_holds_what_was_agreed_and_no_more() -> None:
    assert {file.parts[0] for file in project_files() if not file.parts[0].startswith(".")} == TOP


@pytest.mark.parametrize("unwanted", [REGISTRIES, MACHINE_PATHS], ids=["registries", "paths"])
def test_no_file_names_a_package_registry_or_a_folder_of_one_machine(unwanted: re.Pattern[str]) -> None:
    found = {f"{file}: {match[0]}" for file, text in texts() for match in unwanted.finditer(text)}
    assert not found


def test_the_readme_holds_two_commands_and_ci_runs_the_second_as_it_stands() -> None:
    commands = re.findall(r"^```sh\n(.+)\n```$", README, re.MULTILINE)[:2]
    opens_the_demo, passes_the_tests = commands
    assert opens_the_demo.endswith(".venv/bin/impression-stock demo")
    assert f'check "{passes_the_tests}"' in CI_RUN.splitlines()


def test_constraints_are_names_and_versions_only() -> None:
    lines = [line for line in CONSTRAINTS.splitlines() if not line.startswith("# ")]
    assert not [line for line in lines if not re.fullmatch(r"[A-Za-z0-9._-]+==[A-Za-z0-9.]+", line)]


def test_every_package_that_gets_installed_has_its_version_held() -> None:
    held = {canonicalize_name(name) for name in pinned()}
    asked, waiting = set[str](), declared()
    while waiting:
        requirement = waiting.pop()
        name = canonicalize_name(requirement.name)
        if any(wanted(requirement, extra) for extra in ["", *requirement.extras]) and name not in asked:
            asked.add(name)
            below = [Requirement(line) for line in requires(name) or []]
            waiting += [each for each in below if any(wanted(each, extra) for extra in ["", *requirement.extras])]
    assert not asked - held


def wanted(requirement: Requirement, extra: str) -> bool:
    return requirement.marker is None or requirement.marker.evaluate({"extra": extra})


def test_every_version_held_is_one_that_the_project_accepts() -> None:
    held = {canonicalize_name(name): version for name, version in pinned().items()}
    asked = {canonicalize_name(each.name): each.specifier for each in declared()}
    assert not [name for name, specifier in asked.items() if not specifier.contains(held[name])]


def test_developers_can_read_why_each_package_is_there() -> None:
    reasons = [line for line in (ROOT / "DEVELOPERS.md").read_text().splitlines() if line.startswith("| ")]
    explained = {name for line in reasons for name in re.split(r"[| ,]+", line.split("|")[1])}
    assert not [each.name for each in declared() if each.name not in explained]


def test_hooks_before_a_commit_come_from_this_repository_alone() -> None:
    text = (ROOT / ".pre-commit-config.yaml").read_text()
    assert re.findall(r"repo: *(\S+)", text) == ["local"]


def test_no_module_is_longer_than_a_person_reads_at_once() -> None:
    # a migration is one list of columns: nothing in it is looked for by name
    written = [(file, text) for file, text in modules() if "migrations" not in file.parts]
    assert not [f"{file}: {n}" for file, text in written if (n := len(text.splitlines())) > LONGEST_MODULE]


def test_one_module_alone_reads_the_clock_for_all_below_the_screens() -> None:
    readers = modules_with("datetime.now", "datetime.utcnow", "date.today", "time.time")
    assert {file for file in readers if file.startswith("inventory/")} == {"inventory/service/clock.py"}


def test_one_module_alone_reads_the_environment() -> None:
    assert modules_with("os.environ", "os.getenv") == {"inventory/settings.py"}


def modules_with(*names: str) -> set[str]:
    return {
        file.as_posix()
        for file, text in modules()
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Attribute) and ast.unparse(node).endswith(names)
    }
