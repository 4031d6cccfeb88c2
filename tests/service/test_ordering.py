"""An order from draft to received: what is on order counts once, what came is held against it, nothing is lost."""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from datetime import date, timedelta
from threading import Barrier

import pytest

from inventory.domain.alerts import AlertKind
from inventory.domain.catalogue import PackPart
from inventory.domain.vocabulary import OrderState
from inventory.errors import AlreadyDone, BadInput, NeedsConfirmation, NotAllowed, NotFound
from inventory.service import catalogue, correcting, forecasting, ordering, orders, receiving, stock_views, weekly_check
from inventory.service.lots import UseBy
from inventory.service.ordering import Wanted
from inventory.service.orders import Order
from inventory.service.practice import Practice
from inventory.service.receiving import Arrival, Delivery, Preview, Received
from inventory.service.verifying import verify
from inventory.store.engine import Store, open_store
from inventory.store.tables import Purchase
from tests.plans import scans
from tests.service.catalogue_samples import BY, SUPPLIER, TODAY, box, new_clock, stocked_practice
from tests.stores import NewStores

LATER = UseBy.on(date(2028, 12, 31))
TERMS = replace(SUPPLIER, fee_cents=900, free_from_cents=12_000, minimum_cents=2000, order_weekdays=(1,))


def build(store: Store) -> None:
    """Light body comes in boxes of two cartridges with six tips, cheaper from five boxes on; heavy body in twos."""
    practice = stocked_practice(store)
    catalogue.change_supplier(practice, SUPPLIER.name, TERMS, by=BY)
    catalogue.save_supply(practice, box("LIGHT-A", contents=(PackPart("TIP-1", 6),), breaks=((5, 2500),)), by=BY)
    catalogue.save_supply(practice, box("HEAVY-A"), by=BY)


@pytest.fixture
def store(new_stores: NewStores) -> Iterator[Store]:
    with closing(open_store(new_stores.make_from("ordering", build))) as opened:
        yield opened


@pytest.fixture
def practice(store: Store) -> Practice:
    return Practice(store, new_clock(TODAY))


def on(practice: Practice, day: date) -> Practice:
    return Practice(practice.store, new_clock(day))


def sent(practice: Practice, **packs: int) -> Order:
    wanted = [Wanted(code.replace("_", "-"), count) for code, count in (packs or {"LIGHT_A": 3, "HEAVY_A": 1}).items()]
    order = ordering.draft(practice, TERMS.name, wanted, by=BY)
    return ordering.send(practice, order.number, by=BY)


def delivery(order: Order, *lines: Arrival) -> Delivery:
    return Delivery(supplier=TERMS.name, lines=lines, order=order.number)


def receive(practice: Practice, order: Order, *lines: Arrival, key: str = "k", confirmed: bool = False) -> Received:
    return receiving.receive(practice, delivery(order, *lines), by=BY, request_key=key, confirmed=confirmed)


def light(packs: int, lot: str = "L1", **known: object) -> Arrival:
    return Arrival(item="LIGHT-A", packs=packs, lot=lot, use_by=LATER, **known)  # type: ignore[arg-type]


def on_order(practice: Practice) -> dict[str, int]:
    """Base units on order by item, as forecasts see them."""
    with practice.reading() as desk:
        picture = forecasting.picture(desk)
        found: dict[str, int] = {}
        for one in picture.coming:
            code = picture.items[one.item_id].code
            found[code] = found.get(code, 0) + one.qty
        return found


def test_a_draft_has_a_number_of_its_own_and_promises_nothing(practice: Practice) -> None:
    first = ordering.draft(practice, "supplier north", [Wanted("light-a", 3), Wanted("HEAVY-A", 1)], by=BY)
    assert (first.number, first.state, first.sum.goods_cents, first.sum.fee_cents) == (
        "O-0001",
        OrderState.DRAFT,
        12_000,
        0,
    )
    assert on_order(practice) == {}
    with pytest.raises(NeedsConfirmation, match="O-0001"):
        ordering.draft(practice, TERMS.name, [Wanted("HEAVY-A", 1)], by=BY)
    second = ordering.draft(practice, TERMS.name, [Wanted("HEAVY-A", 1)], by=BY, confirmed=True)
    assert second.number == "O-0002"
    assert [one.number for one in orders.orders(practice)] == ["O-0002", "O-0001"]


def test_packs_are_changed_while_it_is_a_draft_and_the_price_follows_them(practice: Practice) -> None:
    order = ordering.draft(practice, TERMS.name, [Wanted("LIGHT-A", 1)], by=BY)
    assert (order.sum.goods_cents, order.sum.fee_cents) == (3000, 900)
    order = ordering.edit(practice, order.number, {"LIGHT-A": 5, "heavy-a": 2}, version=order.version, by=BY)
    assert [(line.code, line.packs, line.pack_cents) for line in order.lines] == [
        ("LIGHT-A", 5, 2500),
        ("HEAVY-A", 2, 3000),
    ]
    with pytest.raises(AlreadyDone):
        ordering.edit(practice, order.number, {"LIGHT-A": 1}, version=order.version - 1, by=BY)
    order = ordering.edit(practice, order.number, {"HEAVY-A": 0}, by=BY)
    assert [line.code for line in order.lines] == ["LIGHT-A"]
    ordering.send(practice, order.number, by=BY)
    with pytest.raises(AlreadyDone, match="is sent"):
        ordering.edit(practice, order.number, {"LIGHT-A": 1}, by=BY)


@pytest.mark.parametrize(
    ("wanted", "error"),
    [
        ([], BadInput),
        ([Wanted("LIGHT-A", 0)], BadInput),
        ([Wanted("LIGHT-A", -1)], BadInput),
        ([Wanted("LIGHT-A", 1), Wanted("light-a", 2)], BadInput),
        ([Wanted("POWDER", 1)], NotFound),
        ([Wanted("LIGHT-A", 1, pack_of=9)], NotFound),
        ([Wanted("NOTHING", 1)], NotFound),
    ],
)
def test_what_cannot_be_ordered_is_refused_and_writes_nothing(
    practice: Practice, wanted: list[Wanted], error: type[Exception]
) -> None:
    with pytest.raises(error):
        ordering.draft(practice, TERMS.name, wanted, by=BY)
    assert orders.orders(practice) == ()


def test_a_sent_order_is_expected_its_lead_time_after_the_suppliers_next_ordering_day(practice: Practice) -> None:
    order = sent(practice)
    monday = TODAY + timedelta(days=(7 - TODAY.weekday()) % 7)
    assert order.expected_on == monday + timedelta(days=3)
    later = monday + timedelta(days=20)
    assert ordering.expect(practice, order.number, later, by=BY, reason="told by telephone").expected_on == later


def test_what_is_on_order_counts_once_with_the_tips_in_its_packs(practice: Practice) -> None:
    order = sent(practice)
    assert on_order(practice) == {"LIGHT-A": 3 * 2 * 5000, "TIP-1": 18, "HEAVY-A": 2 * 5000}
    with practice.reading() as desk:
        picture = forecasting.picture(desk)
        from inventory.service import proposing  # noqa: PLC0415

        counted = {one.code: one.counted for one in proposing.proposed(desk, picture).proposals.values()}
    assert counted["LIGHT-A"] == 3 * 2 * 5000
    receive(practice, order, light(3), Arrival(item="HEAVY-A", packs=1, lot="H1", use_by=LATER))
    assert on_order(practice) == {}
    assert orders.order(practice, order.number).state is OrderState.RECEIVED


def test_partial_deliveries_and_several_lots_add_up_until_all_is_here(practice: Practice) -> None:
    order = sent(practice)
    first = receive(practice, order, light(1), light(1, "L2"), key="k1")
    assert first.order == order.number
    assert first.warnings[-1] == f"Still to come of order {order.number}: 1 x LIGHT-A, 1 x HEAVY-A."
    assert orders.order(practice, order.number).state is OrderState.PART
    assert on_order(practice) == {"LIGHT-A": 2 * 5000, "TIP-1": 6, "HEAVY-A": 2 * 5000}
    receive(practice, order, light(1, "L3"), Arrival(item="HEAVY-A", packs=1, lot="H1", use_by=LATER), key="k2")
    with pytest.raises(NotAllowed, match="is received"):
        receive(practice, order, light(1, "L4"), key="k3")


def test_the_same_delivery_posted_twice_settles_the_order_once(practice: Practice) -> None:
    order = sent(practice)
    receive(practice, order, light(1))
    assert receive(practice, order, light(1)).again
    assert on_order(practice)["LIGHT-A"] == 2 * 2 * 5000


def test_more_than_was_ordered_and_what_nobody_ordered_need_a_yes(practice: Practice) -> None:
    order = sent(practice, LIGHT_A=1)
    lines = (light(2), Arrival(item="HEAVY-A", packs=1, lot="H1", use_by=LATER))
    asked: Preview = receiving.preview(practice, delivery(order, *lines))
    assert asked.asks == (f"HEAVY-A is not on order {order.number}.", "LIGHT-A: 4 units came, 2 were ordered.")
    with pytest.raises(NeedsConfirmation):
        receive(practice, order, *lines)
    receive(practice, order, *lines, confirmed=True)
    (line,) = orders.order(practice, order.number).lines
    assert (line.came_units, line.open_units) == (4, 0)
    assert on_order(practice) == {}


def test_another_price_is_told_and_kept_with_the_lot(practice: Practice) -> None:
    order = sent(practice, LIGHT_A=5)
    received = receive(practice, order, light(5, pack_cents=2600))
    assert "LIGHT-A: 26.00 a pack, ordered at 25.00." in received.warnings
    catalogue.save_supply(practice, box("LIGHT-A", pack_cents=9900, valid_from=TODAY), by=BY)
    again = sent(practice, HEAVY_A=1)
    assert "ordered at" not in " ".join(
        receive(practice, again, Arrival(item="HEAVY-A", packs=1, lot="H", use_by=LATER), key="k2").warnings
    )


def test_damaged_units_stay_on_order_until_they_are_replaced_or_given_up(practice: Practice) -> None:
    order = sent(practice, LIGHT_A=2)
    received = receive(practice, order, light(2, damaged_units=1))
    assert "LIGHT-A: 1 damaged; they stay on order until they are replaced or given up." in received.warnings
    assert on_order(practice) == {"LIGHT-A": 5000}
    order = ordering.close_short(practice, order.number, "light-a", reason="credited", by=BY)
    assert order.state is OrderState.RECEIVED
    assert on_order(practice) == {}


def test_a_line_that_came_damaged_as_a_whole_is_written_down_and_not_in_stock(practice: Practice) -> None:
    order = sent(practice)
    heavy = Arrival(item="HEAVY-A", packs=1, lot="H1", use_by=LATER, damaged_units=2)
    received = receive(practice, order, light(3), heavy)
    assert [(line.item, line.units, line.damaged_units) for line in received.lines][-1] == ("HEAVY-A", 0, 2)
    assert on_order(practice) == {"HEAVY-A": 2 * 5000}


def test_a_delivery_of_nothing_sound_is_received_and_goes_back_at_once(practice: Practice) -> None:
    order = sent(practice, HEAVY_A=1)
    heavy = Arrival(item="HEAVY-A", packs=1, lot="H1", use_by=LATER, damaged_units=2)
    received = receive(practice, order, heavy)
    assert received.lines[0].damaged_units == 2
    assert stock_views.lots(practice).lines == ()
    assert on_order(practice) == {"HEAVY-A": 2 * 5000}
    assert orders.order(practice, order.number).state is OrderState.SENT
    assert verify(practice).clean


def test_a_substitute_settles_the_line_it_came_in_place_of_pack_for_pack(practice: Practice) -> None:
    order = sent(practice, HEAVY_A=2)
    catalogue.save_supply(practice, box("POWDER", units_per_pack=1), by=BY)
    instead = Arrival(item="POWDER", packs=1, lot="P1", use_by=LATER, instead_of="heavy-a")
    received = receive(practice, order, instead)
    assert "POWDER came in place of HEAVY-A." in received.warnings
    assert on_order(practice) == {"HEAVY-A": 2 * 5000}
    with pytest.raises(BadInput, match="LIGHT-A is not on order"):
        receive(practice, order, replace(instead, instead_of="LIGHT-A", lot="P2"), key="k2")


def test_undoing_a_delivery_puts_its_goods_on_order_again(practice: Practice) -> None:
    order = sent(practice)
    before = on_order(practice)
    received = receive(practice, order, light(3), Arrival(item="HEAVY-A", packs=1, lot="H1", use_by=LATER))
    correcting.undo(practice, received.document_id, reason="another order's", by=BY, request_key="undo")
    assert on_order(practice) == before
    assert orders.order(practice, order.number).state is OrderState.SENT


def test_an_order_given_up_is_cancelled_and_its_lines_are_kept(practice: Practice) -> None:
    order = ordering.cancel(practice, sent(practice).number, reason="the supplier has none", by=BY)
    assert (order.state, on_order(practice)) == (OrderState.CANCELLED, {})
    assert [(line.packs, line.cancelled_packs) for line in order.lines] == [(3, 3), (1, 1)]
    with pytest.raises(AlreadyDone):
        ordering.cancel(practice, order.number, reason="again", by=BY)
    draft = ordering.draft(practice, TERMS.name, [Wanted("HEAVY-A", 1)], by=BY)
    assert ordering.cancel(practice, draft.number, reason="not now", by=BY).state is OrderState.CANCELLED
    with pytest.raises(BadInput):
        ordering.cancel(practice, draft.number, reason=" ", by=BY)


def test_goods_are_received_only_for_sent_orders_of_the_same_supplier(practice: Practice) -> None:
    draft = ordering.draft(practice, TERMS.name, [Wanted("HEAVY-A", 1)], by=BY)
    with pytest.raises(NotAllowed, match="draft"):
        receive(practice, draft, light(1))
    catalogue.add_supplier(practice, replace(SUPPLIER, name="Supplier South"), by=BY)
    loose = Arrival(item="LIGHT-A", units=1, lot="L1", use_by=LATER)
    ordering.send(practice, draft.number, by=BY)
    with pytest.raises(NotAllowed, match="went to Supplier North"):
        receiving.preview(practice, replace(delivery(draft, loose), supplier="Supplier South"))
    with pytest.raises(NotFound):
        receiving.preview(practice, replace(delivery(draft, light(1)), order="O-9"))


def test_an_order_later_than_the_supplier_usually_is_becomes_a_line_of_the_week(practice: Practice) -> None:
    order = sent(practice)
    assert order.expected_on is not None
    on_the_day, after = on(practice, order.expected_on), on(practice, order.expected_on + timedelta(days=1))
    assert weekly_check.weekly_check(on_the_day).count(AlertKind.ORDER_OVERDUE) == 0
    (line,) = [one for one in weekly_check.weekly_check(after).lines if one.kind is AlertKind.ORDER_OVERDUE]
    assert (line.subject, line.order, line.cents) == ("Order O-0001", "O-0001", 12_000)
    assert line.what == "1 day late; still to come: 3 x Light body A, fast, 1 x Heavy body A"
    assert all(derivation.adds_up() for derivation in line.why)
    assert orders.order(after, order.number).overdue


def test_deliveries_teach_how_long_the_supplier_takes(practice: Practice) -> None:
    order = sent(practice, HEAVY_A=1)
    monday = TODAY + timedelta(days=(7 - TODAY.weekday()) % 7)
    came = on(practice, monday + timedelta(days=13))
    receive(came, order, Arrival(item="HEAVY-A", packs=1, lot="H1", use_by=LATER))
    again = sent(came, HEAVY_A=1)
    assert again.sent_on is not None
    next_monday = again.sent_on + timedelta(days=(7 - again.sent_on.weekday()) % 7)
    assert again.expected_on == next_monday + timedelta(days=5)  # four orders of 3 days and one of 13
    assert not orders.order(on(came, again.expected_on + timedelta(days=4)), again.number).overdue
    assert orders.order(on(came, again.expected_on + timedelta(days=5)), again.number).overdue


def test_an_order_that_says_another_state_than_its_deliveries_is_found(practice: Practice) -> None:
    order = sent(practice)
    with practice.writing() as desk:
        desk.session.get_one(Purchase, order.order_id).state = OrderState.RECEIVED
    (finding,) = verify(practice).findings
    assert (finding.check, finding.subject_id) == ("orders", "O-0001")
    assert finding.message == "order O-0001 is received, but its deliveries say sent"


def test_two_who_write_at_once_get_two_numbers(practice: Practice) -> None:
    together = Barrier(2)

    def write(_: int) -> str:
        together.wait()
        return ordering.draft(practice, TERMS.name, [Wanted("HEAVY-A", 1)], by=BY, confirmed=True).number

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(write, range(2))) == ["O-0001", "O-0002"]


def test_looking_at_what_is_on_order_reads_no_growing_table_whole(practice: Practice) -> None:
    order = sent(practice)
    receive(practice, order, light(1))
    if practice.store.dialect == "sqlite":
        looks: list[Callable[[], object]] = [lambda: on_order(practice), lambda: orders.order(practice, order.number)]
        for look in looks:
            assert scans(practice.store, look)[1] == []
