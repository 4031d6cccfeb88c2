"""Stock moves outside a visit: opened, carried, thrown away, sent back, counted again."""

from collections.abc import Callable
from datetime import timedelta

import pytest

from inventory.domain.ledger import Sealed
from inventory.domain.vocabulary import BaseUnit, ItemKind, LateReason, MovementKind, WayOfUse
from inventory.errors import BadInput, KeyReused, NeedsConfirmation, NotAllowed, NotFound, StockChanged
from inventory.service import holding, moving
from inventory.service.moving import Part
from tests.shelves import RECEIVED, TODAY, Shelves

YESTERDAY = TODAY - timedelta(days=1)
TOMORROW = TODAY + timedelta(days=1)


# Opening


def test_opening_a_cartridge_takes_one_sealed_unit_and_makes_one_opened_unit(shelves: Shelves) -> None:
    lot = shelves.lot(3)
    moved = moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip())
    assert shelves.stock(lot) == {("Store room", None): [10_000], ("Store room", TODAY): [5_000]}
    assert [line.qty for line in moved.lines] == [-5_000, 5_000]
    assert moved.opened_id is not None
    assert shelves.on_hand(moved.opened_id) == 5_000


def test_a_cartridge_opened_for_a_chair_stands_there(shelves: Shelves) -> None:
    lot = shelves.lot(1)
    moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip(), to_place="chair 1")
    assert shelves.stock(lot) == {("Chair 1", TODAY): [5_000]}


def test_the_day_it_was_opened_counts_not_the_day_it_was_entered(shelves: Shelves) -> None:
    lot = shelves.lot(1)
    moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip(on=YESTERDAY))
    assert shelves.stock(lot) == {("Store room", YESTERDAY): [5_000]}


def test_nothing_happens_tomorrow(shelves: Shelves) -> None:
    with pytest.raises(BadInput, match="still to come"):
        moving.open_unit(shelves.practice, shelves.sealed(shelves.lot(1)), shelves.slip(on=TOMORROW))


def test_nothing_happens_to_a_lot_before_it_was_first_received(shelves: Shelves) -> None:
    lot = shelves.lot(2)
    early = {"on": RECEIVED - timedelta(days=1), "reason": "typed wrongly"}
    stack, practice = shelves.sealed(lot), shelves.practice
    deeds: tuple[Callable[[], object], ...] = (
        lambda: moving.open_unit(practice, stack, shelves.slip(**early)),
        lambda: moving.transfer(practice, [Part(stack)], "Chair 1", shelves.slip(**early)),
        lambda: moving.discard(practice, [Part(stack)], shelves.slip(**early)),
        lambda: moving.correct_count(practice, stack, 5_000, shelves.slip(**early)),
        lambda: moving.correct_count(practice, Sealed(lot, shelves.places["Chair 2"]), 5_000, shelves.slip(**early)),
    )
    for deed in deeds:
        with pytest.raises(BadInput, match=f"first received, {RECEIVED}"):
            deed()
    moving.open_unit(practice, stack, shelves.slip(on=RECEIVED))
    assert shelves.stock(lot)["Store room", RECEIVED] == [5_000]


def test_nothing_happens_to_an_opened_cartridge_before_it_was_opened(shelves: Shelves) -> None:
    unit = moving.open_unit(shelves.practice, shelves.sealed(shelves.lot(1)), shelves.slip()).opened_id
    assert unit is not None
    for deed in (moving.use_up, moving.write_off_rest):
        with pytest.raises(BadInput, match=f"was opened, {TODAY}"):
            deed(shelves.practice, unit, shelves.slip(on=YESTERDAY))


def test_the_last_sealed_unit_can_be_opened_once(shelves: Shelves) -> None:
    stack = shelves.sealed(shelves.lot(1))
    moving.open_unit(shelves.practice, stack, shelves.slip())
    with pytest.raises(StockChanged):
        moving.open_unit(shelves.practice, stack, shelves.slip())


def test_what_is_open_is_not_opened_again(shelves: Shelves) -> None:
    moved = moving.open_unit(shelves.practice, shelves.sealed(shelves.lot(1)), shelves.slip())
    assert moved.opened_id is not None
    with pytest.raises(BadInput, match="open already"):
        moving.open_unit(shelves.practice, moved.opened_id, shelves.slip())


def test_a_second_enter_opens_nothing_more(shelves: Shelves) -> None:
    lot = shelves.lot(3)
    slip = shelves.slip()
    first = moving.open_unit(shelves.practice, shelves.sealed(lot), slip)
    again = moving.open_unit(shelves.practice, shelves.sealed(lot), slip)
    assert again.again
    assert (again.document_id, again.lines) == (first.document_id, first.lines)
    assert shelves.stock(lot)["Store room", TODAY] == [5_000]


def test_a_form_that_comes_again_with_other_content_is_refused(shelves: Shelves) -> None:
    slip = shelves.slip()
    moving.open_unit(shelves.practice, shelves.sealed(shelves.lot(1)), slip)
    with pytest.raises(KeyReused):
        moving.open_unit(shelves.practice, shelves.sealed(shelves.lot(1)), slip)


def test_an_expired_lot_is_opened_only_after_a_yes_and_a_reason_and_stays_marked(shelves: Shelves) -> None:
    stack = shelves.sealed(shelves.lot(2, use_by=YESTERDAY))
    with pytest.raises(NeedsConfirmation, match="past its last day of use") as caught:
        moving.open_unit(shelves.practice, stack, shelves.slip())
    assert caught.value.reason_needed
    with pytest.raises(NeedsConfirmation):
        moving.open_unit(shelves.practice, stack, shelves.slip(confirmed=True))
    moved = moving.open_unit(shelves.practice, stack, shelves.slip(confirmed=True, reason="practice piece"))
    assert {line.late_reason for line in moved.lines} == {LateReason.EXPIRED}


def test_a_lot_is_opened_without_a_question_on_its_last_day(shelves: Shelves) -> None:
    moved = moving.open_unit(shelves.practice, shelves.sealed(shelves.lot(1, use_by=TODAY)), shelves.slip())
    assert {line.late_reason for line in moved.lines} == {None}


def test_a_lot_on_hold_is_opened_only_after_a_yes_and_a_reason(shelves: Shelves) -> None:
    lot = shelves.lot(2)
    holding.hold(shelves.practice, lot_id=lot, reason="sets slowly", by="AB")
    with pytest.raises(NeedsConfirmation, match="on hold"):
        moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip())


# Carrying


def test_sealed_units_are_carried_from_the_store_room_to_a_chair(shelves: Shelves) -> None:
    lot = shelves.lot(3)
    moving.transfer(shelves.practice, [Part(shelves.sealed(lot), 10_000)], "Chair 1", shelves.slip())
    assert shelves.stock(lot) == {("Store room", None): [5_000], ("Chair 1", None): [10_000]}


def test_several_lots_are_carried_in_one_document(shelves: Shelves) -> None:
    parts = [Part(shelves.sealed(shelves.lot(2)), 5_000), Part(shelves.sealed(shelves.lot(4)))]
    moved = moving.transfer(shelves.practice, parts, "Chair 2", shelves.slip())
    assert sorted(line.qty for line in moved.lines) == [-20_000, -5_000, 5_000, 20_000]
    assert {line.document_id for line in moved.lines} == {moved.document_id}


def test_an_opened_cartridge_keeps_its_day_of_opening_wherever_it_is_carried(shelves: Shelves) -> None:
    lot = shelves.lot(1)
    opened = moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip(on=YESTERDAY)).opened_id
    assert opened is not None
    shelves.use(opened, 1_200)
    moved = moving.transfer(shelves.practice, [Part(opened)], "Chair 2", shelves.slip())
    assert shelves.stock(lot) == {("Chair 2", YESTERDAY): [3_800]}
    assert moved.opened_id not in (None, opened)


def test_two_opened_cartridges_of_a_lot_stay_two(shelves: Shelves) -> None:
    lot = shelves.lot(2)
    opened = [moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip()).opened_id for _ in range(2)]
    moving.transfer(shelves.practice, [Part(number) for number in opened if number], "Chair 1", shelves.slip())
    assert shelves.stock(lot) == {("Chair 1", TODAY): [5_000, 5_000]}


def test_an_opened_cartridge_is_not_carried_in_part(shelves: Shelves) -> None:
    opened = moving.open_unit(shelves.practice, shelves.sealed(shelves.lot(1)), shelves.slip()).opened_id
    assert opened is not None
    with pytest.raises(BadInput, match="moves as it is"):
        moving.transfer(shelves.practice, [Part(opened, 100)], "Chair 1", shelves.slip())


@pytest.mark.parametrize("qty", [1, 4_999, 7_500])
def test_sealed_stock_moves_by_whole_units(shelves: Shelves, qty: int) -> None:
    with pytest.raises(BadInput, match="whole units"):
        moving.transfer(shelves.practice, [Part(shelves.sealed(shelves.lot(3)), qty)], "Chair 1", shelves.slip())


@pytest.mark.parametrize("qty", [0, -5_000])
def test_nothing_and_less_than_nothing_is_not_carried(shelves: Shelves, qty: int) -> None:
    with pytest.raises(BadInput, match="amount"):
        moving.transfer(shelves.practice, [Part(shelves.sealed(shelves.lot(3)), qty)], "Chair 1", shelves.slip())


def test_more_than_is_there_is_not_carried(shelves: Shelves) -> None:
    with pytest.raises(StockChanged, match="3 sealed left, not 4 sealed"):
        moving.transfer(shelves.practice, [Part(shelves.sealed(shelves.lot(3)), 20_000)], "Chair 1", shelves.slip())


def test_stock_is_not_carried_to_where_it_stands(shelves: Shelves) -> None:
    with pytest.raises(BadInput, match="stands at Store room already"):
        moving.transfer(shelves.practice, [Part(shelves.sealed(shelves.lot(3)))], "store room", shelves.slip())


def test_naming_the_same_stock_twice_is_a_slip_of_the_hand(shelves: Shelves) -> None:
    stack = shelves.sealed(shelves.lot(3))
    with pytest.raises(BadInput, match="twice"):
        moving.transfer(shelves.practice, [Part(stack, 5_000), Part(stack, 5_000)], "Chair 1", shelves.slip())


def test_choosing_nothing_carries_nothing(shelves: Shelves) -> None:
    with pytest.raises(BadInput, match="Nothing was chosen"):
        moving.transfer(shelves.practice, [], "Chair 1", shelves.slip())


def test_stock_that_does_not_exist_is_not_found(shelves: Shelves) -> None:
    with pytest.raises(NotFound):
        moving.transfer(shelves.practice, [Part(4711)], "Chair 1", shelves.slip())


def test_expired_stock_goes_to_the_set_aside_place_without_a_question(shelves: Shelves) -> None:
    lot = shelves.lot(3, use_by=YESTERDAY)
    moving.transfer(shelves.practice, [Part(shelves.sealed(lot))], "Set aside", shelves.slip())
    assert shelves.stock(lot) == {("Set aside", None): [15_000]}


def test_expired_stock_goes_to_a_chair_only_after_a_yes_and_a_reason(shelves: Shelves) -> None:
    stack = shelves.sealed(shelves.lot(3, use_by=YESTERDAY))
    with pytest.raises(NeedsConfirmation, match="taken to a chair"):
        moving.transfer(shelves.practice, [Part(stack)], "Chair 1", shelves.slip())
    moving.transfer(shelves.practice, [Part(stack)], "Chair 1", shelves.slip(confirmed=True, reason="training"))


def test_an_opened_cartridge_past_its_opened_life_is_expired_though_its_lot_is_not(shelves: Shelves) -> None:
    item = shelves.item(opened_days=30, opened_days_source="leaflet")
    lot = shelves.lot(1, item=item, use_by=TODAY + timedelta(days=400))
    opened_on = TODAY - timedelta(days=31)
    opened = moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip(on=opened_on)).opened_id
    assert opened is not None
    with pytest.raises(NeedsConfirmation, match="past its last day of use"):
        moving.transfer(shelves.practice, [Part(opened)], "Chair 1", shelves.slip())


def test_a_reusable_tray_goes_to_reprocessing_and_counts_again_when_it_is_back(shelves: Shelves) -> None:
    lot = shelves.lot(4, item=shelves.tray(reusable=True))
    moving.transfer(shelves.practice, [Part(shelves.sealed(lot), 1)], "Reprocessing", shelves.slip())
    assert shelves.stock(lot) == {("Store room", None): [3], ("Reprocessing", None): [1]}
    moving.transfer(shelves.practice, [Part(shelves.sealed(lot, "Reprocessing"))], "Store room", shelves.slip())
    assert shelves.stock(lot) == {("Store room", None): [4]}


def test_a_single_use_tray_is_never_reprocessed(shelves: Shelves) -> None:
    lot = shelves.lot(4, item=shelves.tray(reusable=False))
    with pytest.raises(NotAllowed, match="single use"):
        moving.transfer(shelves.practice, [Part(shelves.sealed(lot), 1)], "Reprocessing", shelves.slip())


# Taking away


def test_stock_is_thrown_away_with_a_reason(shelves: Shelves) -> None:
    lot = shelves.lot(3)
    with pytest.raises(BadInput, match="reason"):
        moving.discard(shelves.practice, [Part(shelves.sealed(lot), 5_000)], shelves.slip())
    moved = moving.discard(shelves.practice, [Part(shelves.sealed(lot), 5_000)], shelves.slip(reason="dropped"))
    assert shelves.stock(lot) == {("Store room", None): [10_000]}
    assert [(line.kind, line.qty) for line in moved.lines] == [(MovementKind.DISCARD, -5_000)]


def test_expired_and_held_stock_is_thrown_away_without_a_question(shelves: Shelves) -> None:
    lot = shelves.lot(3, use_by=YESTERDAY)
    holding.hold(shelves.practice, lot_id=lot, reason="sets slowly", by="AB")
    moving.discard(shelves.practice, [Part(shelves.sealed(lot))], shelves.slip(reason="expired"))
    assert shelves.stock(lot) == {}


def test_stock_goes_back_to_its_supplier_with_a_reason_and_a_proof(shelves: Shelves) -> None:
    lot = shelves.lot(3)
    with pytest.raises(BadInput, match="proof"):
        moving.return_to_supplier(shelves.practice, [Part(shelves.sealed(lot))], shelves.slip(reason="wrong item"))
    moved = moving.return_to_supplier(
        shelves.practice, [Part(shelves.sealed(lot))], shelves.slip(reason="wrong item", proof="CN 17")
    )
    assert [(line.kind, line.qty) for line in moved.lines] == [(MovementKind.RETURN, -15_000)]


def test_what_is_left_in_a_cartridge_and_serves_no_step_is_written_off_as_waste(shelves: Shelves) -> None:
    lot = shelves.lot(1)
    opened = moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip()).opened_id
    assert opened is not None
    shelves.use(opened, 4_700)
    moved = moving.write_off_rest(shelves.practice, opened, shelves.slip())
    assert [(line.kind, line.qty) for line in moved.lines] == [(MovementKind.WASTE, -300)]
    assert shelves.stock(lot) == {}


def test_sealed_stock_is_no_rest(shelves: Shelves) -> None:
    with pytest.raises(BadInput, match="is sealed"):
        moving.write_off_rest(shelves.practice, shelves.sealed(shelves.lot(1)), shelves.slip())


def test_an_empty_bottle_was_used_up(shelves: Shelves) -> None:
    item = shelves.item(kind=ItemKind.ACCESSORY, way_of_use=WayOfUse.COUNT, base=BaseUnit.CML, unit_qty=1_000)
    lot = shelves.lot(2, item=item)
    opened = moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip(), to_place="Chair 1").opened_id
    assert opened is not None
    moved = moving.use_up(shelves.practice, opened, shelves.slip())
    assert [(line.kind, line.qty) for line in moved.lines] == [(MovementKind.USE, -1_000)]


# Counting again


def test_a_count_puts_the_balance_right_with_a_reason(shelves: Shelves) -> None:
    lot = shelves.lot(3)
    with pytest.raises(BadInput, match="reason"):
        moving.correct_count(shelves.practice, shelves.sealed(lot), 10_000, shelves.slip())
    moved = moving.correct_count(shelves.practice, shelves.sealed(lot), 10_000, shelves.slip(reason="shelf count"))
    assert [(line.kind, line.qty) for line in moved.lines] == [(MovementKind.COUNT, -5_000)]
    assert shelves.stock(lot) == {("Store room", None): [10_000]}


def test_a_count_that_agrees_posts_nothing(shelves: Shelves) -> None:
    stack = shelves.sealed(shelves.lot(3))
    before = shelves.movements()
    assert moving.correct_count(shelves.practice, stack, 15_000, shelves.slip(reason="count")).document_id is None
    assert shelves.movements() == before


def test_stock_found_where_the_book_has_none_is_counted_in(shelves: Shelves) -> None:
    lot = shelves.lot(1)
    target = Sealed(lot, shelves.places["Chair 2"])
    moving.correct_count(shelves.practice, target, 5_000, shelves.slip(reason="found in a drawer"))
    assert shelves.stock(lot) == {("Store room", None): [5_000], ("Chair 2", None): [5_000]}
    moving.correct_count(shelves.practice, target, 0, shelves.slip(reason="it was another lot"))
    assert shelves.stock(lot) == {("Store room", None): [5_000]}


def test_an_opened_cartridge_is_counted_by_its_content(shelves: Shelves) -> None:
    lot = shelves.lot(1)
    opened = moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip()).opened_id
    assert opened is not None
    moving.correct_count(shelves.practice, opened, 1_234, shelves.slip(reason="weighed"))
    assert shelves.on_hand(opened) == 1_234
    with pytest.raises(BadInput, match="full one"):
        moving.correct_count(shelves.practice, opened, 5_001, shelves.slip(reason="weighed"))


@pytest.mark.parametrize("content", [-5_000, 2_500])
def test_an_impossible_count_of_sealed_stock_is_refused(shelves: Shelves, content: int) -> None:
    with pytest.raises(BadInput, match="count"):
        moving.correct_count(shelves.practice, shelves.sealed(shelves.lot(3)), content, shelves.slip(reason="count"))


def test_a_count_of_yesterday_leaves_what_was_used_today_used(shelves: Shelves) -> None:
    """Yesterday evening 2 cartridges were there, not 3; one of them was opened today, so 1 is left."""
    lot = shelves.lot()
    shelves.hands.now -= timedelta(days=1)
    shelves.receive(lot, 3)
    shelves.hands.now += timedelta(days=1)
    moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip())
    moving.correct_count(shelves.practice, shelves.sealed(lot), 10_000, shelves.slip(reason="count", on=YESTERDAY))
    assert shelves.stock(lot) == {("Store room", None): [5_000], ("Store room", TODAY): [5_000]}


def test_a_count_is_not_posted_over_a_book_that_changed_meanwhile(shelves: Shelves) -> None:
    stack = shelves.sealed(shelves.lot(3))
    moving.open_unit(shelves.practice, stack, shelves.slip())
    with pytest.raises(StockChanged, match="changed while this was counted"):
        moving.correct_count(shelves.practice, stack, 5_000, shelves.slip(reason="count"), book_said=15_000)


@pytest.mark.parametrize("reason", ["a\x00b", "x" * 501])
def test_a_reason_that_can_not_be_kept_is_refused(shelves: Shelves, reason: str) -> None:
    with pytest.raises(BadInput, match="reason"):
        moving.discard(shelves.practice, [Part(shelves.sealed(shelves.lot(1)))], shelves.slip(reason=reason))


@pytest.mark.parametrize("key", ["", " ", "k" * 65])
def test_a_form_without_a_usable_key_is_refused(shelves: Shelves, key: str) -> None:
    with pytest.raises(BadInput, match="request key"):
        moving.discard(
            shelves.practice, [Part(shelves.sealed(shelves.lot(1)))], shelves.slip(reason="x", request_key=key)
        )
