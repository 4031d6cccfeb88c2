"""What stands where, as people look at it: lots, items, trays."""

import json
from collections.abc import Callable
from contextlib import closing
from dataclasses import asdict
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from inventory.domain.ledger import Sealed
from inventory.domain.stock_lines import StockState
from inventory.domain.vocabulary import Arch, ItemKind, UseByReading
from inventory.errors import NotFound
from inventory.service import holding, moving, stock_views
from inventory.service.moving import Part
from inventory.service.stock_views import ItemLine, LotLine
from inventory.store.engine import open_store
from inventory.store.tables import Delivery, DeliveryLine, Hold, Item, Notice, Setting, Supplier, Supply, TraySize
from tests.plans import scans
from tests.shelves import TODAY, Shelves


def day(offset: int) -> date:
    return TODAY + timedelta(days=offset)


def lines(shelves: Shelves, **which: Any) -> tuple[LotLine, ...]:
    return stock_views.lots(shelves.practice, **which).lines


def the_item(shelves: Shelves, item_id: int) -> ItemLine:
    return next(line for line in stock_views.items(shelves.practice).lines if line.item_id == item_id)


def opened(shelves: Shelves, lot_id: int, use: int = 0, on: date = TODAY, place: str = "") -> int:
    slip = shelves.slip(on=on, confirmed=True, reason="test")
    unit = moving.open_unit(shelves.practice, shelves.sealed(lot_id), slip, to_place=place or None).opened_id
    assert unit is not None
    if use:
        shelves.use(unit, use)
    return unit


def priced(
    shelves: Shelves, item_id: int, cents: int, units: int, since: date = TODAY, *, preferred: bool = True
) -> None:
    with shelves.practice.writing() as desk:
        supplier = desk.add(Supplier(name=f"Supplier {shelves.key()}", lead_days=3))
        desk.add(
            Supply(
                item_id=item_id, supplier_id=supplier, catalogue_no="1", units_per_pack=units, pack_cents=cents,
                valid_from=since, preferred=preferred,
            )
        )  # fmt: skip


# Lot by lot


def test_a_lot_is_told_as_it_is_seen_sealed_and_opened(shelves: Shelves) -> None:
    lot = shelves.lot(4, use_by=day(400))
    opened(shelves, lot, 3_000)
    (line,) = lines(shelves)
    assert (line.amount, line.qty, line.sealed_units) == ("3 + 0.4 opened", 17_000, 3)
    assert [(unit.qty, unit.opened_on) for unit in line.opened] == [(2_000, TODAY)]
    assert (line.state, line.usable, line.last_day, line.days_left) == (StockState.IN_DATE, True, day(400), 400)


def test_each_place_has_a_line_of_its_own(shelves: Shelves) -> None:
    lot = shelves.lot(4)
    moving.transfer(shelves.practice, [Part(shelves.sealed(lot), 5_000)], "Chair 1", shelves.slip())
    assert {line.place: line.sealed_units for line in lines(shelves)} == {"Store room": 3, "Chair 1": 1}
    assert [line.place for line in lines(shelves, place="chair 1")] == ["Chair 1"]
    with pytest.raises(NotFound):
        lines(shelves, place="cellar")


def test_what_is_empty_is_not_listed(shelves: Shelves) -> None:
    lot = shelves.lot(1)
    moving.discard(shelves.practice, [Part(shelves.sealed(lot))], shelves.slip(reason="dropped"))
    assert lines(shelves) == ()


def test_the_end_of_the_opened_life_counts_where_it_is_earlier(shelves: Shelves) -> None:
    lot = shelves.lot(2, use_by=day(400), item=shelves.item(opened_days=30, opened_days_source="leaflet"))
    opened(shelves, lot, on=day(-31))
    (line,) = lines(shelves)
    assert (line.use_by, line.last_day, line.days_left) == (day(400), day(-1), -1)
    assert (line.state, line.usable) == (StockState.EXPIRED, True)  # the sealed one is in date
    assert [unit.state for unit in line.opened] == [StockState.EXPIRED]


@pytest.mark.parametrize(
    ("known", "state"),
    [
        ({"use_by": day(-1)}, StockState.EXPIRED),
        ({"use_by": day(0)}, StockState.SOON),
        ({"use_by": day(90)}, StockState.SOON),
        ({"use_by": day(91)}, StockState.IN_DATE),
        ({"use_by_read": UseByReading.NOT_READ}, StockState.NOT_READ),
        ({"use_by_read": UseByReading.NONE_STATED}, StockState.NONE_STATED),
    ],
)
def test_a_lot_has_one_word_for_its_state(shelves: Shelves, known: dict[str, Any], state: StockState) -> None:
    shelves.lot(1, **known)
    (line,) = lines(shelves)
    assert line.state is state
    assert line.usable is (state is not StockState.EXPIRED)


def test_how_soon_is_soon_is_the_practices_setting(shelves: Shelves) -> None:
    shelves.lot(1, use_by=day(60))
    with shelves.practice.writing() as desk:
        desk.session.add(Setting(key="warn_days", value=30))
    assert lines(shelves)[0].state is StockState.IN_DATE


def test_a_date_of_which_the_label_gave_the_month_only_is_marked(shelves: Shelves) -> None:
    shelves.lot(1, use_by=date(2027, 2, 28), use_by_read=UseByReading.MONTH)
    assert lines(shelves)[0].month_only


def test_held_and_recalled_lots_say_so_and_why(shelves: Shelves) -> None:
    item = shelves.item()
    held, recalled = shelves.lot(1, item=item, number="H"), shelves.lot(1, item=item, number="R", use_by=day(-5))
    holding.hold(shelves.practice, lot_id=held, reason="sets slowly", by="AB")
    with shelves.practice.writing() as desk:
        notice = desk.add(Notice(reference="FSN 1", notice_on=TODAY))
        desk.add(
            Hold(lot_id=recalled, notice_id=notice, reason="recall FSN 1", person_id=shelves.person_id, at=desk.now)
        )
    by_number = {line.lot_number: line for line in lines(shelves, item_id=item)}
    assert (by_number["H"].state, by_number["H"].why_held) == (StockState.HELD, ("sets slowly",))
    assert (by_number["R"].state, by_number["R"].why_held) == (StockState.RECALLED, ("recall FSN 1",))
    assert not any(line.usable for line in by_number.values())
    holding.release(shelves.practice, lot_id=held, reason="tested", by="AB")
    assert lines(shelves, lot_id=held)[0].state is StockState.NONE_STATED


def test_lots_stand_in_issue_order_what_must_not_be_used_last(shelves: Shelves) -> None:
    item = shelves.item()
    last_days = {"undated": None, "late": day(300), "expired": day(-1), "early": day(100), "open": day(500)}
    for number, last_day in last_days.items():
        shelves.lot(1, item=item, number=number, use_by=last_day)
    opened(shelves, next(line.lot_id for line in lines(shelves) if line.lot_number == "open"))
    assert [line.lot_number for line in lines(shelves)] == ["open", "early", "late", "undated", "expired"]


# Money


def test_a_lot_is_worth_what_was_paid_for_it(shelves: Shelves) -> None:
    item = shelves.item()
    lot = shelves.lot(4, item=item)
    priced(shelves, item, 9_999, 4)
    document = shelves.receive(lot, 2)
    with shelves.practice.writing() as desk:
        supplier = desk.add(Supplier(name="S", lead_days=3))
        delivery = desk.add(Delivery(supplier_id=supplier, received_on=TODAY))
        desk.add(
            DeliveryLine(
                delivery_id=delivery, lot_id=lot, units=2, pack_cents=5_000, units_per_pack=2, document_id=document
            )
        )
    opened(shelves, lot, 2_500)
    assert lines(shelves)[0].value_cents == 5 * 2_500 + 1_250


def test_a_lot_without_a_price_paid_is_worth_todays_price(shelves: Shelves) -> None:
    item = shelves.item()
    shelves.lot(2, item=item)
    priced(shelves, item, 1_000, 2, day(-30))
    priced(shelves, item, 2_000, 2, day(-1))
    priced(shelves, item, 9_000, 2, day(1))  # not yet in force
    priced(shelves, item, 7_000, 2, day(-1), preferred=False)
    line = the_item(shelves, item)
    assert (line.value_cents, line.unvalued) == (2_000, 0)


def test_stock_without_any_known_price_is_said_so(shelves: Shelves) -> None:
    item = shelves.item()
    shelves.lot(2, item=item)
    assert lines(shelves)[0].value_cents is None
    line = the_item(shelves, item)
    assert (line.value_cents, line.unvalued) == (0, 10_000)


# Item by item


def test_everything_of_an_item_is_in_one_of_four_heaps(shelves: Shelves) -> None:
    item = shelves.item()
    shelves.lot(3, item=item, use_by=day(50))
    shelves.lot(2, item=item, use_by=day(-1))
    held = shelves.lot(1, item=item, use_by=day(-1))
    holding.hold(shelves.practice, lot_id=held, reason="sets slowly", by="AB")
    shelves.lot(4, "Set aside", item=item, use_by=day(400))
    shelves.lot(1, item=item, use_by_read=UseByReading.NOT_READ)
    line = the_item(shelves, item)
    assert (line.usable, line.blocked, line.expired, line.elsewhere) == (20_000, 5_000, 10_000, 20_000)
    assert line.total == line.usable + line.blocked + line.expired + line.elsewhere
    assert (line.soon, line.next_last_day, line.lots, line.not_read) == (15_000, day(50), 5, 1)
    assert line.amount == "4"


def test_items_are_listed_by_name_also_those_without_stock(shelves: Shelves) -> None:
    for name in ("Wash", "Adhesive"):
        shelves.item(name=name)
    result = stock_views.items(shelves.practice)
    assert [(line.name, line.amount) for line in result.lines] == [("Adhesive", "0"), ("Wash", "0")]
    assert result.value_cents == 0
    assert stock_views.items(shelves.practice, kind=ItemKind.TIP).lines == ()


def test_an_item_given_up_is_listed_while_some_is_left(shelves: Shelves) -> None:
    left, gone = shelves.item(name="left"), shelves.item(name="gone")
    shelves.lot(1, item=left)
    with shelves.practice.writing() as desk:
        for number in (left, gone):
            desk.session.get_one(Item, number).active = False
    assert [(line.name, line.active) for line in stock_views.items(shelves.practice).lines] == [("left", False)]


# Trays


def tray_practice(shelves: Shelves) -> dict[str, int]:
    with shelves.practice.writing() as desk:
        for arch in Arch:
            for position, label in enumerate(("S", "M", "L")):
                desk.session.add(TraySize(line="A", arch=arch, position=position, label=label))
    return {
        size: shelves.tray(tray_size=size, arch=Arch.MANDIBULAR, reusable=True, name=f"Tray {size}")
        for size in ("L", "S", "XXL")
    }


def test_trays_are_shown_arch_by_size_in_the_practices_order(shelves: Shelves) -> None:
    items = tray_practice(shelves)
    shelves.lot(5, item=items["S"])
    (grid,) = stock_views.trays(shelves.practice).grids
    assert [(row.arch, [cell.size for cell in row.cells]) for row in grid.rows] == [
        (Arch.MAXILLARY, ["S", "M", "L"]),
        (Arch.MANDIBULAR, ["S", "M", "L", "XXL"]),  # a size outside the run comes last
    ]
    small, medium = grid.rows[1].cells[:2]
    assert (small.available, small.item_ids, small.away) == (5, (items["S"],), 0)
    assert (medium.available, medium.item_ids) == (0, ())


def test_reusable_trays_that_are_away_are_told_apart(shelves: Shelves) -> None:
    items = tray_practice(shelves)
    lot = shelves.lot(6, item=items["L"])
    stack = shelves.sealed(lot)
    for place, number in {"Reprocessing": 2, "Laboratory": 1, "Chair 1": 1, "Set aside": 1}.items():
        moving.transfer(shelves.practice, [Part(stack, number)], place, shelves.slip())
    (grid,) = stock_views.trays(shelves.practice).grids
    cell = grid.rows[1].cells[2]
    assert (cell.available, cell.reprocessing, cell.laboratory, cell.set_aside, cell.away) == (2, 2, 1, 1, 3)
    assert cell.reusable


def test_trays_that_must_not_be_used_are_not_available(shelves: Shelves) -> None:
    items = tray_practice(shelves)
    shelves.lot(2, item=items["S"], use_by=day(-1))
    held = shelves.lot(3, item=items["S"])
    holding.hold(shelves.practice, lot_id=held, reason="cracked", by="AB")
    (grid,) = stock_views.trays(shelves.practice).grids
    cell = grid.rows[1].cells[0]
    assert (cell.available, cell.expired, cell.blocked) == (0, 2, 3)


# For every reader


def test_every_view_can_be_written_as_json(shelves: Shelves) -> None:
    items = tray_practice(shelves)
    shelves.lot(2, item=items["S"])
    opened(shelves, shelves.lot(2, use_by=day(5)), 100)
    moving.correct_count(
        shelves.practice, Sealed(shelves.lot(0), shelves.places["Chair 1"]), 5_000, shelves.slip(reason="found")
    )
    for view in (stock_views.lots, stock_views.items, stock_views.trays):
        text = json.dumps(asdict(view(shelves.practice)), default=date.isoformat)
        assert json.loads(text)["today"] == "2026-03-02"


# Their cost follows what stands there, not what ever stood there


def test_no_list_of_stock_reads_what_is_long_gone(tmp_path: Path) -> None:
    with closing(open_store(str(tmp_path / "practice.db"))) as store:
        shelves = Shelves(store)
        lot = shelves.lot(3)
        moving.write_off_rest(shelves.practice, opened(shelves, lot), shelves.slip())
        looks: list[Callable[[], object]] = [
            lambda: stock_views.lots(shelves.practice),
            lambda: stock_views.lots(shelves.practice, lot_id=lot),
            lambda: stock_views.lots(shelves.practice, item_id=1, place="Chair 1"),
            lambda: stock_views.items(shelves.practice),
            lambda: stock_views.trays(shelves.practice),
        ]
        for look in looks:
            _, read_from_end_to_end = scans(store, look)
            assert read_from_end_to_end == []
