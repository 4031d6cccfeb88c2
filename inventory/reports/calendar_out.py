"""Days to mind as a calendar file (iCalendar, RFC 5545) that an office calendar reads or subscribes to.

Every day is an event of a whole day under an identifier that stays, so that a later file changes the event instead of
adding another: what it was written at serves as its number of changes (SEQUENCE), in minutes, which only grows.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

FIRST = datetime(2020, 1, 1, tzinfo=UTC)
MAKER = "-//impression-stock//days to mind//EN"


@dataclass(frozen=True, slots=True)
class CalendarDay:
    """One day to mind.

    Attributes:
        uid: stays the same for the same thing, whatever its day.
        on: the day.
        title: what it is, in a few words.
        text: more of it; lines.
        kind: use-by, delivery or order.
    """

    uid: str
    on: date
    title: str
    text: str
    kind: str


def as_ics(days: Iterable[CalendarDay], *, made: datetime) -> bytes:
    """The days as the content of an .ics file; ``made`` is the present moment, aware."""
    import icalendar  # noqa: PLC0415 - a third of a second

    calendar = icalendar.Calendar()
    calendar.add("prodid", MAKER)
    calendar.add("version", "2.0")
    for day in days:
        event = icalendar.Event()
        event.add("uid", day.uid)
        event.add("dtstamp", made.astimezone(UTC).replace(microsecond=0))
        event.add("sequence", max(0, (made - FIRST) // timedelta(minutes=1)))
        event.add("dtstart", day.on)
        event.add("dtend", day.on + timedelta(days=1))
        event.add("summary", day.title)
        event.add("description", day.text)
        event.add("categories", [day.kind])
        event.add("transp", "TRANSPARENT")  # nobody is busy because of it
        calendar.add_component(event)
    return bytes(calendar.to_ical())
