"""The rules of use-by dates: which day is the last one, and which date rules an opened unit.

A use-by date is inclusive: ISO 15223-1:2021, 5.1.4 defines it as the date *after which* the device is not to be used.
A lot without a date never expires by itself, whether its maker states none or nobody has read it yet; it goes last.
"""

from calendar import monthrange
from datetime import date, timedelta

from inventory.domain.vocabulary import UseByReading


def last_day_of_month(year: int, month: int) -> date:
    """Date meant by a label that gives year and month only (GS1 General Specifications 3.4, day 00)."""
    return date(year, month, monthrange(year, month)[1])


def opened_until(opened_on: date, opened_days: int) -> date:
    """Last day of use of a unit opened on a day whose leaflet grants so many days after that day."""
    return opened_on + timedelta(days=opened_days)


def effective_use_by(use_by: date | None, opened_on: date | None, opened_days: int | None) -> date | None:
    """Last day of use of one holding: the earlier of the lot's use-by and the end of its opened life.

    Args:
        use_by: the lot's use-by date, None where there is none.
        opened_on: the day the unit was opened, None while sealed.
        opened_days: days an opened unit stays usable; None where the leaflet states nothing.

    Returns:
        The last usable day, or None where nothing limits it.
    """
    if opened_on is None or opened_days is None:
        return use_by
    opened = opened_until(opened_on, opened_days)
    return opened if use_by is None else min(use_by, opened)


def in_date(last_day: date | None, today: date) -> bool:
    """Whether something whose last day of use is ``last_day`` may be used today; the last day itself counts."""
    return last_day is None or today <= last_day


def reading_fits(reading: UseByReading, use_by: date | None) -> bool:
    """A date is there exactly where one was read, as a day or as a month."""
    return (use_by is not None) == (reading in (UseByReading.DAY, UseByReading.MONTH))
