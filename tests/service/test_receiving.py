"""A delivery becomes lots at a place, whole, once, with what is unusual asked and what is worth knowing said."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from threading import Barrier

import pytest
from sqlmodel import select

from inventory.domain.catalogue import PackPart
from inventory.domain.dates import DateOrder
from inventory.domain.ledger import Draft, Posting, request_hash, turned
from inventory.domain.vocabulary import DocumentKind, UseByReading
from inventory.domain.words import STANDING
from inventory.errors import BadInput, KeyReused, NeedsConfirmation, NotAllowed, NotFound
from inventory.service import catalogue, holding, receiving, setting_up
from inventory.service.clock import Clock
from inventory.service.lots import NONE_STATED, NOT_READ, UseBy, parse_use_by
from inventory.service.practice import Practice
from inventory.service.receiving import Arrival, Delivery, PackArticle, Received, receive
from inventory.store.engine import Store, open_store
from inventory.store.ledger import entries_of, post
from inventory.store.queries.stock import Stand, stands
from inventory.store.tables import Change, DeliveryLine
from tests.service.catalogue_samples import BY, NOW, SUPPLIER, TODAY, box, new_clock, stocked_practice
from tests.service.conftest import copied
from tests.stores import NewStores

LATER = UseBy.on(date(2028, 12, 31))
BOXES = Arrival(item="LIGHT-A", packs=3, lot="L7", use_by=LATER)


@pytest.fixture
def practice(new_stores: NewStores) -> Iterator[Practice]:
    with copied(new_stores, "boxes", with_boxes) as store:
        yield Practice(store, new_clock(TODAY))


def with_boxes(store: Store) -> None:
    """Light body comes in boxes of two cartridges with six tips."""
    practice = stocked_practice(store)
    catalogue.save_supply(practice, box("LIGHT-A", contents=(PackPart("TIP-1", 6),), breaks=((5, 2500),)), by=BY)


def came(*lines: Arrival, **changes: object) -> Delivery:
    return replace(Delivery(supplier=SUPPLIER.name, lines=lines), **changes)  # type: ignore[arg-type]


def enter(practice: Practice, *lines: Arrival, key: str = "k1", confirmed: bool = False, **changes: object) -> Received:
    return receive(practice, came(*lines, **changes), by=BY, request_key=key, confirmed=confirmed)


def stock(practice: Practice) -> dict[tuple[str, str], int]:
    """Base units on hand by lot number and place."""
    with practice.reading() as desk:
        return {(row.lot_number, row.place_name): row.on_hand for row in stands(desk.session)}


def the_stand(practice: Practice) -> Stand:
    with practice.reading() as desk:
        (row,) = stands(desk.session)
        return row


def undo(practice: Practice, received: Received) -> None:
    """Reverse a receipt by the ledger's own writer."""
    with practice.writing() as desk:
        entries = turned(entries_of(desk.session, received.document_id))
        draft = Draft(DocumentKind.REVERSAL, entries, reason="entered wrongly", reverses_id=received.document_id)
        key = f"undo {received.document_id}"
        post(desk.session, Posting(key, request_hash(key, {}), desk.person(BY), NOW, NOW, TODAY, (draft,)))


def later(practice: Practice, days: int) -> Practice:
    return Practice(practice.store, Clock(lambda: NOW + timedelta(days=days)))


def test_every_article_of_every_pack_is_received(practice: Practice) -> None:
    received = enter(practice, BOXES)
    assert stock(practice) == {("L7", "store room"): 3 * 2 * 5000, (STANDING, "store room"): 18}
    assert [(line.item, line.units) for line in received.lines] == [("LIGHT-A", 6), ("TIP-1", 18)]
    assert received.received_on == TODAY


def test_loose_units_bring_no_further_articles(practice: Practice) -> None:
    enter(practice, Arrival(item="light-a", units=5, lot="L7", use_by=LATER, place="Operatory 1"))
    assert stock(practice) == {("L7", "operatory 1"): 25_000}


def test_one_box_may_hold_two_lots(practice: Practice) -> None:
    enter(practice, BOXES, Arrival(item="LIGHT-A", units=1, lot="L8", use_by=LATER))
    assert {lot for lot, _ in stock(practice)} == {"L7", "L8", STANDING}


def test_damaged_units_are_noted_and_not_received(practice: Practice) -> None:
    received = enter(practice, replace(BOXES, damaged_units=2))
    assert stock(practice)["L7", "store room"] == 4 * 5000
    assert (received.lines[0].units, received.lines[0].damaged_units) == (4, 2)


def test_tips_in_a_box_may_have_a_lot_of_their_own(practice: Practice) -> None:
    enter(
        practice, replace(BOXES, contents=(PackArticle(item="tip-1", lot="T9", use_by=NONE_STATED, damaged_units=1),))
    )
    assert stock(practice)["T9", "store room"] == 17


def test_a_label_without_a_lot_number_gets_a_house_number_from_the_receipt(practice: Practice) -> None:
    received = enter(practice, Arrival(item="HEAVY-A", units=2), Arrival(item="POWDER", units=1))
    year_and_delivery = f"R-2027-{received.delivery_id:04d}"
    assert [(line.lot, line.number_is_ours) for line in received.lines] == [
        (f"{year_and_delivery}-1", True), (f"{year_and_delivery}-2", True),
    ]  # fmt: skip


def test_items_without_lots_share_one_standing_lot(practice: Practice) -> None:
    first = enter(practice, Arrival(item="BAG", units=100))
    second = enter(practice, Arrival(item="BAG", units=50), key="k2")
    assert first.lines[0].lot_id == second.lines[0].lot_id
    assert first.lines[0].use_by_read is UseByReading.NONE_STATED
    assert stock(practice) == {(STANDING, "store room"): 150}


def test_a_date_on_an_item_that_usually_has_none_makes_a_lot_of_its_own(practice: Practice) -> None:
    received = enter(practice, Arrival(item="BAG", units=100, use_by=LATER))
    assert received.lines[0].lot.startswith("R-2027-")
    assert received.lines[0].use_by == LATER.day


def test_the_ways_a_date_was_read_stay_marked(practice: Practice) -> None:
    received = enter(
        practice,
        Arrival(item="HEAVY-A", units=1, lot="A", use_by=UseBy.month(2028, 2)),
        Arrival(item="HEAVY-A", units=1, lot="B", use_by=NONE_STATED),
        Arrival(item="HEAVY-A", units=1, lot="C"),
    )
    assert [(line.use_by, line.use_by_read) for line in received.lines] == [
        (date(2028, 2, 29), UseByReading.MONTH), (None, UseByReading.NONE_STATED), (None, UseByReading.NOT_READ),
    ]  # fmt: skip
    assert received.warnings == ("HEAVY-A, lot C: its use-by date was not read yet.",)


def test_the_same_lot_and_date_adds_to_the_lot(practice: Practice) -> None:
    first = enter(practice, Arrival(item="HEAVY-A", units=1, lot="A", use_by=LATER))
    second = enter(practice, Arrival(item="HEAVY-A", units=2, lot="A", use_by=LATER), key="k2")
    assert first.lines[0].lot_id == second.lines[0].lot_id
    assert the_stand(practice).on_hand == 15_000


def test_the_same_number_with_another_date_is_a_lot_of_its_own_after_a_yes(practice: Practice) -> None:
    first = enter(practice, Arrival(item="HEAVY-A", units=1, lot="A", use_by=LATER))
    other = Arrival(item="HEAVY-A", units=1, lot="A", use_by=UseBy.on(date(2029, 1, 1)))
    with pytest.raises(NeedsConfirmation, match=r"in the book with another date \(2028-12-31\)"):
        enter(practice, other, key="k2")
    second = enter(practice, other, key="k2", confirmed=True)
    assert first.lines[0].lot_id != second.lines[0].lot_id
    assert enter(practice, replace(other, units=2), key="k3").lines[0].lot_id == second.lines[0].lot_id


def test_upper_and_lower_case_make_different_lots(practice: Practice) -> None:
    enter(practice, *(Arrival(item="HEAVY-A", units=1, lot=lot, use_by=LATER) for lot in ("a1", "A1", "01", "1")))
    assert {lot for lot, _ in stock(practice)} == {"a1", "A1", "01", "1"}


def test_a_lot_whose_date_was_unread_is_settled_when_its_maker_states_none(practice: Practice) -> None:
    enter(practice, Arrival(item="HEAVY-A", units=1, lot="A"))
    received = enter(practice, Arrival(item="HEAVY-A", units=2, lot="A", use_by=NONE_STATED), key="k2")
    assert received.lines[0].use_by_read is UseByReading.NONE_STATED
    assert the_stand(practice).on_hand == 15_000


@pytest.mark.parametrize(("offset", "asked"), [(-1, True), (0, False)])
def test_the_use_by_date_itself_is_still_good_and_the_day_after_needs_a_yes(
    practice: Practice, offset: int, asked: bool
) -> None:
    # use-by is the date after which the device is not to be used (ISO 15223-1:2021, 5.1.4, read in the source)
    line = Arrival(item="HEAVY-A", units=1, lot="A", use_by=UseBy.on(TODAY + timedelta(days=offset)))
    assert bool(receiving.preview(practice, came(line)).asks) is asked
    if asked:
        with pytest.raises(NeedsConfirmation, match="has passed"):
            enter(practice, line)
        assert stock(practice) == {}
    assert enter(practice, line, confirmed=True).lines[0].units == 1


def test_a_short_remaining_life_is_said(practice: Practice) -> None:
    short = UseBy.on(TODAY + timedelta(days=89))
    assert enter(practice, Arrival(item="HEAVY-A", units=1, lot="A", use_by=short)).warnings == (
        f"HEAVY-A, lot A: only 89 days left until {short.day}.",
    )
    enough = UseBy.on(TODAY + timedelta(days=90))
    assert enter(practice, Arrival(item="HEAVY-A", units=1, lot="B", use_by=enough), key="k2").warnings == ()


def test_less_than_half_the_usual_life_is_said(practice: Practice) -> None:
    for number, days in enumerate((700, 720, 740)):
        use_by = UseBy.on(TODAY + timedelta(days=days))
        enter(practice, Arrival(item="HEAVY-A", units=1, lot=str(number), use_by=use_by), key=f"k{number}")
    half = UseBy.on(TODAY + timedelta(days=359))
    warnings = enter(practice, Arrival(item="HEAVY-A", units=1, lot="9", use_by=half), key="k9").warnings
    assert warnings == (f"HEAVY-A, lot 9: 359 days left until {half.day}, usually 720.",)


def test_more_of_a_lot_on_hold_stays_on_hold(practice: Practice) -> None:
    lot_id = enter(practice, Arrival(item="HEAVY-A", units=1, lot="A", use_by=LATER)).lines[0].lot_id
    holding.hold(practice, lot_id=lot_id or 0, reason="sets too slowly", by=BY)
    received = enter(practice, Arrival(item="HEAVY-A", units=2, lot="A", use_by=LATER), key="k2")
    assert received.warnings == ("HEAVY-A, lot A: it is on hold; set it aside.",)
    assert the_stand(practice).held


def test_what_a_unit_holds_is_frozen_with_the_lot(practice: Practice) -> None:
    enter(practice, Arrival(item="HEAVY-A", units=1, lot="A", use_by=LATER))
    draft = catalogue.item(practice, "HEAVY-A").draft
    catalogue.change_item(practice, "HEAVY-A", replace(draft, unit_qty=7500), by=BY)
    received = enter(practice, Arrival(item="HEAVY-A", units=2, lot="A", use_by=LATER), key="k2")
    assert the_stand(practice).on_hand == 15_000
    assert "another amount" in received.warnings[0]
    enter(practice, Arrival(item="HEAVY-A", units=1, lot="B", use_by=LATER), key="k3")
    assert stock(practice)["B", "store room"] == 7500


def test_the_same_request_posts_once_and_gives_the_first_result(practice: Practice) -> None:
    first = enter(practice, BOXES)
    again = enter(practice, BOXES)
    assert again == replace(first, again=True)
    assert stock(practice)["L7", "store room"] == 30_000
    with pytest.raises(KeyReused):
        enter(practice, replace(BOXES, packs=4))


def test_a_slip_entered_twice_is_refused_naming_the_first(practice: Practice) -> None:
    first = enter(practice, BOXES, slip_no="S-17")
    with pytest.raises(NotAllowed, match=f"delivery {first.delivery_id} on 2027-03-10, entered by AB"):
        enter(practice, replace(BOXES, packs=1), key="k2", slip_no=" S-17 ")
    catalogue.add_supplier(practice, replace(SUPPLIER, name="Supplier South"), by=BY)
    line = Arrival(item="HEAVY-A", units=1, lot="A", use_by=LATER)
    enter(practice, line, key="k3", slip_no="S-17", supplier="Supplier South")  # another supplier counts on its own


@pytest.mark.parametrize(("days", "asked"), [(0, True), (2, True), (3, False)])
def test_the_same_content_without_a_slip_within_two_days_needs_a_yes(
    practice: Practice, days: int, asked: bool
) -> None:
    enter(practice, BOXES)
    then = later(practice, days)
    assert bool(receiving.preview(then, came(BOXES)).asks) is asked
    assert receiving.preview(then, came(replace(BOXES, packs=2))).asks == ()
    assert receiving.preview(then, came(BOXES, slip_no="S-18")).asks == ()


def test_house_numbers_do_not_hide_that_the_same_came_twice(practice: Practice) -> None:
    enter(practice, Arrival(item="HEAVY-A", units=2))
    with pytest.raises(NeedsConfirmation, match="entered by AB"):
        enter(practice, Arrival(item="HEAVY-A", units=2), key="k2")


def test_a_receipt_that_was_undone_can_be_entered_rightly(practice: Practice) -> None:
    undo(practice, enter(practice, BOXES, slip_no="S-17"))
    assert receiving.deliveries(practice)[0].undone
    assert receiving.preview(practice, came(BOXES)).asks == ()
    second = enter(practice, replace(BOXES, packs=2), key="k2", slip_no="S-17")
    assert [(one.delivery_id, one.slip_no, one.undone) for one in receiving.deliveries(practice)] == [
        (second.delivery_id, "S-17", False), (second.delivery_id - 1, None, True),
    ]  # fmt: skip
    assert stock(practice)["L7", "store room"] == 20_000


def test_prices_come_from_the_slip_or_else_from_the_catalogue_of_the_day(practice: Practice) -> None:
    catalogue.save_supply(practice, box("LIGHT-A", pack_cents=9900, valid_from=date(2027, 6, 1)), by=BY)
    enter(practice, BOXES)
    enter(practice, replace(BOXES, packs=5), key="k2")
    enter(practice, replace(BOXES, packs=1, pack_cents=1), key="k3")
    with practice.reading() as desk:
        prices = desk.session.exec(select(DeliveryLine.pack_cents).order_by("id")).all()
    assert prices == [3000, None, 2500, None, 1, None]


def test_a_preview_shows_what_would_be_received_and_posts_nothing(practice: Practice) -> None:
    seen = receiving.preview(practice, came(BOXES, Arrival(item="HEAVY-A", units=1)))
    assert [(line.item, line.lot, line.number_is_ours) for line in seen.lines] == [
        ("LIGHT-A", "L7", False), ("TIP-1", STANDING, True), ("HEAVY-A", "", True),
    ]  # fmt: skip
    assert stock(practice) == {}


def test_a_delivery_can_be_looked_up_again(practice: Practice) -> None:
    received = enter(practice, BOXES, slip_no="S-17")
    assert replace(receiving.delivery(practice, received.delivery_id), warnings=received.warnings) == received
    with pytest.raises(NotFound):
        receiving.delivery(practice, 999)


@pytest.mark.parametrize(
    ("line", "field"),
    [
        (Arrival(item="NOTHING", units=1), "item"),
        (Arrival(item="HEAVY-A"), "quantity"),
        (Arrival(item="LIGHT-A", packs=1, units=1), "quantity"),
        (Arrival(item="HEAVY-A", units=-1), "quantity"),
        (Arrival(item="HEAVY-A", packs=1), "pack"),
        (Arrival(item="LIGHT-A", packs=1, pack_of=8), "pack"),
        (Arrival(item="HEAVY-A", units=2, damaged_units=3), "quantity"),
        (Arrival(item="HEAVY-A", units=1, lot="L\x1d7"), "lot"),
        (Arrival(item="HEAVY-A", units=1, lot="x" * 61), "lot"),
        (Arrival(item="HEAVY-A", units=1, place="attic"), "place"),
        (Arrival(item="HEAVY-A", units=1, use_by=UseBy(UseByReading.DAY)), "use-by"),
        (Arrival(item="HEAVY-A", units=1, use_by=UseBy.on(date(1950, 1, 1))), "use-by"),
        (Arrival(item="HEAVY-A", units=1, made_on=TODAY + timedelta(days=1)), "use-by"),
        (Arrival(item="HEAVY-A", units=1, pack_cents=-1), "price"),
        (replace(BOXES, contents=(PackArticle(item="BAG"),)), "contents"),
    ],
)
def test_what_can_not_be_is_said_with_its_line_and_nothing_is_received(
    practice: Practice, line: Arrival, field: str
) -> None:
    with pytest.raises(BadInput) as refused:
        enter(practice, BOXES, line)
    assert all(said.startswith("line 2, ") for said in refused.value.message.splitlines())
    assert f", {field}: " in refused.value.message
    assert stock(practice) == {}
    assert receiving.deliveries(practice) == ()


def test_several_packs_of_one_item_have_to_be_told_apart(practice: Practice) -> None:
    catalogue.save_supply(practice, box("LIGHT-A", units_per_pack=8), by=BY)
    with pytest.raises(BadInput, match="packs of 2, 8"):
        enter(practice, BOXES)
    enter(practice, replace(BOXES, packs=1, pack_of=8))
    assert stock(practice) == {("L7", "store room"): 40_000}


def test_nothing_comes_tomorrow_or_from_nobody_or_without_lines(practice: Practice) -> None:
    with pytest.raises(BadInput):
        enter(practice, BOXES, received_on=TODAY + timedelta(days=1))
    with pytest.raises(NotFound, match="Nobody"):
        enter(practice, BOXES, supplier="Nobody")
    with pytest.raises(BadInput):
        enter(practice)


def test_a_delivery_of_last_week_is_recorded_on_its_day(practice: Practice) -> None:
    received = enter(practice, BOXES, received_on=TODAY - timedelta(days=7))
    assert received.received_on == date(2027, 3, 3)
    assert received.lines[0].lot_id is not None
    with practice.reading() as desk:
        assert stands(desk.session)[0].first_received_on == date(2027, 3, 3)


# a lot's number and date put right later


def test_a_date_read_later_is_amended_with_a_reason(practice: Practice) -> None:
    lot_id = enter(practice, Arrival(item="HEAVY-A", units=1)).lines[0].lot_id or 0
    lot = receiving.amend_lot(practice, lot_id, number="K-1", use_by=UseBy.month(2028, 4), reason="read now", by="CD")
    assert (lot.number, lot.number_is_ours, lot.use_by) == ("K-1", False, date(2028, 4, 30))
    assert lot.use_by_read is UseByReading.MONTH
    with practice.reading() as desk:
        query = select(Change).where(Change.subject == "lot", Change.subject_id == str(lot_id))
        log = {row.field: (row.new, row.reason) for row in desk.session.exec(query)}
    assert log["use_by"] == ("2028-04-30", "read now")
    assert log["number"] == ("K-1", "read now")


def test_two_lots_never_become_one(practice: Practice) -> None:
    lines = (Arrival(item="HEAVY-A", units=1, lot=lot, use_by=LATER) for lot in ("A", "B"))
    received = enter(practice, *lines)
    with pytest.raises(NotAllowed, match="another lot"):
        receiving.amend_lot(practice, received.lines[1].lot_id or 0, number="A", reason="typed wrongly", by=BY)
    assert {lot for lot, _ in stock(practice)} == {"A", "B"}


def test_an_amendment_needs_a_reason_a_lot_and_a_possible_date(practice: Practice) -> None:
    lot_id = enter(practice, Arrival(item="HEAVY-A", units=1, lot="A", use_by=LATER)).lines[0].lot_id or 0
    with pytest.raises(BadInput, match="reason"):
        receiving.amend_lot(practice, lot_id, number="B", reason=" ", by=BY)
    with pytest.raises(NotFound):
        receiving.amend_lot(practice, 999, number="B", reason="typed wrongly", by=BY)
    with pytest.raises(BadInput, match="made on"):
        receiving.amend_lot(practice, lot_id, made_on=date(2029, 1, 1), reason="typed wrongly", by=BY)


# dates as labels give them


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("2028-05-31", UseBy.on(date(2028, 5, 31))),
        ("2028-02", UseBy.on(date(2028, 2, 29))),
        ("31.5.2028", UseBy.on(date(2028, 5, 31))),
        ("05/2028", UseBy.on(date(2028, 5, 31))),
        (" None ", NONE_STATED),
        ("none stated", NONE_STATED),
        ("?", NOT_READ),
        ("", NOT_READ),
    ],
)
def test_labels_give_a_day_a_month_or_nothing(typed: str, read: UseBy) -> None:
    assert parse_use_by(typed, TODAY).day == read.day
    assert (parse_use_by(typed, TODAY).reading is UseByReading.MONTH) == (typed in ("2028-02", "05/2028"))


@pytest.mark.parametrize("typed", ["03/28", "5/6", "soon", "2028-13", "2028-02-30", "fri", "in 2 weeks", "28-05-31"])
def test_a_date_that_two_people_would_read_differently_is_refused(typed: str) -> None:
    with pytest.raises(BadInput, match="use-by"):
        parse_use_by(typed, TODAY, DateOrder.MONTH_FIRST)


def test_the_practices_own_date_decides_what_has_passed(practice: Practice) -> None:
    """At one in the morning UTC it is still the day before in a practice five hours behind."""
    setting_up.change_settings(practice, {"time_zone": "America/Bogota"}, by=BY)
    night = Practice(practice.store, Clock(lambda: datetime(2027, 3, 11, 1, tzinfo=UTC)))
    line = Arrival(item="HEAVY-A", units=1, lot="A", use_by=UseBy.on(date(2027, 3, 10)))
    assert receiving.preview(night, came(line)).asks == ()


# two workstations at once


def at_once(store_url: str, slips: tuple[str, str]) -> list[str]:
    """Two workstations enter a delivery of the same new lot at the same moment; how each ended, in words."""
    start = Barrier(2)

    def one(number: int) -> str:
        with closing(open_store(store_url)) as opened:
            practice = Practice(opened, new_clock(TODAY))
            start.wait()
            try:
                line = Arrival(item="HEAVY-A", units=number + 1, lot="A", use_by=LATER)
                enter(practice, line, key=f"k{number}", slip_no=slips[number])
            except NotAllowed as refused:
                return refused.message
            return "received"

    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(one, range(2)))


def test_two_workstations_make_one_lot_of_the_same_number_and_date(store_url: str) -> None:
    with closing(open_store(store_url)) as opened:
        practice = stocked_practice(opened)
        assert at_once(store_url, ("S-1", "S-2")) == ["received", "received"]
        assert the_stand(practice).on_hand == 15_000


def test_two_workstations_enter_a_slip_once(store_url: str) -> None:
    with closing(open_store(store_url)) as opened:
        practice = stocked_practice(opened)
        ends = at_once(store_url, ("S-1", "S-1"))
        assert ends.count("received") == 1
        assert any("Slip S-1" in end for end in ends)
        assert the_stand(practice).on_hand in (5_000, 10_000)
