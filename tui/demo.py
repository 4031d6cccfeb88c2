"""Where today's demo practice is kept, and how it is made; for the command and for the first start alike."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from inventory import settings

if TYPE_CHECKING:
    from inventory.service.seeding import Tell

DEMO_FILES = "demo-????-??-??.db*"
PREPARING = "Preparing the demo practice"


def todays_demo(today: date, teller: "Callable[[str], Tell]", *, fresh: bool = False) -> Path:
    """Today's demo practice, made where it is missing; those of other days (where fresh: today's too) are removed.

    Args:
        today: the day the story ends.
        teller: makes what tells how far the making is, of the words for it.
        fresh: begin anew.
    """
    path = settings.data_folder() / f"demo-{today.isoformat()}.db"
    for file in path.parent.glob(DEMO_FILES):
        if fresh or not file.name.startswith(path.name):
            file.unlink(missing_ok=True)
    if not path.exists():
        _make(path, today, teller(PREPARING))
    return path


def _make(path: Path, today: date, tell: "Tell") -> None:
    """Seed under another name first: who stops it halfway finds no half story tomorrow."""
    from inventory.service import opening, seeding  # noqa: PLC0415 - help for a command need not load the store

    half = path.with_suffix(".half")
    half.unlink(missing_ok=True)
    practice = opening.open_practice(str(half), today=today, create=True)
    try:
        seeding.seed_demo(practice.store, today, tell)
    finally:
        practice.store.close()
    half.replace(path)
