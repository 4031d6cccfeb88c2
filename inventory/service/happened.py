"""The day something happened, as people type it afterwards: what can't have been on that day, whatever was done.

Stock is not used, opened, moved or counted before it was there. A lot is there from the day of its first receipt, an
opened unit from the day it was opened. A mistyped year would otherwise make a cartridge open for longer than it exists.
"""

from datetime import date

from inventory.errors import BadInput
from inventory.store.queries.stock import Stand


def check_stood(on: date, stand: Stand, what: str) -> None:
    """Refuse a day on which a holding was not there yet.

    Args:
        on: the day it is said to have happened.
        stand: the holding.
        what: the holding in words, for the error.

    Raises:
        BadInput: its lot was received, or it was opened, after that day.
    """
    check_received(on, stand.first_received_on, what)
    if stand.opened_on is not None and on < stand.opened_on:
        raise BadInput(f"date: {on} is before {what} was opened, {stand.opened_on}.", "Check the day, or the lot.")


def check_received(on: date, first_received_on: date, what: str) -> None:
    """Refuse a day before the first receipt of a lot.

    Raises:
        BadInput: it was received after that day.
    """
    if on < first_received_on:
        raise BadInput(
            f"date: {on} is before {what} was first received, {first_received_on}.", "Check the day, or the lot."
        )
