"""What a day begins with: who works here, and the visits of the next days with what they wait for.

The start screen asks for all of it in two calls, so that one look shows one state of the book.
"""

from dataclasses import dataclass
from datetime import date, timedelta

from inventory.domain.vocabulary import VisitState
from inventory.service import clock_check, forecasting, readiness, visits
from inventory.service.practice import Practice
from inventory.service.readiness import Readiness
from inventory.service.visits import VisitCard
from inventory.store.queries import people
from inventory.store.queries import visits as query
from inventory.store.queries.visits import VisitRow

OVERDUE_DAYS = 14


@dataclass(frozen=True, slots=True)
class Desktop:
    """What a workstation needs to know before it shows anything.

    Attributes:
        today: the practice-local date.
        people: initials of those who work here; nobody in a store where no practice has been set up.
        day_first: how 3/12 is read.
        currency: its code, as it stands in the heads of columns.
        caution: what is the matter with this workstation's clock; empty where nothing is.
    """

    today: date
    people: tuple[str, ...]
    day_first: bool
    currency: str
    caution: str = ""


@dataclass(frozen=True, slots=True)
class VisitAhead:
    """A visit of the day list; ``readiness`` is there for visits still to come, today's included."""

    card: VisitCard
    readiness: Readiness | None = None

    @property
    def missing(self) -> tuple[str, ...]:
        """What the visit is short of, in words."""
        return self.readiness.missing if self.readiness else ()

    @property
    def waits(self) -> tuple[str, ...]:
        """The deliveries that would make the visit ready, in words."""
        return self.readiness.waits if self.readiness else ()

    @property
    def notes(self) -> tuple[str, ...]:
        """What else there is to say of its readiness, in words."""
        return self.readiness.notes if self.readiness else ()


@dataclass(frozen=True, slots=True)
class DayList:
    """Visits that want something: past ones not booked out, then today's, then those of the next days."""

    today: date
    visits: tuple[VisitAhead, ...]

    @property
    def first_to_book(self) -> VisitAhead | None:
        """The first of today's visits that is still to be booked out; else the first past one that is."""
        planned = [one for one in self.visits if one.card.state is VisitState.PLANNED and one.card.on <= self.today]
        return next((one for one in planned if one.card.on == self.today), planned[0] if planned else None)


def desktop(practice: Practice) -> Desktop:
    """Who works here, and how dates and money are read."""
    with practice.reading() as desk:
        return Desktop(
            today=desk.today,
            people=tuple(person.initials for person in people.active_people(desk.session)),
            day_first=desk.settings["day_first"],
            currency=desk.settings["currency"],
            caution=clock_check.caution(desk),
        )


def day_list(practice: Practice, *, days: int | None = None) -> DayList:
    """Visits that want something, and today's that are done.

    Args:
        practice: the practice at work.
        days: how far to look ahead; the practice's horizon where not given.
    """
    with practice.reading() as desk:
        today = desk.today
        until = today + timedelta(days=days if days is not None else desk.settings["horizon_days"])
        found = query.visits(desk.session, since=today - timedelta(days=OVERDUE_DAYS), until=until)
        cards = visits.cards(desk, [row for row in found if _wanted(row, today)])
        found_ready = readiness.readiness_of(desk, forecasting.picture(desk), until)
        ready = {one.visit_id: one for one in found_ready}
        return DayList(today, tuple(VisitAhead(card, ready.get(card.visit_id)) for card in cards))


def _wanted(row: VisitRow, today: date) -> bool:
    done_today = row.state is VisitState.DONE and row.on == today
    return row.state is VisitState.PLANNED or done_today
