"""The date where the practice stands decides, not Greenwich's: midnight, summer time, leap days, month ends."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from freezegun import freeze_time
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import BadInput, NeedsConfirmation
from inventory.service import moving
from inventory.service.clock import Clock
from inventory.store.queries import history
from inventory.store.tables import Setting
from tests.shelves import Shelves

VIENNA, NEW_YORK, AUCKLAND, CAIRO = (
    ZoneInfo(name) for name in ("Europe/Vienna", "America/New_York", "Pacific/Auckland", "Africa/Cairo")
)


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def clock(text: str) -> Clock:
    return Clock(lambda: utc(text))


# Which day is it?


@pytest.mark.parametrize(
    ("instant", "zone", "day"),
    [
        ("2026-03-01T22:59:59", VIENNA, date(2026, 3, 1)),
        ("2026-03-01T23:00:00", VIENNA, date(2026, 3, 2)),  # midnight there, an hour before Greenwich
        ("2026-03-02T04:59:59", NEW_YORK, date(2026, 3, 1)),
        ("2026-03-02T05:00:00", NEW_YORK, date(2026, 3, 2)),
        ("2026-03-01T11:00:00", AUCKLAND, date(2026, 3, 2)),
        # summer time: from 29 March to 25 October 2026 midnight in Vienna is at 22:00 in Greenwich
        ("2026-03-28T22:59:59", VIENNA, date(2026, 3, 28)),
        ("2026-03-28T23:00:00", VIENNA, date(2026, 3, 29)),
        ("2026-03-29T21:59:59", VIENNA, date(2026, 3, 29)),
        ("2026-03-29T22:00:00", VIENNA, date(2026, 3, 30)),
        ("2026-10-24T22:00:00", VIENNA, date(2026, 10, 25)),
        ("2026-10-25T22:59:59", VIENNA, date(2026, 10, 25)),  # a day of 25 hours
        ("2026-10-25T23:00:00", VIENNA, date(2026, 10, 26)),
        # where clocks go forward at midnight itself the day begins at one o'clock
        ("2026-04-23T21:59:59", CAIRO, date(2026, 4, 23)),
        ("2026-04-23T22:00:00", CAIRO, date(2026, 4, 24)),
        ("2028-02-28T23:00:00", VIENNA, date(2028, 2, 29)),
        ("2027-02-28T23:00:00", VIENNA, date(2027, 3, 1)),
        ("2026-12-31T23:00:00", VIENNA, date(2027, 1, 1)),
    ],
)
def test_the_practices_own_date_decides(instant: str, zone: ZoneInfo, day: date) -> None:
    assert clock(instant).today(zone) == day
    assert clock(instant).now(zone) == utc(instant)


@freeze_time("2026-03-01 23:30:00")
def test_the_clock_of_the_machine_is_read_where_the_practice_stands() -> None:
    assert Clock().today(VIENNA) == date(2026, 3, 2)
    assert Clock().now(VIENNA) == utc("2026-03-01T23:30:00")


BEGIN, END = date(2000, 1, 1), date(2060, 1, 1)
instants = st.integers(0, (END - BEGIN).days * 86_400).map(lambda s: utc(str(BEGIN)) + timedelta(seconds=s))


@given(instants, st.dates(BEGIN, END))
def test_on_another_day_than_today_the_time_of_day_stays(instant: datetime, day: date) -> None:
    for zone in (VIENNA, NEW_YORK, AUCKLAND):
        moved = Clock(lambda: instant, day)
        assert moved.today(zone) == day
        local = moved.now(zone).astimezone(zone)
        assert local.date() == day
        # an hour that summer time leaves out becomes the next one
        assert (
            timedelta(0) <= local - datetime.combine(day, instant.astimezone(zone).time(), zone) <= timedelta(hours=1)
        )
        assert moved.now(zone).tzinfo is UTC


# What follows for stock


def practice_in(shelves: Shelves, zone: str, instant: str) -> Shelves:
    with shelves.practice.writing() as desk:
        desk.session.get_one(Setting, "time_zone").value = zone
    shelves.hands.now = utc(instant)
    return shelves


def open_one(shelves: Shelves, lot: int) -> moving.Moved:
    return moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip())


def test_a_lot_is_usable_until_midnight_of_its_last_day_where_the_practice_stands(shelves: Shelves) -> None:
    lot = shelves.lot(3, use_by=date(2028, 2, 29))
    practice_in(shelves, "America/Los_Angeles", "2028-03-01T07:59:59")  # 1 March already in Greenwich
    open_one(shelves, lot)
    practice_in(shelves, "America/Los_Angeles", "2028-03-01T08:00:00")
    with pytest.raises(NeedsConfirmation, match="2028-02-29"):
        open_one(shelves, lot)


def test_a_lot_expires_at_midnight_where_the_practice_stands_though_greenwich_is_behind(shelves: Shelves) -> None:
    lot = shelves.lot(3, use_by=date(2026, 1, 31))
    practice_in(shelves, "Pacific/Auckland", "2026-01-31T10:59:59")
    open_one(shelves, lot)
    practice_in(shelves, "Pacific/Auckland", "2026-01-31T11:00:00")
    with pytest.raises(NeedsConfirmation):
        open_one(shelves, lot)


@pytest.mark.parametrize(
    ("opened", "days", "last"),
    [
        (date(2026, 1, 31), 30, date(2026, 3, 2)),
        (date(2028, 1, 31), 30, date(2028, 3, 1)),  # a leap year
        (date(2028, 2, 29), 365, date(2029, 2, 28)),
        (date(2026, 12, 31), 1, date(2027, 1, 1)),
        (date(2026, 3, 28), 2, date(2026, 3, 30)),  # days, not times of 24 hours: summer time begins between them
    ],
)
def test_an_opened_life_is_counted_in_days_of_the_calendar(
    shelves: Shelves, opened: date, days: int, last: date
) -> None:
    item = shelves.item(opened_days=days, opened_days_source="leaflet")
    lot = shelves.lot(2, item=item)
    practice_in(shelves, "Europe/Vienna", f"{opened}T12:00:00")
    unit = open_one(shelves, lot).opened_id
    assert unit is not None
    practice_in(shelves, "Europe/Vienna", f"{last}T20:00:00")
    moved = moving.transfer(shelves.practice, [moving.Part(unit)], "Chair 1", shelves.slip()).opened_id
    assert moved is not None
    practice_in(shelves, "Europe/Vienna", f"{last + timedelta(days=1)}T12:00:00")
    with pytest.raises(NeedsConfirmation, match=str(last)):
        moving.transfer(shelves.practice, [moving.Part(moved)], "Chair 2", shelves.slip())


def test_what_happens_late_in_the_evening_happens_on_that_evenings_date(shelves: Shelves) -> None:
    lot = shelves.lot(2)
    practice_in(shelves, "America/New_York", "2026-03-01T03:30:00")  # still 28 February, half past ten in the evening
    moved = open_one(shelves, lot)
    assert shelves.stock(lot)["Store room", date(2026, 2, 28)] == [5_000]
    with shelves.practice.reading() as desk:
        (document,) = history.documents(desk.session, [moved.document_id or 0]).values()
    assert (document.happened_on, document.happened_at) == (date(2026, 2, 28), shelves.hands.now)


def test_tomorrow_where_the_practice_stands_is_still_to_come_though_it_has_begun_in_greenwich(shelves: Shelves) -> None:
    lot = shelves.lot(2)
    practice_in(shelves, "America/New_York", "2026-03-01T03:30:00")
    with pytest.raises(BadInput, match="still to come"):
        moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip(on=date(2026, 3, 1)))


@pytest.mark.parametrize(("day", "noon"), [("2026-03-28", "11:00"), ("2026-03-29", "10:00"), ("2026-10-25", "11:00")])
def test_what_is_entered_for_an_earlier_day_happened_at_noon_there(shelves: Shelves, day: str, noon: str) -> None:
    practice_in(shelves, "Europe/Vienna", "2026-11-02T09:00:00")
    with shelves.practice.reading() as desk:
        assert desk.moment(date.fromisoformat(day)) == utc(f"{day}T{noon}")
        assert desk.moment(desk.today) == shelves.hands.now
