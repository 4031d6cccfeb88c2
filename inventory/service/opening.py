"""Open a practice by the address of its store."""

from datetime import date

from inventory.service.clock import Clock
from inventory.service.practice import Practice
from inventory.store.engine import open_store


def open_practice(
    address: str, *, today: date | None = None, create: bool = False, clock: Clock | None = None
) -> Practice:
    """Open the store at a path or URL and work in it.

    Args:
        address: file path or database URL.
        today: the day to work on instead of the present one.
        create: whether an absent file may be created.
        clock: another clock than the machine's, for tests and seeding.

    Raises:
        BadInput, StoreUnreachable, WrongStore, NewerStore: as ``open_store`` says.
    """
    return Practice(open_store(address, create=create), clock or Clock(day=today))
