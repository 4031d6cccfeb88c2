"""The demo practice, seeded once in a run for each day asked for and shared by all workers; tests work on copies.

Its two years take a while to live, so days that matter only as the story's last one are reached by its last months.
"""

import shutil
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Protocol

import fasteners  # type: ignore[import-untyped]  # it has no types
import pytest

from tests.postgres import run_folder


class DemoOn(Protocol):
    """Gives the file of the demo practice as it was seeded on a day, with all its days or only the last ones."""

    def __call__(self, day: date, days: int | None = None) -> Path: ...


@pytest.fixture(scope="session")
def demo_on(pytestconfig: pytest.Config) -> DemoOn:
    """Give the file of the demo practice as it was seeded on a day; copy it before changing anything."""
    folder = run_folder(pytestconfig)

    def seeded(day: date, days: int | None = None) -> Path:
        path = folder / f"demo-{day}-{days or 'all'}.db"
        with fasteners.InterProcessLock(path.with_suffix(".lock")):
            if not path.exists():
                started = path.with_suffix(".started")
                _seed(started, day, days)
                started.rename(path)
        return path

    return seeded


def _seed(path: Path, day: date, days: int | None) -> None:
    from inventory.service import seeding  # noqa: PLC0415 - tests of pure rules need not wait for it
    from inventory.store.engine import open_store  # noqa: PLC0415

    with closing(open_store(str(path))) as store:
        seeding.seed_demo(store, day, days=days)


def copy_of(demo: Path, folder: Path) -> Path:
    """A copy of a demo practice to work on."""
    return Path(shutil.copy(demo, folder / "demo.db"))
