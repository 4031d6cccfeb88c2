"""The demo practice's story: whatever the day it is seeded on, every kind of thing that the week can tell occurs."""

from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from inventory.domain.alerts import AlertKind
from inventory.domain.vocabulary import VisitState
from inventory.domain.why import chained
from inventory.errors import NotAllowed
from inventory.service import seeding, stock_views, verifying, visits, weekly_check
from inventory.service.clock import Clock
from inventory.service.practice import Practice
from inventory.store.engine import open_store
from tests.demos import DemoOn, copy_of

LEAP_DAY, LAST_OF_YEAR, A_WEDNESDAY = date(2028, 2, 29), date(2026, 12, 31), date(2026, 11, 25)


def test_two_plausible_years_end_with_one_of_each_thing_to_act_on(demo_on: DemoOn, tmp_path: Path) -> None:
    with closing(open_store(str(copy_of(demo_on(A_WEDNESDAY), tmp_path)))) as store:
        practice = Practice(store, Clock(day=A_WEDNESDAY))
        _tells_of_everything(practice)
        assert len(visits.between(practice, date(2000, 1, 1), A_WEDNESDAY, state=VisitState.DONE)) >= 400
        assert len(stock_views.items(practice).lines) >= 30
        assert _lots_ever(practice) >= 60
        with pytest.raises(NotAllowed):
            seeding.seed_demo(store, A_WEDNESDAY)


@pytest.mark.parametrize("day", [LEAP_DAY, LAST_OF_YEAR], ids=str)
def test_the_story_ends_so_on_a_leap_day_and_on_the_last_day_of_a_year_too(
    demo_on: DemoOn, tmp_path: Path, day: date
) -> None:
    with closing(open_store(str(copy_of(demo_on(day, 140), tmp_path)))) as store:
        _tells_of_everything(Practice(store, Clock(day=day)))


def _tells_of_everything(practice: Practice) -> None:
    """The check has a line of every kind, all arithmetic adds up, and the book is whole."""
    check = weekly_check.weekly_check(practice)
    assert {line.kind for line in check.lines} == set(AlertKind)
    assert len(check.lines) < 45  # a manager's list, not a dump
    assert verifying.verify(practice).clean
    for line in check.lines:
        assert all(derivation.adds_up() for derivation in line.why)
    assert {order.supplier for order in check.baskets} <= {"Supplier Lake", "Supplier North", "Supplier South"}
    for order in check.baskets:
        assert chained(order.why)
        assert sum(line.cents for line in order.ordered) == order.why[0].result.value == order.sum.goods_cents
        for ordered in order.ordered:
            assert chained(ordered.why)
            assert ordered.why[-1].result.value == ordered.cents


def test_the_first_visit_of_the_seeding_day_can_be_booked_out_as_expected(demo_on: DemoOn, tmp_path: Path) -> None:
    with closing(open_store(str(copy_of(demo_on(A_WEDNESDAY), tmp_path)))) as store:
        practice = Practice(store, Clock(day=A_WEDNESDAY))
        short = {
            line.visit_id
            for line in weekly_check.weekly_check(practice).lines
            if line.kind is AlertKind.VISIT_NOT_READY and line.due == A_WEDNESDAY
        }
        first = next(card for card in visits.upcoming(practice) if card.on == A_WEDNESDAY)
        assert first.visit_id not in short


def _lots_ever(practice: Practice) -> int:
    from inventory.store.queries import catalogue  # noqa: PLC0415

    with practice.reading() as desk:
        return catalogue.count_lots(desk.session)
