"""A stocked practice for the screens, made once per run and copied for each test."""

import shutil
from collections.abc import Iterator
from contextlib import closing
from itertools import count
from pathlib import Path

import pytest

from inventory.service.practice import Practice
from inventory.store.engine import Store, open_store
from tests.clinic import Clinic
from tests.tui.at_work import practice_on


@pytest.fixture(scope="session")
def clinic_file(tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> Path:
    """The stocked clinic of `tests.clinic`, without visits."""
    path = tmp_path_factory.mktemp("clinic") / "practice.db"
    shutil.copy(sqlite_template, path)
    with closing(open_store(f"sqlite:///{path}")) as store:
        Clinic.stocked(store)
    return path


@pytest.fixture
def clinic_store(clinic_file: Path, tmp_path: Path) -> Iterator[Store]:
    path = shutil.copy(clinic_file, tmp_path / "clinic.db")
    with closing(open_store(f"sqlite:///{path}")) as store:
        yield store


@pytest.fixture
def practice(clinic_store: Store) -> Practice:
    return practice_on(clinic_store)


@pytest.fixture
def clinic(practice: Practice) -> Clinic:
    """The clinic's hands: they plan visits and receive lots behind the screens' back."""
    return Clinic(practice, (f"screen-{number}" for number in count()))
