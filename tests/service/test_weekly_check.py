"""The weekly check on a practice whose trouble is known: each kind of line appears, most urgent first, and adds up."""

from dataclasses import replace
from datetime import timedelta

import pytest

from inventory.domain.alerts import Action, AlertKind
from inventory.domain.vocabulary import UseByReading
from inventory.domain.why import chained
from inventory.service import catalogue, holding, setting_up, weekly_check
from inventory.service.clock import Clock
from inventory.service.practice import Practice
from inventory.store.tables import Delivery, DeliveryLine, Supplier
from tests.clinic import FAR, Clinic
from tests.service.catalogue_samples import BY, NOW, SUPPLIER, TODAY, box


def check(clinic: Clinic) -> weekly_check.WeeklyCheck:
    return weekly_check.weekly_check(clinic.practice)


def later(clinic: Clinic, days: int) -> Clinic:
    """The same practice some days on."""
    now = NOW + timedelta(days=days)
    return replace(clinic, practice=Practice(clinic.practice.store, Clock(lambda: now)))


def test_a_practice_with_everything_in_date_and_nothing_planned_has_nothing_to_act_on(clinic: Clinic) -> None:
    assert check(clinic).lines == ()


def test_expired_stock_on_a_usable_shelf_comes_first_and_says_discard(clinic: Clinic) -> None:
    clinic.lot("LIGHT-A", "OLD", 2, use_by=TODAY - timedelta(days=3))
    clinic.lot("HEAVY-A", "UNREAD", 1, read=UseByReading.NOT_READ)
    first, *_, last = check(clinic).lines
    assert (first.kind, first.action, first.qty) == (AlertKind.EXPIRED, Action.DISCARD, 10_000)
    assert "expired 3 days ago" in first.what
    assert first.where == "lot OLD, operatory 1"
    assert last.kind is AlertKind.DATE_NOT_READ


def test_stock_that_expires_today_is_not_expired_today_but_tomorrow(clinic: Clinic) -> None:
    """ISO 15223-1:2021, 5.1.4 (read in the source)."""
    clinic.lot("LIGHT-A", "LAST-DAY", 1, use_by=TODAY)
    assert check(clinic).count(AlertKind.EXPIRED) == 0
    assert check(later(clinic, 1)).count(AlertKind.EXPIRED) == 1


def test_a_lot_whose_maker_states_no_date_is_no_alert_but_one_nobody_read_is(clinic: Clinic) -> None:
    clinic.lot("LIGHT-A", "NONE-STATED", 1, read=UseByReading.NONE_STATED)
    clinic.lot("LIGHT-A", "NOT-READ", 1, read=UseByReading.NOT_READ)
    lines = [line for line in check(clinic).lines if line.kind is AlertKind.DATE_NOT_READ]
    assert [line.where for line in lines] == ["lot NOT-READ, operatory 1"]


def test_a_lot_on_hold_waits_for_a_decision(clinic: Clinic) -> None:
    lot = clinic.lot("LIGHT-A", "SUSPECT", 1, use_by=FAR)
    holding.hold(clinic.practice, lot_id=lot, reason="notice expected", by=BY)
    line = next(line for line in check(clinic).lines if line.kind is AlertKind.ON_HOLD)
    assert line.action is Action.SET_ASIDE


def test_a_booked_visit_that_stock_can_not_serve_names_what_is_short(clinic: Clinic) -> None:
    clinic.plan(on=TODAY + timedelta(days=2), lower_size="L")
    line = next(line for line in check(clinic).lines if line.kind is AlertKind.VISIT_NOT_READY)
    assert line.subject == "C-1"
    assert "mandibular L: not in the catalogue" in line.what
    assert line.action is Action.OPEN_VISIT
    assert all(derivation.adds_up() for derivation in line.why)


def test_visits_share_the_stock_in_the_order_of_their_days(clinic: Clinic) -> None:
    for day in range(1, 8):
        clinic.plan(f"C-{day}", on=TODAY + timedelta(days=day))
    short = [line.subject for line in check(clinic).lines if line.kind is AlertKind.VISIT_NOT_READY]
    assert short == [
        "C-5",
        "C-6",
        "C-7",
    ]  # two loads of 44.3 mL take a cartridge of heavy body each, and there are four


def test_a_visit_of_a_day_that_is_over_asks_to_be_booked_out(clinic: Clinic) -> None:
    clinic.plan()
    assert check(clinic).count(AlertKind.VISIT_NOT_BOOKED) == 0
    assert check(later(clinic, 1)).count(AlertKind.VISIT_NOT_BOOKED) == 1


def test_an_item_at_its_reorder_point_says_so_and_its_arithmetic_adds_up(clinic: Clinic) -> None:
    for day in range(1, 15):
        clinic.plan(f"C-{day}", on=TODAY + timedelta(days=day % 7 + 1))
    found = check(clinic)
    lines = [line for line in found.lines if line.kind is AlertKind.RUNS_SHORT]
    assert {"Tray, Line 1, upper M", "Tray, Line 1, lower M"} <= {line.subject for line in lines}
    for line in found.lines:
        assert all(derivation.adds_up() for derivation in line.why)


def test_what_runs_short_is_ordered_with_its_suppliers_whole_delivery(clinic: Clinic) -> None:
    catalogue.add_supplier(
        clinic.practice, replace(SUPPLIER, fee_cents=900, free_from_cents=60_000, minimum_cents=1000), by=BY
    )
    for code, cents in (("HEAVY-A", 3000), ("LIGHT-A", 2000), ("T1-UM", 100)):
        catalogue.save_supply(clinic.practice, box(code, pack_cents=cents), by=BY)
    for day in range(1, 15):
        clinic.plan(f"C-{day}", on=TODAY + timedelta(days=day % 7 + 1))
    found = check(clinic)
    (order,) = found.baskets
    assert {"HEAVY-A", "T1-UM"} <= {line.code for line in order.ordered}
    assert order.sum.goods_cents == sum(line.cents for line in order.ordered)
    assert all(chained(line.why) for line in order.ordered)
    heavy = next(line for line in found.lines if line.subject == "Heavy body A")
    assert found.basket_of(heavy.item_id) == order
    assert found.basket_of(None) is None


def test_a_lot_that_will_not_be_used_in_time_is_told_with_what_is_lost(clinic: Clinic) -> None:
    clinic.lot("LIGHT-A", "SOON", 6, use_by=TODAY + timedelta(days=20))
    line = next(line for line in check(clinic).lines if line.kind is AlertKind.WILL_EXPIRE)
    assert line.qty == 6 * 5000  # nothing is planned and there is no history: all of it
    assert line.action is Action.LOOK
    assert line.todo == "Use it first."  # nobody takes it back


@pytest.mark.parametrize(("takes", "todo"), [(True, "North takes back"), (False, "Use it first.")])
def test_who_takes_back_what_has_a_short_life_is_named_where_the_lot_came_from_there(
    clinic: Clinic, takes: bool, todo: str
) -> None:
    lot = clinic.lot("LIGHT-A", "SOON", 6, use_by=TODAY + timedelta(days=20))
    with clinic.practice.writing() as desk:
        north = desk.add(Supplier(name="North", lead_days=3, takes_short_dated=takes))
        came = desk.add(Delivery(supplier_id=north, received_on=TODAY))
        desk.add(DeliveryLine(delivery_id=came, lot_id=lot, units=6, units_per_pack=1, document_id=1))
    line = next(line for line in check(clinic).lines if line.kind is AlertKind.WILL_EXPIRE)
    assert todo in line.todo


def test_lines_come_most_urgent_first(clinic: Clinic) -> None:
    clinic.lot("LIGHT-A", "OLD", 1, use_by=TODAY - timedelta(days=3))
    clinic.lot("LIGHT-A", "SOON", 6, use_by=TODAY + timedelta(days=20))
    clinic.lot("HEAVY-A", "UNREAD", 1, read=UseByReading.NOT_READ)
    clinic.plan(on=TODAY + timedelta(days=2), lower_size="L")
    kinds = [line.kind for line in check(clinic).lines]
    assert kinds == sorted(kinds)
    assert len(set(kinds)) >= 4


def test_a_practice_may_order_by_the_handbooks_minimum_and_maximum(clinic: Clinic) -> None:
    catalogue.add_supplier(clinic.practice, SUPPLIER, by=BY)
    catalogue.save_supply(clinic.practice, box("LIGHT-A"), by=BY)
    for number in range(3):
        clinic.book(clinic.plan(f"C-{number}"))
    simple = {"lead_months": 1, "safety_months": 1, "interval_months": 2, "review": "continuous"}
    setting_up.change_settings(clinic.practice, {"order_rule": "min_max", "min_max": simple}, by=BY)
    proposal = next(one for one in check(clinic).proposals if one.code == "LIGHT-A")
    assert "minimum by the handbook" in " ".join(one.title for one in proposal.why)
    assert chained(proposal.why)
