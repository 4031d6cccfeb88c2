"""What the weekly check tells of plain facts, each with arithmetic that adds up."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from inventory.domain import alerts
from inventory.domain.alerts import Action, Alert, AlertKind, Shelf
from inventory.domain.vocabulary import BaseUnit, LateReason, UseByReading

TODAY = date(2028, 2, 29)  # a leap day
CARTRIDGES = Shelf(
    holding_id=1, lot_id=2, item_id=3, item="Light body A", base=BaseUnit.CML, unit_qty=5000, unit_name="cartridge",
    lot_number="L1", place="store room", usable_place=True, on_hand=15_000, opened_on=None, opened_days=None,
    use_by=TODAY, use_by_read=UseByReading.DAY, last_day=TODAY, blocked=None, cents=4500,
)  # fmt: skip
OPENED = replace(
    CARTRIDGES, on_hand=2_000, opened_on=TODAY - timedelta(days=30), opened_days=30, use_by=None,
    use_by_read=UseByReading.NONE_STATED,
)  # fmt: skip


def told(*shelves: Shelf, today: date = TODAY) -> list[Alert]:
    return list(alerts.on_the_shelf(shelves, today))


def test_the_use_by_date_is_the_last_day_of_use_also_on_a_leap_day() -> None:
    """ISO 15223-1:2021, 5.1.4 (read in the source)."""
    assert told(CARTRIDGES) == []
    (line,) = told(CARTRIDGES, today=date(2028, 3, 1))
    assert line.kind is AlertKind.EXPIRED
    assert line.what == "3 x cartridge: expired 1 day ago (2028-02-29)"
    assert line.action is Action.DISCARD


def test_an_opened_unit_is_past_its_life_on_the_day_after_its_last() -> None:
    assert told(OPENED) == []
    late = replace(OPENED, opened_on=TODAY - timedelta(days=31), last_day=TODAY - timedelta(days=1))
    (line,) = told(late)
    assert line.kind is AlertKind.OPENED_TOO_LONG
    assert line.what == "opened cartridge, 20 mL: opened 31 days ago, opened life 30 days"


@pytest.mark.parametrize(
    ("blocked", "kind"), [(LateReason.RECALLED, AlertKind.RECALLED), (LateReason.HELD, AlertKind.ON_HOLD)]
)
def test_a_recall_comes_before_everything_and_a_hold_waits(blocked: LateReason, kind: AlertKind) -> None:
    expired = replace(CARTRIDGES, use_by=TODAY - timedelta(days=9), last_day=TODAY - timedelta(days=9), holding_id=9)
    lines = alerts.most_urgent_first(told(expired, replace(CARTRIDGES, blocked=blocked)))
    assert {line.kind for line in lines} == {AlertKind.EXPIRED, kind}
    assert lines[0].kind is min(AlertKind.EXPIRED, kind)


def test_what_stands_where_nobody_takes_from_it_is_no_alert() -> None:
    aside = replace(CARTRIDGES, usable_place=False, blocked=LateReason.RECALLED)
    assert told(aside, replace(aside, blocked=None, use_by=TODAY - timedelta(days=9))) == []


def test_a_date_nobody_read_is_told_once_for_each_lot_and_a_maker_who_states_none_is_not() -> None:
    unread = replace(CARTRIDGES, use_by=None, last_day=None, use_by_read=UseByReading.NOT_READ)
    none_stated = replace(unread, lot_id=5, use_by_read=UseByReading.NONE_STATED)
    lines = list(alerts.not_read([unread, replace(unread, holding_id=7, place="operatory 1"), none_stated]))
    assert [line.lot_id for line in lines] == [2]


def test_a_rest_that_serves_no_step_is_told_and_one_that_does_is_not() -> None:
    assert [line.kind for line in alerts.rests([OPENED], {3: 2_001}, TODAY)] == [AlertKind.REST_OF_NO_USE]
    assert list(alerts.rests([OPENED], {3: 2_000}, TODAY)) == []
    assert list(alerts.rests([replace(CARTRIDGES, on_hand=100)], {3: 2_000}, TODAY)) == []  # sealed


def test_every_derivation_adds_up() -> None:
    late = replace(OPENED, opened_on=TODAY - timedelta(days=40), last_day=TODAY - timedelta(days=10))
    lines = [*told(late), *told(CARTRIDGES, today=date(2028, 4, 1)), *alerts.rests([OPENED], {3: 2_115}, TODAY)]
    assert len(lines) == 3
    assert all(derivation.adds_up() for line in lines for derivation in line.why)
    assert lines[2].why[0].result.value == 2_000 - 2_115
