"""Rounds of counting: what is read shelf by shelf in a working practice puts the book right, once, on approval."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from sqlmodel import col, select

from inventory.domain.ledger import Draft, Entry, Opened, Posting
from inventory.domain.vocabulary import DocumentKind, ItemKind, MovementKind
from inventory.errors import AlreadyDone, BadInput, KeyReused, NotAllowed, NotFound, StockChanged
from inventory.service import booked_late, correcting, count_review, counting, moving, stock_views
from inventory.service.count_review import Approved
from inventory.service.count_sheet import RoundCard, SheetLine
from inventory.service.count_shelves import Scope
from inventory.service.counting import Found
from inventory.service.lots import NONE_STATED, UseBy
from inventory.service.moving import Part
from inventory.service.verifying import verify
from inventory.store.queries.counting import counted_items
from inventory.store.tables import CountLine, Document, Lot, Supplier, Supply
from tests.plans import scans
from tests.shelves import MORNING, TODAY, Shelves

LONG_AGO = datetime(2020, 1, 1, tzinfo=UTC)
BY = "AB"


def started(shelves: Shelves, *, blind: bool = True, **scope: Any) -> RoundCard:
    return counting.start(shelves.practice, Scope(**scope), blind=blind, by=BY)


def read(shelves: Shelves, round_: RoundCard, holding: int | str, typed: str, **said: Any) -> SheetLine:
    return counting.record(shelves.practice, round_.round_id, str(holding), typed, by=BY, **said)


def approve(shelves: Shelves, round_: RoundCard, reason: str = "miscounted", key: str = "") -> Approved:
    return count_review.approve(
        shelves.practice, round_.round_id, reason=reason, by=BY, request_key=key or shelves.key()
    )


def found(shelves: Shelves, round_: RoundCard, item: int, typed: str, **said: Any) -> SheetLine:
    what = {"item": code(shelves, item), "place": "Chair 1", "lot": "NEW-1", "use_by": NONE_STATED, **said}
    return counting.found(shelves.practice, round_.round_id, Found(**what), typed, by=BY)


def code(shelves: Shelves, item: int) -> str:
    return next(line.code for line in stock_views.items(shelves.practice).lines if line.item_id == item)


def later(shelves: Shelves, **time: int) -> datetime:
    shelves.hands.now += timedelta(**(time or {"minutes": 10}))
    return shelves.hands.now


def used_at(shelves: Shelves, moment: datetime, *entries: Entry) -> None:
    """Post what was used at a moment, now."""
    drafts: list[Draft] = []
    for kind, moved in ((DocumentKind.OPENING, MovementKind.OPENING), (DocumentKind.USE, MovementKind.USE)):
        if chosen := tuple(entry for entry in entries if entry.kind is moved):
            drafts.append(Draft(kind, chosen, len(drafts)))
    with shelves.practice.writing() as desk:
        posting = Posting(shelves.key(), "h", shelves.person_id, desk.now, moment, moment.date(), tuple(drafts))
        booked_late.post(desk, posting)


@pytest.fixture
def lot(shelves: Shelves) -> int:
    """Three sealed cartridges in the store room."""
    return shelves.lot(3)


# The sheet


def test_a_sheet_walks_place_after_place_with_each_sealed_stack_and_each_opened_unit(shelves: Shelves) -> None:
    lot = shelves.lot(3)
    shelves.receive(lot, 1, "Chair 1")
    unit = moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip(), to_place="Chair 1").opened_id
    lines = counting.sheet(shelves.practice, started(shelves).round_id).lines
    assert [(line.place, line.opened_on, line.key) for line in lines] == [
        ("Store room", None, str(shelves.sealed(lot))),
        ("Chair 1", None, str(shelves.sealed(lot, "Chair 1"))),
        ("Chair 1", TODAY, str(unit)),
    ]


def test_a_round_by_place_or_group_takes_in_no_more(shelves: Shelves) -> None:
    material, trays = shelves.item(family="addition silicone"), shelves.tray()
    for item in (material, trays):
        for place in ("Store room", "Chair 1"):
            shelves.lot(1, place, item=item)

    def counted(**scope: Any) -> list[tuple[int, str]]:
        round_ = started(shelves, **scope)
        lines = counting.sheet(shelves.practice, round_.round_id).lines
        counting.drop(shelves.practice, round_.round_id, reason="only looked", by=BY)
        return [(line.item_id, line.place) for line in lines]

    assert counted(places=("chair 1",), kinds=(ItemKind.TRAY,)) == [(trays, "Chair 1")]
    assert counted(families=("Addition silicone",)) == [(material, "Store room"), (material, "Chair 1")]
    assert counted(items=(code(shelves, trays),)) == [(trays, "Store room"), (trays, "Chair 1")]
    with pytest.raises(BadInput, match="Known are: addition silicone"):
        started(shelves, families=("alginate",))


def test_two_open_rounds_never_count_the_same_shelf(shelves: Shelves, lot: int) -> None:
    first = started(shelves, places=("Store room",))
    started(shelves, places=("Chair 1",))
    with pytest.raises(AlreadyDone, match="counts some of the same stock and is still open"):
        started(shelves)
    counting.drop(shelves.practice, first.round_id, reason="interrupted", by=BY)
    started(shelves, places=("Store room",))
    assert [one.state for one in counting.rounds(shelves.practice)] == ["open", "open", "dropped"]
    del lot


def test_only_a_blind_sheet_keeps_back_what_the_book_expects(shelves: Shelves, lot: int) -> None:
    blind = started(shelves)
    assert read(shelves, blind, shelves.sealed(lot), "2").expected_qty is None
    counting.drop(shelves.practice, blind.round_id, reason="x", by=BY)
    assert read(shelves, started(shelves, blind=False), shelves.sealed(lot), "2").expected_qty == 15_000


# Readings


def test_a_better_reading_replaces_an_earlier_one_and_one_can_be_taken_back(shelves: Shelves, lot: int) -> None:
    round_, stack = started(shelves), shelves.sealed(lot)
    read(shelves, round_, stack, "2")
    assert read(shelves, round_, stack, "3").counted_qty == 15_000
    (line,) = counting.withdraw(shelves.practice, round_.round_id, str(stack), by=BY).lines
    assert not line.counted
    with pytest.raises(NotFound, match="Nothing was read"):
        counting.withdraw(shelves.practice, round_.round_id, str(stack), by=BY)
    with shelves.practice.reading() as desk:
        kept = list(desk.session.execute(select(col(CountLine.method)).order_by(col(CountLine.id))).scalars())
    assert kept == ["units", "units", "withdrawn"]


def test_an_interrupted_round_goes_on_where_it_was(shelves: Shelves, lot: int) -> None:
    round_ = started(shelves)
    read(shelves, round_, shelves.sealed(lot), "2")
    (card,) = counting.rounds(shelves.practice)
    assert (card.open, card.counted) == (True, 1)
    (line,) = counting.sheet(shelves.practice, card.round_id).lines
    assert (line.reading, line.counted_by, line.counted_at) == ("2", BY, MORNING)


def test_a_reading_from_paper_says_when_it_was_taken_but_not_before_the_round(shelves: Shelves, lot: int) -> None:
    round_, stack = started(shelves), shelves.sealed(lot)
    at = later(shelves)
    later(shelves, hours=5)
    assert read(shelves, round_, stack, "2", at=at).counted_at == at
    for wrong in (MORNING - timedelta(hours=1), shelves.hands.now + timedelta(minutes=1)):
        with pytest.raises(BadInput, match="not between the start of the round and now"):
            read(shelves, round_, stack, "2", at=wrong)


# Approval


def test_approval_posts_each_difference_once_and_names_its_round(shelves: Shelves, lot: int) -> None:
    other = shelves.lot(2)
    round_ = started(shelves)
    read(shelves, round_, shelves.sealed(lot), "2")
    read(shelves, round_, shelves.sealed(other), "2")
    with pytest.raises(BadInput, match="reason"):
        approve(shelves, round_, reason=" ")
    result = approve(shelves, round_, key="k")
    assert [(line.kind, line.qty) for line in result.lines] == [(MovementKind.COUNT, -5_000)]
    assert approve(shelves, round_, key="k").again
    with pytest.raises(AlreadyDone):
        approve(shelves, round_)
    with pytest.raises(KeyReused):
        approve(shelves, round_, key="k", reason="another")
    with shelves.practice.reading() as desk:
        document = desk.session.get_one(Document, result.document_id)
        assert (document.kind, document.count_round_id) == (DocumentKind.COUNT, round_.round_id)
    assert verify(shelves.practice).clean


def test_a_round_that_finds_the_book_right_posts_nothing_and_is_approved(shelves: Shelves, lot: int) -> None:
    round_, before = started(shelves), shelves.movements()
    read(shelves, round_, shelves.sealed(lot), "3")
    result = approve(shelves, round_, reason="")
    assert (result.document_id, result.round.state, shelves.movements()) == (None, "approved", before)
    assert approve(shelves, round_, reason="").again


def test_what_was_not_read_is_left_as_it_is_or_said_to_be_gone(shelves: Shelves, lot: int) -> None:
    other = shelves.lot(2)
    round_ = started(shelves)
    read(shelves, round_, shelves.sealed(lot), "3")
    review = count_review.review(shelves.practice, round_.round_id)
    assert [line.lot_id for line in review.unread] == [other]
    counting.confirm_none(shelves.practice, round_.round_id, [line.key for line in review.unread], by=BY)
    approve(shelves, round_)
    assert (shelves.stock(lot), shelves.stock(other)) == ({("Store room", None): [15_000]}, {})


def test_a_difference_is_shown_in_money_at_what_was_paid(shelves: Shelves, lot: int) -> None:
    with shelves.practice.writing() as desk:
        supplier = desk.add(Supplier(name="North", lead_days=3))
        item = desk.session.get_one(Lot, lot).item_id
        desk.add(
            Supply(
                item_id=item, supplier_id=supplier, catalogue_no="1", units_per_pack=2, pack_cents=6_000,
                valid_from=date(2026, 1, 1),
            )
        )  # fmt: skip
    round_ = started(shelves)
    read(shelves, round_, shelves.sealed(lot), "1")
    review = count_review.review(shelves.practice, round_.round_id)
    assert [(line.difference, line.cents) for line in review.lines] == [(-10_000, -6_000)]
    assert (review.plus_cents, review.minus_cents, review.unpriced) == (0, -6_000, 0)


def test_more_taken_since_than_was_counted_is_read_again(shelves: Shelves, lot: int) -> None:
    round_, stack = started(shelves), shelves.sealed(lot)
    read(shelves, round_, stack, "1")
    later(shelves)
    shelves.use(stack, 10_000)
    with pytest.raises(StockChanged, match="since it was read 100 mL were taken"):
        approve(shelves, round_)
    read(shelves, round_, stack, "0")
    approve(shelves, round_)
    assert shelves.stock(lot) == {}


def test_a_count_put_right_by_itself_after_the_reading_stands(shelves: Shelves, lot: int) -> None:
    round_, stack = started(shelves), shelves.sealed(lot)
    read(shelves, round_, stack, "1")
    later(shelves)
    moving.correct_count(shelves.practice, stack, 10_000, shelves.slip(reason="looked again"))
    assert count_review.review(shelves.practice, round_.round_id).lines[0].counted_again
    approve(shelves, round_)
    assert shelves.on_hand(stack) == 10_000


# In a working practice


def test_a_round_over_two_days_compares_each_shelf_at_its_own_moment(shelves: Shelves, lot: int) -> None:
    """Read on the first day: 2 of 3. Used on the second day: 1. Approved then: 1 is there."""
    round_, stack = started(shelves), shelves.sealed(lot)
    read(shelves, round_, stack, "2")
    later(shelves, days=1)
    shelves.use(stack, 5_000)
    review = count_review.review(shelves.practice, round_.round_id)
    assert (review.lines[0].expected_qty, review.lines[0].difference) == (15_000, -5_000)
    approve(shelves, round_)
    assert shelves.on_hand(stack) == 5_000


@pytest.mark.parametrize("counted", ["2", "3"])
def test_a_use_before_the_count_that_is_booked_after_approval_is_not_taken_twice(
    shelves: Shelves, lot: int, counted: str
) -> None:
    """Also where the count found what the book had, and left no movement behind."""
    round_, stack, before = started(shelves), shelves.sealed(lot), shelves.hands.now
    later(shelves)
    read(shelves, round_, stack, counted)
    later(shelves)
    result = approve(shelves, round_)
    later(shelves)
    used_at(shelves, before, Entry(stack, MovementKind.USE, -5_000))
    assert shelves.on_hand(stack) == int(counted) * 5_000
    used_at(shelves, shelves.hands.now, Entry(stack, MovementKind.USE, -5_000))
    assert shelves.on_hand(stack) == (int(counted) - 1) * 5_000
    if result.document_id is not None:  # what was booked late relies on it
        with pytest.raises(NotAllowed, match="What happened before this count was booked after it"):
            correcting.undo(shelves.practice, result.document_id, reason="x", by=BY, request_key=shelves.key())


def test_a_use_after_the_reading_but_before_the_approval_is_taken_however_late_it_is_booked(
    shelves: Shelves, lot: int
) -> None:
    round_, stack = started(shelves), shelves.sealed(lot)
    read(shelves, round_, stack, "2")
    between = later(shelves)
    later(shelves)
    approve(shelves, round_)
    later(shelves)
    used_at(shelves, between, Entry(stack, MovementKind.USE, -5_000))
    assert shelves.on_hand(stack) == 5_000


@pytest.mark.parametrize("booked", ["before approval", "after approval"])
def test_a_cartridge_found_open_and_opened_by_a_visit_booked_late_is_one_cartridge(
    shelves: Shelves, booked: str
) -> None:
    """The book has 3 sealed; on the shelf are 2 and one with 38 mL, from a visit that nobody has booked yet."""
    item = shelves.item(tare_mg=10_000, density_mg_per_ml=1_000)
    lot = shelves.lot(3, "Chair 1", item=item, number="NEW-1")
    stack, visit = shelves.sealed(lot, "Chair 1"), shelves.hands.now
    later(shelves)
    round_ = started(shelves)
    read(shelves, round_, stack, "2")
    found(shelves, round_, item, "48 g", opened_on=TODAY)
    unit = Opened(lot, shelves.places["Chair 1"], TODAY)
    later(shelves)

    def book() -> None:
        used_at(
            shelves, visit, Entry(stack, MovementKind.OPENING, -5_000), Entry(unit, MovementKind.OPENING, 5_000),
            Entry(unit, MovementKind.USE, -1_200),
        )  # fmt: skip
        later(shelves)

    if booked == "before approval":
        book()
    approve(shelves, round_)
    later(shelves)
    if booked == "after approval":
        book()
    assert shelves.stock(lot) == {("Chair 1", None): [10_000], ("Chair 1", TODAY): [3_800]}
    assert verify(shelves.practice).clean


def test_undoing_an_approved_round_puts_its_differences_back_and_covers_nothing_any_more(
    shelves: Shelves, lot: int
) -> None:
    round_, stack, before = started(shelves), shelves.sealed(lot), shelves.hands.now
    later(shelves)
    read(shelves, round_, stack, "1")
    result = approve(shelves, round_)
    later(shelves)
    correcting.undo(shelves.practice, result.document_id or 0, reason="wrong shelf", by=BY, request_key=shelves.key())
    assert shelves.on_hand(stack) == 15_000
    assert counting.rounds(shelves.practice)[0].state == "undone"
    used_at(shelves, before, Entry(stack, MovementKind.USE, -5_000))
    assert shelves.on_hand(stack) == 10_000


# Found


def test_a_known_lot_found_at_another_place_is_added_there(shelves: Shelves, lot: int) -> None:
    with shelves.practice.reading() as desk:
        row = desk.session.get_one(Lot, lot)
        item, number = row.item_id, row.number
    round_ = started(shelves)
    line = found(shelves, round_, item, "2", lot=number)
    assert (line.found, line.lot_id, line.counted_qty) == (True, lot, 10_000)
    with pytest.raises(AlreadyDone, match=f"on the sheet, line {line.key}"):
        found(shelves, round_, item, "2", lot=number)
    approve(shelves, round_)
    assert shelves.stock(lot) == {("Store room", None): [15_000], ("Chair 1", None): [10_000]}


def test_a_lot_that_is_new_comes_into_the_book_with_what_was_counted(shelves: Shelves) -> None:
    item, round_ = shelves.item(), started(shelves)
    line = found(shelves, round_, item, "2", use_by=UseBy.on(date(2027, 5, 31)))
    other = found(shelves, round_, item, "7", lot="NEW-2", opened_on=TODAY)
    counting.withdraw(shelves.practice, round_.round_id, other.key, by=BY)
    assert [one.key for one in counting.sheet(shelves.practice, round_.round_id).lines] == [line.key]
    approve(shelves, round_)
    with shelves.practice.reading() as desk:
        lots = desk.session.execute(select(col(Lot.number), col(Lot.use_by)).order_by(col(Lot.id))).all()
    assert [tuple(one) for one in lots] == [("NEW-1", date(2027, 5, 31)), ("NEW-2", None)]
    assert shelves.stock(line.lot_id) == {("Chair 1", None): [10_000]}


def test_what_is_found_belongs_to_the_round(shelves: Shelves) -> None:
    item, round_ = shelves.item(), started(shelves, places=("Store room",))
    with pytest.raises(BadInput, match="not counted in round"):
        found(shelves, round_, item, "2")
    with pytest.raises(NotFound, match="no item"):
        counting.found(shelves.practice, round_.round_id, Found("X", "Store room", "1", NONE_STATED), "1", by=BY)


# What learning reads


def test_an_item_is_wholly_counted_where_all_the_book_had_of_it_was_read(shelves: Shelves) -> None:
    whole, part = shelves.item(), shelves.item()
    lots = [shelves.lot(3, item=whole), shelves.lot(2, item=part)]
    shelves.lot(1, "Set aside", item=part)
    unit = moving.open_unit(shelves.practice, shelves.sealed(lots[0]), shelves.slip()).opened_id
    later(shelves)
    round_ = started(shelves)
    read(shelves, round_, shelves.sealed(lots[0]), "2")
    later(shelves)
    moving.discard(shelves.practice, [Part(shelves.sealed(lots[0]), 5_000)], shelves.slip(reason="dropped"))
    end = later(shelves)
    read(shelves, round_, str(unit), "7")
    read(shelves, round_, shelves.sealed(lots[1]), "2")
    later(shelves)
    approve(shelves, round_)
    with shelves.practice.reading() as desk:
        items = counted_items(desk.session, LONG_AGO)
    told = [(one.item_id, one.counted_qty, one.reading_unit_qty, one.readings, one.complete) for one in items]
    assert told == [(whole, 5_000 + 3_500, 500, 1, True), (part, 10_000, 1, 0, False)]
    assert {one.at for one in items} == {end}


# Does it hold together?


def test_the_check_of_the_book_finds_readings_and_corrections_that_do_not_fit(shelves: Shelves, lot: int) -> None:
    other, round_, stack = shelves.lot(1), started(shelves), shelves.sealed(lot)
    read(shelves, round_, stack, "3")
    assert verify(shelves.practice).clean
    with shelves.practice.writing() as desk:
        known: dict[str, Any] = {
            "count_round_id": round_.round_id, "place_id": shelves.places["Store room"], "method": "units",
            "reading": 1, "reading_unit_qty": 5_000, "counted_qty": 5_000, "counted_at": desk.now,
            "person_id": shelves.person_id, "holding_id": stack,
        }  # fmt: skip
        desk.add(CountLine(lot_id=other, **known))
    correction = Draft(
        DocumentKind.COUNT, (Entry(stack, MovementKind.COUNT, 5_000),), count_round_id=round_.round_id, reason="x"
    )
    document = shelves.post(correction)
    found = [(one.check, one.subject, one.subject_id) for one in verify(shelves.practice).findings]
    assert found == [
        ("counts", "round", round_.round_id), ("counts", "round", round_.round_id), ("counts", "document", document),
    ]  # fmt: skip


@pytest.mark.parametrize("new_stores", ["sqlite"], indirect=True)
def test_the_list_of_rounds_takes_as_many_statements_for_many_as_for_one(shelves: Shelves) -> None:
    stack = shelves.sealed(shelves.lot(3))

    def looks() -> int:
        round_ = started(shelves)
        read(shelves, round_, stack, "3")
        approve(shelves, round_)
        return scans(shelves.store, lambda: counting.rounds(shelves.practice))[0]

    one = looks()
    assert [looks(), looks()] == [one, one]
