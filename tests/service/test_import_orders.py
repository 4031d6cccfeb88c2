"""Orders that were sent before the book began: on order from then on, and never twice."""

from datetime import date, timedelta

import pytest

from inventory.domain.catalogue import PackPart
from inventory.domain.vocabulary import OrderState
from inventory.errors import RowErrors
from inventory.service import catalogue, forecasting, ordering, orders, receiving
from inventory.service.importing import Imported, import_file, rejected_csv
from inventory.service.orders import Order
from inventory.service.practice import Practice
from inventory.service.receiving import Arrival, Delivery
from tests.service.catalogue_samples import BY, SUPPLIER, TODAY, box

HEADER = "order,supplier,sent_on,expected_on,item,packs,units_per_pack,price,received_packs\n"
NORTH = SUPPLIER.name


@pytest.fixture
def practice(stocked: Practice) -> Practice:
    """Light body comes in boxes of two with six tips, or of five; cheaper from five boxes of two on."""
    light = box("LIGHT-A", contents=(PackPart("TIP-1", 6),), breaks=((5, 2500),))
    for supply in (light, box("LIGHT-A", units_per_pack=5, pack_cents=7000, preferred=False), box("HEAVY-A")):
        catalogue.save_supply(stocked, supply, by=BY)
    return stocked


def load(practice: Practice, rows: str, *, partial: bool = False) -> Imported:
    return import_file(practice, "orders", (HEADER + rows).encode(), by=BY, partial=partial)


def coming(practice: Practice) -> dict[str, int]:
    """Base units on order by item, as forecasts see them."""
    with practice.reading() as desk:
        picture = forecasting.picture(desk)
        found: dict[str, int] = {}
        for one in picture.coming:
            code = picture.items[one.item_id].code
            found[code] = found.get(code, 0) + one.qty
        return found


def lines(order: Order) -> list[tuple[str, int, int, int]]:
    return [(line.code, line.packs, line.units_per_pack, line.pack_cents) for line in order.lines]


def test_open_orders_are_on_order_and_are_received_like_any_other(practice: Practice) -> None:
    rows = f"po-7,{NORTH},2027-03-08,2027-03-20,light-a,6,,,2\npo-7,{NORTH},2027-03-08,,HEAVY-A,1,2,28.50,\n"
    result = load(practice, rows)
    assert (result.added, result.rejected, result.warnings) == (2, (), ())
    order = orders.order(practice, "PO-7")
    assert (order.state, order.sent_on, order.expected_on) == (OrderState.SENT, date(2027, 3, 8), date(2027, 3, 20))
    assert lines(order) == [("LIGHT-A", 4, 2, 2500), ("HEAVY-A", 1, 2, 2850)]  # at the price of the six ordered
    assert coming(practice) == {"LIGHT-A": 8 * 5000, "TIP-1": 24, "HEAVY-A": 2 * 5000}
    came = Delivery(supplier=NORTH, lines=(Arrival(item="LIGHT-A", packs=4, pack_of=2, lot="L1"),), order="PO-7")
    receiving.receive(practice, came, by=BY, request_key="k", confirmed=True)
    assert orders.order(practice, "PO-7").state is OrderState.PART
    assert coming(practice) == {"HEAVY-A": 2 * 5000}


def test_orders_without_a_number_are_one_by_supplier_and_day_and_draw_a_free_number(practice: Practice) -> None:
    rows = (
        f",{NORTH},2027-03-09,,LIGHT-A,1,5,,\n"
        f",{NORTH},2027-03-09,,HEAVY-A,1,,,\n"
        f"O-0002,{NORTH},2027-03-09,,HEAVY-A,1,,,\n"
    )
    assert load(practice, rows).added == 3
    found = {one.number: lines(one) for one in orders.orders(practice)}
    assert set(found) == {"O-0002", "O-0003"}
    assert [(code, units) for code, _, units, _ in found["O-0003"]] == [("LIGHT-A", 5), ("HEAVY-A", 2)]
    assert orders.order(practice, "O-0003").expected_on == date(2027, 3, 9) + timedelta(days=SUPPLIER.lead_days)
    assert ordering.draft(practice, NORTH, [ordering.Wanted("LIGHT-A", 1)], by=BY).number == "O-0004"  # 2 and 3 exist


def test_a_file_read_twice_orders_nothing_twice(practice: Practice) -> None:
    rows = f"P-1,{NORTH},2027-03-08,,LIGHT-A,1,,,\n,{NORTH},2027-03-09,,HEAVY-A,1,,,\n"
    load(practice, rows)
    before = coming(practice)
    with pytest.raises(RowErrors) as refused:
        load(practice, rows)
    assert [(fault.row, fault.column) for fault in refused.value.errors] == [(2, "order"), (3, "order")]
    assert coming(practice) == before


def test_every_fault_of_an_order_is_said_and_nothing_is_on_order(practice: Practice) -> None:
    rows = (
        f"P-1,Nobody,2027-03-08,,LIGHT-A,1,,,\n"
        f"P-2,{NORTH},{TODAY + timedelta(days=1)},,LIGHT-A,1,,,\n"
        f"P-3,{NORTH},2027-03-08,2027-03-07,LIGHT-A,0,,,\n"
        f"P-3,{NORTH},2027-03-07,,GONE,1,,,\n"
        f"P-4,{NORTH},2027-03-08,9999-12-31,LIGHT-A,1,3,,\n"
        f"P-5,{NORTH},2027-03-08,,TIP-1,1,,-2,\n"
        f"P-6,{NORTH},2027-03-08,,LIGHT-A,2,,,3\n"
        f"P-7,{NORTH},2027-03-08,,HEAVY-A,2,,,\nP-7,{NORTH},2027-03-08,,HEAVY-A,2,,,\n"
    )
    with pytest.raises(RowErrors) as refused:
        load(practice, rows)
    assert {(fault.row, fault.column) for fault in refused.value.errors} == {
        (2, "supplier"), (3, "sent_on"), (4, "expected_on"), (4, "packs"), (5, "sent_on"), (5, "item"),
        (6, "expected_on"), (6, "units_per_pack"), (7, "item"), (7, "price"), (8, "received_packs"), (10, "item"),
    }  # fmt: skip
    assert coming(practice) == {}


def test_an_order_with_a_wrong_row_is_left_out_whole_and_can_be_corrected(practice: Practice) -> None:
    rows = (
        f"P-1,{NORTH},2027-03-08,,LIGHT-A,1,,,\nP-1,{NORTH},2027-03-08,,HEAVY-A,x,,,\n"
        f"P-2,{NORTH},2027-03-08,,HEAVY-A,1,,,\n"
    )
    result = load(practice, rows, partial=True)
    assert [one.number for one in orders.orders(practice)] == ["P-2"]
    corrected = rejected_csv(result).replace(",x,", ",1,")
    assert import_file(practice, "orders", corrected.encode(), by=BY).added == 2
    assert len(orders.order(practice, "P-1").lines) == 2


def test_what_has_come_already_is_not_on_order(practice: Practice) -> None:
    result = load(practice, f"P-1,{NORTH},2027-03-08,,LIGHT-A,2,,,2\n")
    assert (result.added, orders.orders(practice)) == (0, ())
    assert result.warnings == ("row 2: all of it has come, so it is not on order.",)
