"""What happened before a count and is booked after it is in the count already: it is not taken twice."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from typing import NoReturn

import pytest

from inventory.errors import BadInput, Conflict, NeedsConfirmation, NotAllowed
from inventory.service import booked_late, catalogue, correcting, count_review, counting, laying_out, moving, receiving
from inventory.service.clock import Clock
from inventory.service.count_shelves import Scope
from inventory.service.lots import UseBy
from inventory.service.moving import Part
from inventory.service.practice import Practice
from inventory.service.receiving import Arrival, Delivery
from tests.clinic import FAR, Clinic, as_expected
from tests.service.catalogue_samples import BY, NOW, SUPPLIER, TODAY
from tests.shelves import Hands, Shelves

YESTERDAY = TODAY - timedelta(days=1)


@pytest.fixture
def hands() -> Hands:
    return Hands(NOW)


def counted(clinic: Clinic, hands: Hands, at: datetime) -> None:
    """Count everything as the book has it, at a moment, and approve a little later."""
    clinic.practice = Practice(clinic.practice.store, Clock(hands))
    hands.now = at
    number = counting.start(clinic.practice, Scope(), blind=False, by=BY).round_id
    for line in counting.sheet(clinic.practice, number).lines:
        units = (line.expected_qty or 0) // line.unit_qty
        counting.record(clinic.practice, number, line.key, str(units), by=BY)
    hands.now += timedelta(minutes=5)
    count_review.approve(clinic.practice, number, by=BY, request_key=clinic.key())
    hands.now += timedelta(minutes=5)


def test_a_visit_of_the_day_before_the_count_is_booked_and_leaves_what_was_counted(
    clinic: Clinic, hands: Hands
) -> None:
    visit = clinic.plan(on=YESTERDAY)
    before = {code: clinic.left(code) for code in ("LIGHT-A", "HEAVY-A", "TIP-1", "T1-UM")}
    counted(clinic, hands, NOW)
    booked = clinic.book(visit, happened_on=YESTERDAY)
    assert {code: clinic.left(code) for code in before} == before
    assert {lot.item for lot in booked.lots} >= {"Light body A, fast", "Heavy body A"}
    undone = correcting.undo_visit(clinic.practice, visit.visit_id, reason="x", by=BY, request_key=clinic.key())
    assert "What was counted since stays in force." in undone.kept
    assert {code: clinic.left(code) for code in before} == before


def test_a_visit_of_the_day_of_the_count_says_whether_it_was_before_or_after_it(clinic: Clinic, hands: Hands) -> None:
    first, second = clinic.plan("C-1"), clinic.plan("C-2")
    counted(clinic, hands, datetime.combine(TODAY, time(12), tzinfo=UTC))
    before = clinic.left("LIGHT-A")
    request = as_expected(laying_out.form(clinic.practice, first.visit_id))
    with pytest.raises(NeedsConfirmation, match=r"counted on .* at 1\d:00\. Without a time, the visit counts as after"):
        clinic.post(request)
    with pytest.raises(BadInput, match="still to come"):
        clinic.post(replace(request, at=time(23, 59)))
    clinic.post(replace(request, at=time(9)))
    assert clinic.left("LIGHT-A") == before
    clinic.post(as_expected(laying_out.form(clinic.practice, second.visit_id)), confirmed=True)
    assert clinic.left("LIGHT-A") < before


def test_a_delivery_of_the_day_of_the_count_says_whether_it_came_before_or_after_it(
    clinic: Clinic, hands: Hands
) -> None:
    catalogue.add_supplier(clinic.practice, SUPPLIER, by=BY)
    counted(clinic, hands, datetime.combine(TODAY, time(12), tzinfo=UTC))
    before = clinic.left("LIGHT-A")
    arrival = Arrival(item="LIGHT-A", units=2, lot="LIGHT-A-1", use_by=UseBy.on(FAR))
    slip = Delivery(supplier=SUPPLIER.name, lines=(arrival,), place="operatory 1", slip_no="S-1")
    with pytest.raises(NeedsConfirmation, match="Without a time, it came after that"):
        receiving.receive(clinic.practice, slip, by=BY, request_key=clinic.key())
    receiving.receive(clinic.practice, replace(slip, at=time(9)), by=BY, request_key=clinic.key())
    assert clinic.left("LIGHT-A") == before
    later = replace(slip, slip_no="S-2")
    receiving.receive(clinic.practice, later, by=BY, request_key=clinic.key(), confirmed=True)
    assert clinic.left("LIGHT-A") == before + 10_000


def test_what_is_booked_as_it_happens_asks_nothing_of_counts_while_time_goes_on(
    clinic: Clinic, hands: Hands, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every look at a real clock is later than the one before; a unit of work happens at one moment all the same."""

    def running() -> datetime:
        hands.now += timedelta(milliseconds=1)
        return hands.now

    def asked(*_: object) -> NoReturn:
        pytest.fail("Counts were looked for.")

    monkeypatch.setattr(booked_late, "keep_counts", asked)
    clinic.practice = Practice(clinic.practice.store, Clock(running))
    clinic.book(clinic.plan())
    with clinic.practice.writing() as desk:
        first = desk.now
        assert desk.now == first


def test_a_visit_of_another_day_that_is_worked_on_leaves_what_was_counted_since(clinic: Clinic, hands: Hands) -> None:
    visit = clinic.plan(on=YESTERDAY)
    before = clinic.left("LIGHT-A")
    counted(clinic, hands, NOW)
    clinic.practice = Practice(clinic.practice.store, Clock(hands, YESTERDAY))
    clinic.book(visit)
    assert clinic.left("LIGHT-A") == before


@pytest.mark.parametrize("new_stores", ["postgresql"], indirect=True)
def test_a_visit_that_waits_for_its_stock_while_that_is_counted_is_not_booked(clinic: Clinic, hands: Hands) -> None:
    """On PostgreSQL a unit of work begins, and may wait then; on SQLite it waits before it begins."""
    visit = clinic.plan()
    before = clinic.left("LIGHT-A")
    counted(clinic, hands, NOW)
    waited = Practice(clinic.practice.store, Clock(lambda: NOW - timedelta(seconds=1)))
    clinic.practice = waited
    with pytest.raises(Conflict, match="at the same moment"):
        clinic.post(as_expected(laying_out.form(waited, visit.visit_id)), confirmed=True)
    assert clinic.left("LIGHT-A") == before


def test_what_was_thrown_away_before_the_count_changes_nothing_when_it_is_entered(
    shelves: Shelves,
) -> None:
    lot = shelves.lot(3)
    stack, yesterday = shelves.sealed(lot), shelves.hands.now.date() - timedelta(days=1)
    number = counting.start(shelves.practice, Scope(), by="AB").round_id
    counting.record(shelves.practice, number, str(stack), "3", by="AB")
    count_review.approve(shelves.practice, number, by="AB", request_key=shelves.key())
    shelves.hands.now += timedelta(hours=1)
    moved = moving.discard(
        shelves.practice, [Part(stack, 5_000)], shelves.slip(reason="dropped", on=yesterday, request_key="k")
    )
    assert (moved.lines[0].qty, shelves.on_hand(stack)) == (-5_000, 15_000)
    again = shelves.slip(reason="dropped", on=yesterday, request_key="k")
    assert moving.discard(shelves.practice, [Part(stack, 5_000)], again).again
    moving.discard(shelves.practice, [Part(stack, 5_000)], shelves.slip(reason="dropped"))
    assert shelves.on_hand(stack) == 10_000


def test_a_single_count_is_not_undone_once_something_booked_late_relies_on_it(shelves: Shelves) -> None:
    """Four were there; one was used, three were counted, then the use was booked: to undo the count makes a fourth."""
    stack, yesterday = shelves.sealed(shelves.lot(4)), shelves.hands.now.date() - timedelta(days=1)
    found = moving.correct_count(shelves.practice, stack, 15_000, shelves.slip(reason="counted"))
    shelves.hands.now += timedelta(hours=1)
    moving.discard(shelves.practice, [Part(stack, 5_000)], shelves.slip(reason="dropped", on=yesterday))
    assert shelves.on_hand(stack) == 15_000
    with pytest.raises(NotAllowed, match="left what it had counted"):
        correcting.undo(shelves.practice, found.document_id or 0, reason="x", by="AB", request_key=shelves.key())
    assert shelves.on_hand(stack) == 15_000
