"""Filling in a visit's form: what the person at the chair says, and what follows from it."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.vocabulary import Arch, TrialOutcome, UseByReading
from inventory.errors import BadInput, NeedsConfirmation, NotFound
from inventory.service import booking, moving
from inventory.service import filling_in as form
from inventory.service.filling import Filling, Line
from inventory.service.moving import Part
from inventory.store.engine import Store, open_store
from tests.little_practice import CHAIR, IN_DATE, TODAY, LittlePractice

UPPER, LOWER = Arch.MAXILLARY, Arch.MANDIBULAR


def line(filling: Filling, step: str, arch: Arch | None = None, attempt: int = 1, part: str = "/main/") -> Line:
    """The first line of a step."""
    return next(
        one
        for one in filling.lines
        if (one.form.step, one.form.arch, one.form.attempt) == (step, arch, attempt) and part in one.key
    )


@pytest.fixture(scope="module")
def little(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LittlePractice]:
    """A practice that these tests only read: an opened rest of 15 mL light body at the chair, all else sealed."""
    store = open_store(str(tmp_path_factory.mktemp("little") / "practice.db"))
    practice = LittlePractice(store)
    practice.full_shelves()
    practice.opened("LIGHT", "LIGHT-0", 1500)
    practice.stock("LIGHT-2", "OTHER-1", 2)
    practice.stock("LIGHT", "LIGHT-OLD", 1, use_by=TODAY - timedelta(days=1))
    yield practice
    store.close()


@pytest.fixture(scope="module")
def filling(little: LittlePractice) -> Filling:
    return form.begin(little.practice, little.visit("C-1"))


# Another material


def test_a_material_of_another_viscosity_than_the_step_takes_is_named(filling: Filling) -> None:
    load = line(filling, "load", UPPER)
    light = next(lot for lot in filling.lots if lot.lot_number == "LIGHT-0")
    odd = form.doubts(form.choose_lot(filling, load.key, light.holding_id))
    assert [one for one in odd if one.endswith("is light body; this step takes heavy body.")]
    assert not [one for one in form.doubts(filling) if "this step takes" in one]


def test_lots_meant_for_a_line_are_in_date_and_of_its_articles(filling: Filling) -> None:
    wash, load = line(filling, "wash", UPPER), line(filling, "load", UPPER)
    assert {lot.lot_number for lot in form.lots_for(filling, wash.key)} >= {"LIGHT-OLD", "LIGHT-0"}
    meant = {lot.lot_number for lot in form.meant_for(filling, wash.key)}
    assert "LIGHT-0" in meant
    assert "LIGHT-OLD" not in meant
    assert not meant & {lot.lot_number for lot in form.meant_for(filling, load.key)}


# As expected


def test_a_form_that_nobody_touches_is_booked_as_expected(filling: Filling) -> None:
    request = form.book_out(filling)
    assert {(used.step, used.arch): used.qty for used in request.lines if used.qty > 1} == {
        ("load", UPPER): 2615, ("load", LOWER): 1815, ("wash", UPPER): 1115, ("wash", LOWER): 815,
        ("jaw_relation", None): 715,
    }  # fmt: skip
    assert all(used.expected_qty == used.qty and not used.lot_confirmed for used in request.lines)
    assert {(tray.arch, tray.outcome) for tray in request.trays} == {
        (UPPER, TrialOutcome.FITTED),
        (LOWER, TrialOutcome.FITTED),
    }


def test_the_wash_that_the_opened_rest_can_not_finish_takes_a_fresh_cartridge(filling: Filling) -> None:
    upper, lower = line(filling, "wash", UPPER), line(filling, "wash", LOWER)
    assert (upper.lot_number, upper.fresh) == ("LIGHT-0", 0)
    assert (lower.lot_number, lower.fresh) == ("LIGHT-1", 1)


def test_both_loads_share_one_freshly_opened_cartridge(filling: Filling) -> None:
    upper, lower = line(filling, "load", UPPER), line(filling, "load", LOWER)
    assert (upper.lot, upper.fresh) == (lower.lot, lower.fresh)
    assert upper.left == lower.left == 5000 - 2615 - 1815


# Amounts


@pytest.mark.parametrize(
    ("typed", "qty"), [("12.5", 1250), ("12,5 mL", 1250), ("3t", 1500), ("2.5 t", 1250), ("0", 0), ("left 4", 1100)]
)
def test_what_a_cartridge_gave_is_typed_in_ml_in_tenths_or_as_what_is_left(
    filling: Filling, typed: str, qty: int
) -> None:
    key = line(filling, "wash", UPPER).key  # 15 mL were open
    assert form.set_amount(filling, key, typed).line(key).qty == qty


def test_what_is_left_is_read_after_the_visit_so_the_other_lines_of_the_cartridge_count(filling: Filling) -> None:
    key = line(filling, "load", UPPER).key
    said = form.set_amount(filling, key, "left 1t")
    assert said.line(key).qty == 5000 - 500 - 1815
    assert said.line(key).left == 500
    assert form.set_amount(said, key, "left 1t").line(key).qty == said.line(key).qty  # saying it again changes nothing


def test_more_can_not_be_left_than_was_there(filling: Filling) -> None:
    with pytest.raises(BadInput, match="left"):
        form.set_amount(filling, line(filling, "wash", UPPER).key, "left 16")


def test_one_line_never_takes_more_than_one_cartridge_holds(filling: Filling) -> None:
    with pytest.raises(BadInput, match="more than one cartridge"):
        form.set_amount(filling, line(filling, "load", UPPER).key, "51")


def test_grams_are_not_typed_for_a_cartridge(filling: Filling) -> None:
    with pytest.raises(BadInput, match="mL"):
        form.set_amount(filling, line(filling, "load", UPPER).key, "20 g")


def test_the_share_of_tip_and_purge_never_exceeds_what_was_used(filling: Filling) -> None:
    key = line(filling, "wash", UPPER).key
    assert form.set_qty(filling, key, 1400).line(key).purge_qty == 115
    assert form.set_qty(filling, key, 60).line(key).purge_qty == 60


def test_a_larger_amount_that_the_opened_rest_can_not_give_comes_from_a_fresh_cartridge(filling: Filling) -> None:
    key = line(filling, "wash", UPPER).key
    said = form.set_amount(filling, key, "16")
    assert (said.line(key).lot_number, said.line(key).fresh) == ("LIGHT-1", 1)
    assert not form.doubts(said)


def test_a_larger_load_pushes_the_next_one_to_a_cartridge_of_its_own(filling: Filling) -> None:
    said = form.set_amount(filling, line(filling, "load", UPPER).key, "40")
    assert [line(said, "load", arch).fresh for arch in (UPPER, LOWER)] == [1, 2]


def test_a_tray_has_no_amount(filling: Filling) -> None:
    with pytest.raises(BadInput, match="one piece"):
        form.set_amount(filling, line(filling, "tray", UPPER).key, "2")


# Lots


def test_another_lot_is_confirmed_when_it_is_chosen(filling: Filling, little: LittlePractice) -> None:
    key = line(filling, "wash", UPPER).key
    other = next(lot for lot in form.lots_for(filling, key) if lot.lot_number == "LIGHT-1")
    said = form.choose_lot(filling, key, other.holding_id).line(key)
    assert (said.lot_number, said.confirmed, said.fresh) == ("LIGHT-1", True, 1)


def test_the_lots_of_a_line_come_in_issue_order_then_substitutes_and_expired_ones_last(filling: Filling) -> None:
    lots = form.lots_for(filling, line(filling, "wash", UPPER).key)
    numbers = [lot.lot_number for lot in lots]
    assert numbers[:4] == ["LIGHT-0", "LIGHT-1", "LIGHT-OLD", "OTHER-1"]
    assert [lot.lot_number for lot in lots if lot.goes_first][:2] == ["LIGHT-0", "OTHER-1"]
    assert "POWDER-1" not in numbers  # of another unit


def test_a_lot_taken_before_its_turn_is_a_doubt(filling: Filling) -> None:
    key = line(filling, "wash", UPPER).key
    later = next(lot for lot in form.lots_for(filling, key) if lot.lot_number == "LIGHT-1")
    assert form.doubts(form.choose_lot(filling, key, later.holding_id)) == (
        "Wash upper: lot LIGHT-0 of Light should go first.",
    )


def test_material_of_a_second_family_in_one_case_is_a_doubt(filling: Filling) -> None:
    key = line(filling, "wash", UPPER).key
    other = next(lot for lot in form.lots_for(filling, key) if lot.lot_number == "OTHER-1")
    assert any("different families" in doubt for doubt in form.doubts(form.choose_lot(filling, key, other.holding_id)))


def test_an_expired_lot_is_a_doubt_but_can_be_chosen_if_it_was_really_used(filling: Filling) -> None:
    key = line(filling, "wash", UPPER).key
    late = next(lot for lot in form.lots_for(filling, key) if lot.lot_number == "LIGHT-OLD")
    assert any(
        "LIGHT-OLD: past its last day" in doubt for doubt in form.doubts(form.choose_lot(filling, key, late.holding_id))
    )


def test_a_scanned_lot_confirms_every_line_of_its_article(filling: Filling) -> None:
    said = form.lot_read(filling, "heavy-1")
    assert {one.name for one in said.lines if one.confirmed} == {
        "Tray load with border upper", "Tray load with border lower",
    }  # fmt: skip


def test_a_scanned_lot_replaces_the_assumed_one(filling: Filling) -> None:
    said = form.lot_read(filling, "LIGHT-1")
    assert [line(said, "wash", arch).lot_number for arch in (UPPER, LOWER)] == ["LIGHT-1", "LIGHT-1"]


@pytest.mark.parametrize("number", ["NOBODY-KNOWS", "POWDER-1", "OTHER-1"])
def test_a_scanned_lot_that_no_line_takes_is_said(filling: Filling, number: str) -> None:
    with pytest.raises(NotFound):
        form.lot_read(filling, number)


def test_confirming_all_lots_pins_them(filling: Filling) -> None:
    said = form.confirm_all(filling)
    assert all(one.confirmed for one in said.lines)
    more = form.set_amount(said, line(said, "wash", UPPER).key, "16")  # the rest of 15 mL was read: it stays
    assert line(more, "wash", UPPER).lot_number == "LIGHT-0"
    assert form.doubts(more) == ("Lot LIGHT-0: 1 mL more than the book has there.",)


def test_a_powder_does_not_stand_in_for_an_elastomer_on_its_line(filling: Filling) -> None:
    powder = next(lot for lot in filling.lots if lot.lot_number == "POWDER-1")
    with pytest.raises(BadInput, match="counted in g"):
        form.choose_lot(filling, line(filling, "wash", UPPER).key, powder.holding_id)


def test_a_lower_tray_does_not_belong_on_the_upper_line(filling: Filling) -> None:
    lower = next(lot for lot in filling.lots if lot.lot_number == "TRAY-LOWER-M-1")
    with pytest.raises(BadInput, match="does not belong"):
        form.choose_lot(filling, line(filling, "tray", UPPER).key, lower.holding_id)


def test_a_cartridge_that_ran_out_halfway_is_two_lots_and_one_more_tip(filling: Filling) -> None:
    key = line(filling, "wash", UPPER).key
    second = next(lot for lot in filling.lots if lot.lot_number == "LIGHT-1")
    said = form.also_from(form.set_amount(filling, key, "9"), key, second.holding_id, 600)
    wash = [one for one in said.lines if (one.form.step, one.form.arch) == ("wash", UPPER)]
    assert [(one.lot_number, one.qty) for one in wash] == [("LIGHT-0", 900), ("LIGHT-1", 600), ("TIP-1", 2)]
    assert [used.expected_qty for used in form.book_out(said).lines if used.step == "wash" and used.arch is UPPER] == [
        1115, 0, 1,
    ]  # fmt: skip


def test_something_the_form_does_not_expect_is_added(filling: Filling) -> None:
    tip = next(lot for lot in filling.lots if lot.lot_number == "TIP-1")
    said = form.add(filling, tip.holding_id, "3", arch=LOWER)
    assert (said.lines[-1].qty, form.book_out(said).lines[-1].need_id) == (3, None)
    assert form.drop(said, said.lines[-1].key).lines[-1].dropped


def test_stock_that_is_nowhere_near_can_not_be_chosen(filling: Filling) -> None:
    with pytest.raises(NotFound, match="not in an operatory"):
        form.choose_lot(filling, line(filling, "wash", UPPER).key, 999_999)
    with pytest.raises(NotFound, match="no line"):
        form.confirm(filling, "no such line")


# Steps, arches, trays


def test_a_step_not_done_leaves_out_its_mixing_tip_too_and_can_be_put_back(filling: Filling) -> None:
    key = line(filling, "jaw_relation").key
    said = form.drop(filling, key)
    assert [one.dropped for one in said.lines if one.form.step == "jaw_relation"] == [True, True]
    assert not any(used.step == "jaw_relation" for used in form.book_out(said).lines)
    assert form.book_out(form.keep(said, key)) == form.book_out(filling)


def test_where_only_the_upper_was_done_nothing_of_the_lower_is_booked(filling: Filling) -> None:
    request = form.book_out(form.only(filling, UPPER))
    assert {used.arch for used in request.lines} == {UPPER, None}
    assert {tray.arch for tray in request.trays} == {UPPER}


def test_a_retake_adds_material_and_tip_and_keeps_what_was_said(filling: Filling, little: LittlePractice) -> None:
    said = form.set_amount(filling, line(filling, "wash", UPPER).key, "13")
    again = form.retake(little.practice, form.tried(said, UPPER, "S"), "wash", LOWER)
    assert line(again, "wash", UPPER).qty == 1300
    assert line(again, "wash", LOWER, attempt=2).qty == 815
    assert line(again, "wash", LOWER, attempt=2, part="/tip/").qty == 1
    assert len(again.tried) == 1
    assert again.dirty


def test_a_retake_of_a_step_that_is_not_there_is_refused(filling: Filling, little: LittlePractice) -> None:
    with pytest.raises(BadInput, match="no step"):
        form.retake(little.practice, filling, "border", UPPER)


def test_the_size_that_fitted_takes_the_place_of_the_planned_one(filling: Filling) -> None:
    said = form.choose_tray(filling, UPPER, "l")
    fitted = next(tray for tray in form.book_out(said).trays if tray.arch is UPPER)
    assert said.articles[fitted.item_id].code == "TRAY-UPPER-L"


def test_a_single_use_tray_tried_in_vain_is_thrown_away_and_a_reusable_one_reprocessed(filling: Filling) -> None:
    said = form.tried(form.tried(filling, UPPER, "L"), UPPER, "XL")
    outcomes = [tray.outcome for tray in form.book_out(said).trays]
    assert outcomes[2:] == [TrialOutcome.TRIED_THROWN, TrialOutcome.TRIED_REPROCESS]
    assert len(form.not_tried(said, 0).tried) == 1


def test_a_size_that_the_line_does_not_have_is_refused(filling: Filling) -> None:
    with pytest.raises(NotFound, match="Known are: S, M, L"):
        form.choose_tray(filling, LOWER, "XL")


def test_a_tray_whose_size_nobody_said_is_an_open_question(little: LittlePractice) -> None:
    begun = form.begin(little.practice, little.visit("C-2", lower_size=None))
    assert form.open_questions(begun) == ("Stock tray lower: its size is not said.",)
    with pytest.raises(BadInput, match="size is not said"):
        form.book_out(begun)
    assert not form.open_questions(form.choose_tray(begun, LOWER, "S"))


def test_a_reline_takes_no_stock_tray(little: LittlePractice) -> None:
    begun = form.begin(little.practice, little.visit("C-3", "reline"))
    assert form.sizes(begun, UPPER) == ()
    with pytest.raises(BadInput, match="no upper stock tray"):
        form.choose_tray(begun, UPPER, "M")


# Laws

TYPED = st.sampled_from(["0", "1", "9.99", "3t", "left 2t", "left 40", "50", "12,5", "7 ml", "left 0"])
SAID = st.lists(st.tuples(st.integers(0, 11), st.sampled_from(["amount", "drop", "keep", "confirm", "lot"]), TYPED))


@given(SAID)
def test_whatever_is_said_no_cartridge_gives_more_than_it_holds_unless_a_doubt_says_so(
    filling: Filling, said: list[tuple[int, str, str]]
) -> None:
    for place, verb, typed in said:
        key = filling.lines[place].key
        try:
            filling = _say(filling, key, verb, typed)
        except (BadInput, NotFound):
            continue
    given_by: dict[tuple[int, int], int] = {}
    for one in filling.lines:
        if one.lot and not one.dropped:
            unit = (one.lot.holding_id, one.fresh)
            given_by[unit] = given_by.get(unit, 0) + one.qty
    beyond = [
        unit
        for unit, qty in given_by.items()
        if qty > (filling.lot(unit[0]).unit_qty if unit[1] else filling.lot(unit[0]).on_hand)
    ]
    assert not beyond or any("more than the book" in doubt for doubt in form.doubts(filling))
    assert all(0 <= one.purge_qty <= one.qty for one in filling.lines)


def _say(filling: Filling, key: str, verb: str, typed: str) -> Filling:
    if verb == "amount":
        return form.set_amount(filling, key, typed)
    if verb == "lot":
        lots = form.lots_for(filling, key)
        return form.choose_lot(filling, key, lots[len(typed) % len(lots)].holding_id)
    return {"drop": form.drop, "keep": form.keep, "confirm": form.confirm}[verb](filling, key)


# Posted, on both stores


@pytest.fixture
def own(store: Store) -> LittlePractice:
    practice = LittlePractice(store)
    practice.full_shelves()
    return practice


def test_what_was_said_is_what_the_book_takes(own: LittlePractice) -> None:
    rest = own.opened("LIGHT", "LIGHT-0", 1500)
    said = form.begin(own.practice, own.visit())
    said = form.set_amount(form.lot_read(said, "LIGHT-0"), line(said, "wash", UPPER).key, "5")
    said = form.set_amount(said, line(said, "wash", LOWER).key, "left 2")
    booked = booking.book_out(own.practice, form.book_out(said), by="AB", request_key=own.key())
    assert own.on_hand(rest) == 200
    assert {(lot.lot_number, lot.lot_confirmed) for lot in booked.lots if lot.item == "Light"} == {("LIGHT-0", True)}


def test_a_lot_that_is_not_in_the_book_is_found_opened_and_used(own: LittlePractice) -> None:
    said = form.begin(own.practice, own.visit())
    found = form.FoundLot("NEW-9", IN_DATE, UseByReading.DAY)
    said = form.not_in_book(said, line(said, "wash", UPPER).key, found)
    assert any("NEW-9 is not in the book" in doubt for doubt in form.doubts(said))
    request = form.book_out(said)
    with pytest.raises(NeedsConfirmation, match="NEW-9"):
        booking.book_out(own.practice, request, by="AB", request_key=own.key())
    booked = booking.book_out(own.practice, request, by="AB", request_key=own.key(), confirmed=True)
    assert ("NEW-9", 1115) in {(lot.lot_number, lot.qty) for lot in booked.lots}
    left = [lot for lot in form.begin(own.practice, own.visit("C-9")).lots if lot.lot_number == "NEW-9"]
    assert [(lot.on_hand, lot.place) for lot in left] == [(5000 - 1115, CHAIR)]


def test_stock_that_a_colleague_took_meanwhile_is_asked_for_again(own: LittlePractice) -> None:
    rest = own.opened("LIGHT", "LIGHT-0", 1500)
    said = form.begin(own.practice, own.visit())
    said = form.confirm(said, line(said, "wash", UPPER).key)
    moving.discard(own.practice, [Part(rest)], own.slip(reason="dropped"))
    again = form.ask_again(own.practice, said)
    assert [one.unresolved for one in again.lines if one.form.step == "wash" and "/main/" in one.key] == [True, False]


def test_the_same_form_at_another_place_starts_from_what_stands_there(own: LittlePractice) -> None:
    own.opened("LIGHT", "LIGHT-0", 1500, place="operatory 2")
    said = form.begin(own.practice, own.visit())
    assert line(said, "wash", UPPER).lot_number == "LIGHT-1"
    moved = form.ask_again(own.practice, said, place="operatory 2")
    assert line(moved, "wash", UPPER).lot_number == "LIGHT-0"
    assert form.book_out(moved).place == "operatory 2"
