"""What pictures show: lots until their last day, an item's weeks, sizes fitted, the course of a stock."""

from datetime import timedelta

import pytest

from inventory.domain.vocabulary import Arch
from inventory.errors import BadInput, NotFound
from inventory.service import correcting, fitted_sizes, forecast, setting_up, shelf_timeline, weekly_use
from inventory.service.shelf_timeline import LotEnd
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, TODAY


@pytest.fixture
def busy(clinic: Clinic) -> Clinic:
    """Give the clinic two finals a week expected."""
    setting_up.change_settings(clinic.practice, {"expected_weekly": {"final_stock_tray": 2}}, by=BY)
    return clinic


def test_each_lot_is_seen_with_how_it_ends(busy: Clinic) -> None:
    busy.lot("LIGHT-A", "old", 1, use_by=TODAY - timedelta(days=1))
    busy.lot("LIGHT-A", "soon", 8, use_by=TODAY + timedelta(days=20))
    found = shelf_timeline.timeline(busy.practice, "light-a")
    old, soon, far = found.lots
    assert [lot.end for lot in found.lots] == [LotEnd.EXPIRED, LotEnd.EXPIRES, LotEnd.USED_UP]
    assert (old.lot, old.qty, old.used_up) == ("old", 5000, None)
    assert 0 < soon.lost < soon.qty
    assert soon.used_up is None
    assert far.used_up is not None
    assert far.last_day is not None
    assert TODAY + timedelta(days=20) < far.used_up < far.last_day
    assert {lot.item for lot in shelf_timeline.timeline(busy.practice).lots} >= {"LIGHT-A", "HEAVY-A", "T1-UM", "BAG"}
    with pytest.raises(NotFound):
        shelf_timeline.timeline(busy.practice, "NONE")


def test_a_week_holds_what_its_visits_took_and_nothing_that_was_undone(clinic: Clinic) -> None:
    before = clinic.left("LIGHT-A")
    last_week = TODAY - timedelta(days=7)
    clinic.book(clinic.plan("C-1", on=last_week), happened_on=last_week)
    taken = before - clinic.left("LIGHT-A")
    undone = clinic.book(clinic.plan("C-2"))
    correcting.undo(clinic.practice, undone.documents[-1], reason="wrong case", by=BY, request_key=clinic.key())
    found = weekly_use.weekly_use(clinic.practice, "light-a", weeks=4)
    assert [week.used for week in found.weeks] == [0, 0, taken, 0]
    assert all(week.begins.weekday() == 0 for week in found.weeks)
    assert found.mean == round(taken / 3)
    for weeks in (1, 105):
        with pytest.raises(BadInput):
            weekly_use.weekly_use(clinic.practice, "LIGHT-A", weeks=weeks)
    with pytest.raises(NotFound):
        weekly_use.weekly_use(clinic.practice, "NONE")


def test_sizes_fitted_stand_beside_what_is_there(clinic: Clinic) -> None:
    clinic.book(clinic.plan("C-1"))
    upper = next(run for run in fitted_sizes.fitted_sizes(clinic.practice).runs if run.arch is Arch.MAXILLARY)
    medium, large = (next(size for size in upper.sizes if size.size == name) for name in ("M", "L"))
    assert (medium.fitted, medium.available, large.fitted, large.available) == (1, 4, 0, 5)
    assert medium.expected_ppm > 500_000  # half is believed beforehand, and the one tray fitted was an M
    assert sum(size.expected_ppm for size in upper.sizes) == pytest.approx(1_000_000, abs=3)


def test_the_course_of_a_stock_begins_with_what_is_usable_and_goes_down(busy: Clinic) -> None:
    found = forecast.forecast(busy.practice, "LIGHT-A")
    first = found.course[0]
    assert (first.day, first.low, first.high) == (TODAY, found.usable, found.usable)
    medians = [level.median for level in found.course]
    assert medians == sorted(medians, reverse=True)
    assert medians[-1] == 0
    assert found.arrivals == ()
    assert found.unit_qty == 5000
