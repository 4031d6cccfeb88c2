"""A practice at work: its store and its clock, and what every service needs first (who, when, which settings)."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from inventory.domain.abc_classes import PERCENT, WEEKS
from inventory.domain.vocabulary import PlaceRole
from inventory.errors import BadInput, NotFound
from inventory.service.clock import Clock
from inventory.store.engine import Session, Store
from inventory.store.queries import people
from inventory.store.tables import Change, Place

DEFAULTS: dict[str, Any] = {
    "time_zone": "UTC",
    "currency": "EUR",
    "day_first": True,  # how 3/12 is read
    "review_weekday": 1,  # ISO number: Monday
    "review_days": 7,
    "horizon_days": 14,
    "short_life_days": 90,  # a delivery with less remaining life is warned about
    "warn_days": 90,
    "pour_warn_hours": 24,  # an impression not sent yet is a line of the day so long before it has to be poured
    "tray_prior_weight": 10,  # cases that the size prior counts for
    "tray_target_percent": 95,  # chance of a fitting tray from which on a visit of unknown size counts as ready
    "tray_away_days": 7,  # until a reusable tray is there again after a visit
    "service_ppm": {"vital": 995_000, "essential": 990_000, "normal": 990_000},
    "order_rule": "by_risk",  # or "min_max": the handbook's simple way, with the months below
    "min_max": {"lead_months": None, "safety_months": None, "interval_months": 1, "review": "continuous"},
    "holding_ppm": 100_000,  # what holding stock for a year costs, in a million of its price
    "fee_share_ppm": 250_000,  # of a delivery's fee, what one item's order is charged with
    "abc_percent": dict(PERCENT),  # where classes A and B end, in percent of the value of a year's use
    "count_weeks": dict(WEEKS),  # every how many weeks items of each category are counted
    "practice_changed_on": "",  # day of the last big change of practice: nothing is learned from before; empty: none
    "practice_code": "",
    "calendar_kinds": {},  # case kind by the category or text that an event of the practice's calendar has
    "calendar_reference": "case",  # the word that stands before a case reference in such an event
    "import_columns": {},  # by kind of file and header: which of our columns those of foreign names are
    "expected_weekly": {},  # visits a week by case kind code, believed until history says otherwise
}


@dataclass(frozen=True, slots=True)
class Practice:
    """What every service is called with: an opened store and a clock."""

    store: Store
    clock: Clock

    @contextmanager
    def reading(self) -> Iterator["Desk"]:
        """A consistent look at the store."""
        with self.store.reading() as session:
            settings = _settings(session)
            yield Desk(session, self.clock.stopped(), settings)

    @contextmanager
    def writing(self) -> Iterator["Desk"]:
        """One unit of work, committed whole or not at all."""
        with self.store.writing() as session:
            settings = _settings(session)  # the first statement: on SQLite whoever gets past it is alone
            yield Desk(session, self.clock.stopped(), settings)


@dataclass(frozen=True, slots=True)
class Desk:
    """One unit of work: the session, the practice's settings, and the moment and day at which all of it happens."""

    session: Session
    clock: Clock
    settings: dict[str, Any]

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.settings["time_zone"])

    @property
    def now(self) -> datetime:
        return self.clock.now(self.zone)

    @property
    def today(self) -> date:
        return self.clock.today(self.zone)

    def moment(self, on: date) -> datetime:
        """The instant to record for something that happened on a day: now for today, else noon of that day."""
        return self.now if on == self.today else datetime.combine(on, time(12), tzinfo=self.zone)

    def person(self, initials: str) -> int:
        """The person with these initials.

        Raises:
            BadInput: no initials were given, or nobody active has them.
        """
        if not initials.strip():
            raise BadInput("Nobody is named.", "Give your initials (--by, or in the settings).")
        found = people.active_person(self.session, initials.strip().upper())
        if found is None or found.id is None:
            known = ", ".join(person.initials for person in people.active_people(self.session))
            raise NotFound(f"Nobody here has the initials {initials!r}.", f"Known are: {known or 'nobody yet'}.")
        return found.id

    def place(self, name: str) -> Place:
        """The place of this name (upper or lower case alike).

        Raises:
            NotFound: there is none.
        """
        places = people.places(self.session)
        for place in places:
            if place.name.casefold() == name.strip().casefold():
                return place
        names = ", ".join(place.name for place in places if place.active)
        raise NotFound(f"There is no place {name!r}.", f"Known are: {names or 'none yet'}.")

    def place_of_role(self, role: PlaceRole) -> int:
        """The first active place with this role.

        Raises:
            NotFound: the practice has none.
        """
        for place in people.places(self.session):
            if place.role is role and place.active and place.id is not None:
                return place.id
        raise NotFound(f"The practice has no place of the role {role.value!r}.", "Add one in the settings.")

    def add(self, row: Any) -> int:
        """Add a row of a table that numbers its rows; returns the number."""
        self.session.add(row)
        self.session.flush()
        return int(row.id)

    def log_change(
        self,
        person_id: int,
        subject: str,
        subject_id: object,
        changes: Mapping[str, tuple[object, object]],
        reason: str = "",
    ) -> None:
        """Record who changed which fields of what, when and why; fields that stay the same are left out."""
        for field, (old, new) in changes.items():
            if old != new:
                self.session.add(
                    Change(
                        at=self.now,
                        person_id=person_id,
                        subject=subject,
                        subject_id=str(subject_id),
                        field=field,
                        old=None if old is None else str(old)[:500],
                        new=None if new is None else str(new)[:500],
                        reason=reason or None,
                    )
                )


def _settings(session: Session) -> dict[str, Any]:
    return {**DEFAULTS, **people.stored_settings(session)}
