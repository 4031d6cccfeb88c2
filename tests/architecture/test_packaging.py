"""What a practice installs is the wheel, far from any checkout: everything the program needs has to be in it."""

import json
import os
import shutil
import sys
import sysconfig
import venv
from pathlib import Path
from zipfile import ZipFile

import pytest

from tests.architecture.project import ROOT, package_files, run

pytestmark = pytest.mark.xdist_group("packaging")  # one worker builds, once
OFFLINE = ("--quiet", "--no-index", "--no-deps", "--disable-pip-version-check")
LOOK = """
import json, sys
from importlib.resources import files
places = {name: files(name.split("/")[0]).joinpath(*name.split("/")[1:]) for name in json.loads(sys.argv[1])}
print(json.dumps({name: str(place) for name, place in places.items() if place.is_file()}))
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel from a copy of the project."""
    source = tmp_path_factory.mktemp("source")
    for file in [
        *package_files(),
        Path("pyproject.toml"),
        Path("README.md"),
        Path("LICENSE"),
        Path("tests/__init__.py"),
    ]:
        (source / file).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(ROOT / file, source / file)
    run(sys.executable, "-m", "pip", "wheel", *OFFLINE, "--no-build-isolation", "-w", "wheels", ".", cwd=source)
    return next((source / "wheels").glob("*.whl"))


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Install the wheel into an environment of its own, which finds the libraries where these tests find them.

    The checkout is not found that way: what points to it from there works only in the environment it was made for.
    """
    home = tmp_path_factory.mktemp("installed")
    venv.create(home, with_pip=False, symlinks=os.name != "nt")
    paths = sysconfig.get_paths(scheme="venv", vars={"base": str(home), "platbase": str(home)})
    run(sys.executable, "-m", "pip", "--python", home, "install", *OFFLINE, wheel, cwd=home)
    libraries = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    (Path(paths["purelib"]) / "libraries.pth").write_text("\n".join(libraries))
    return Path(paths["scripts"])


def test_the_wheel_holds_every_file_of_the_program_and_nothing_else(wheel: Path) -> None:
    inside = {name for name in ZipFile(wheel).namelist() if ".dist-info/" not in name}
    assert inside == {file.as_posix() for file in package_files()}


def test_installed_far_from_the_checkout_the_program_finds_its_demo_data_styles_and_migrations(
    installed: Path, tmp_path: Path
) -> None:
    wanted = [file.as_posix() for file in package_files()]
    found = json.loads(run(installed / "python", "-c", LOOK, json.dumps(wanted), cwd=tmp_path))
    assert list(found) == wanted
    assert all(Path(place).is_relative_to(installed.parent) for place in found.values())


def test_installed_far_from_the_checkout_the_program_sets_up_a_practice_and_checks_its_book(
    installed: Path, tmp_path: Path
) -> None:
    program, store = installed / "impression-stock", tmp_path / "practice.db"
    answers = ("--yes", "--people", "AB:manager", "--tray-line", "Steel: S M L")
    run(program, "set-up", *answers, "--database", store, cwd=tmp_path)
    assert "Nothing is wrong." in run(program, "verify", "--database", store, cwd=tmp_path)
    assert [file.name for file in tmp_path.iterdir()] == [store.name]


def test_tests_are_not_installed(installed: Path, tmp_path: Path) -> None:
    look = "from importlib.util import find_spec; print(find_spec('tests'))"
    assert run(installed / "python", "-c", look, cwd=tmp_path).strip() == "None"
