"""Booking out a visit: what really left the shelf, once, whoever presses Enter and however often."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from inventory.domain.vocabulary import Arch, ItemKind, LateReason, TrialOutcome, UseByReading, VisitState
from inventory.errors import AlreadyDone, BadInput, KeyReused, NeedsConfirmation
from inventory.service import correcting, filling_in, holding, laying_out, visits
from inventory.service.booking import BookOut, FoundLot, UsedLine, UsedTray
from inventory.store.queries import planning
from tests.clinic import FAR, SINCE, Clinic, as_expected
from tests.service.catalogue_samples import BY, TODAY

PAST = TODAY - timedelta(days=1)


def test_a_final_visit_in_stock_trays_takes_a_load_and_a_wash_per_arch_one_record_and_a_tip_each(
    clinic: Clinic,
) -> None:
    """Common practice, no source: load with the border, then a light wash, per arch; one jaw relation record."""
    clinic.book(clinic.plan())
    assert clinic.left("T1-UM") == 4
    assert clinic.left("T1-LM") == 4
    assert clinic.left("TIP-1") == 50 - 5  # two loads, two washes, one record
    tip = 75 + 40  # what a tip keeps and what is purged, 0.01 mL
    assert 4 * 5000 - clinic.left("HEAVY-A") == 2500 + 1700 + 2 * tip
    assert 4 * 5000 - clinic.left("LIGHT-A") == 1000 + 700 + 2 * tip
    assert 4 * 5000 - clinic.left("BITE") == 600 + tip


def test_an_upper_only_visit_uses_no_mandibular_tray(clinic: Clinic) -> None:
    clinic.book(clinic.plan(lower=False))
    assert clinic.left("T1-LM") == 5
    assert clinic.left("T1-UM") == 4


def test_the_custom_tray_technique_uses_border_moulding_and_wash_and_no_stock_tray(clinic: Clinic) -> None:
    """Common practice, no source."""
    form = laying_out.form(
        clinic.practice,
        clinic.plan(case_kind="final_custom_tray", upper_size=None, lower_size=None).visit_id,
    )
    steps = {line.step for line in form.lines}
    assert {"border", "wash"} <= steps
    assert not any(line.kind is ItemKind.TRAY for line in form.lines)


def test_a_reline_is_a_wash_and_no_tray(clinic: Clinic) -> None:
    """Common practice, no source."""
    visit = clinic.plan(case_kind="reline", upper_size=None, lower_size=None)
    form = laying_out.form(clinic.practice, visit.visit_id)
    assert {line.item_code for line in form.lines if line.kind is ItemKind.IMPRESSION} == {"LIGHT-A"}
    assert not any(line.kind is ItemKind.TRAY for line in form.lines)


def test_a_retake_adds_material_tip_and_purge_again(clinic: Clinic) -> None:
    visit = clinic.plan()
    once = laying_out.form(clinic.practice, visit.visit_id)
    again = laying_out.form(clinic.practice, visit.visit_id, retakes=[("wash", Arch.MANDIBULAR)])
    added = [line for line in again.lines if line.attempt == 2]
    assert [(line.kind, line.arch, line.qty) for line in added] == [
        (ItemKind.IMPRESSION, Arch.MANDIBULAR, 700 + 75 + 40),
        (ItemKind.TIP, Arch.MANDIBULAR, 1),
    ]
    assert len(again.lines) == len(once.lines) + 2


def test_one_load_comes_from_one_cartridge_and_the_rest_stays_for_a_smaller_step(clinic: Clinic) -> None:
    form = laying_out.form(clinic.practice, clinic.plan().visit_id)
    loads = [line for line in form.lines if line.item_code == "HEAVY-A"]
    # 26.15 + 18.15 mL fit one 50 mL cartridge: one is opened, the second load comes from the same
    assert [line.opens for line in loads] == [True, False]
    assert loads[0].fresh == loads[1].fresh


def test_what_was_opened_stays_opened_at_the_visits_place_and_is_used_first_next_time(clinic: Clinic) -> None:
    clinic.book(clinic.plan())
    form = laying_out.form(clinic.practice, clinic.plan("C-2").visit_id)
    wash = next(line for line in form.lines if line.step == "wash" and line.kind is ItemKind.IMPRESSION)
    assert not wash.opens
    assert wash.place == "operatory 1"


def test_posting_the_same_form_twice_posts_once(clinic: Clinic) -> None:
    visit = clinic.plan()
    request = as_expected(laying_out.form(clinic.practice, visit.visit_id))
    first = clinic.post(request, key="enter")
    second = clinic.post(request, key="enter")
    assert second.again
    assert second.documents == first.documents
    assert clinic.left("T1-UM") == 4


def test_the_same_key_with_other_figures_is_refused(clinic: Clinic) -> None:
    request = as_expected(laying_out.form(clinic.practice, clinic.plan().visit_id))
    clinic.post(request, key="enter")
    with pytest.raises(KeyReused):
        clinic.post(replace(request, lines=request.lines[:-1]), key="enter")


def test_a_visit_booked_by_a_colleague_is_noticed_and_named(clinic: Clinic) -> None:
    visit = clinic.plan()
    mine = as_expected(laying_out.form(clinic.practice, visit.visit_id))
    clinic.post(mine)
    with pytest.raises(AlreadyDone, match=rf"done already by {BY}"):
        clinic.post(mine)
    assert clinic.left("T1-UM") == 4


def test_a_visit_changed_by_a_colleague_is_not_booked_on_the_old_form(clinic: Clinic) -> None:
    visit = clinic.plan()
    mine = as_expected(laying_out.form(clinic.practice, visit.visit_id))
    visits.cancel(clinic.practice, visit.visit_id, version=visit.version, reason="called off", by=BY)
    with pytest.raises(AlreadyDone, match="cancelled"):
        clinic.post(mine)


def test_what_the_book_does_not_have_is_recorded_as_found_after_confirmation(clinic: Clinic) -> None:
    visit = clinic.plan()
    request = as_expected(laying_out.form(clinic.practice, visit.visit_id))
    tip = next(line for line in request.lines if line.step == "wash" and line.purge_qty == 0)
    many = replace(request, lines=(*request.lines, replace(tip, qty=60, attempt=2)))
    with pytest.raises(NeedsConfirmation, match="stock found") as asked:
        clinic.post(many)
    assert not asked.value.reason_needed
    clinic.post(many, confirmed=True)
    assert clinic.left("TIP-1") == 0


def test_what_the_book_lacks_of_one_lot_is_said_once_with_lot_and_place(clinic: Clinic) -> None:
    request = as_expected(laying_out.form(clinic.practice, clinic.plan().visit_id))
    washes = [line for line in request.lines if line.purge_qty and line.step == "wash"]
    new = tuple(
        replace(line, holding_id=None, found=FoundLot("NEW-7"), fresh=fresh) for fresh, line in enumerate(washes, 1)
    )
    with pytest.raises(NeedsConfirmation) as asked:
        clinic.post(replace(request, lines=new))
    assert asked.value.message == (
        "Light body A, fast, lot NEW-7, operatory 1: the book has 100 mL less than was used; it will be recorded as "
        "stock found."
    )


def test_a_lot_nobody_had_entered_can_be_booked_with_its_number(clinic: Clinic) -> None:
    visit = clinic.plan()
    request = as_expected(laying_out.form(clinic.practice, visit.visit_id))
    wash = next(line for line in request.lines if line.step == "wash" and line.purge_qty)
    found = replace(
        wash, holding_id=None, lot_confirmed=True, found=FoundLot("NEW-7", date(2028, 1, 31), UseByReading.MONTH)
    )
    lines = tuple(found if line is wash else line for line in request.lines)
    booked = clinic.post(replace(request, lines=lines), confirmed=True)
    used = next(lot for lot in booked.lots if lot.lot_number == "NEW-7")
    assert used.lot_confirmed
    assert used.use_by_read is UseByReading.MONTH
    assert used.qty == wash.qty


def _with_wash_from(clinic: Clinic, holding_id: int) -> tuple[visits.VisitCard, BookOut]:
    visit = clinic.plan()
    request = as_expected(laying_out.form(clinic.practice, visit.visit_id))
    lines = tuple(
        replace(line, holding_id=holding_id, fresh=9)
        if line.step == "wash" and line.purge_qty and line.arch is Arch.MAXILLARY
        else line
        for line in request.lines
    )
    return visit, replace(request, lines=lines)


def _choice(clinic: Clinic, lot_number: str) -> int:
    form = laying_out.form(clinic.practice, clinic.plan("C-9").visit_id)
    wash = next(line for line in form.lines if line.item_code == "LIGHT-A")
    found = laying_out.choices(clinic.practice, "operatory 1", [wash.item_id or 0])
    return next(choice.holding_id for choice in found if choice.lot_number == lot_number)


@pytest.mark.parametrize("late", [LateReason.EXPIRED, LateReason.HELD])
def test_a_lot_that_should_not_have_been_used_is_recorded_after_a_yes_and_a_reason(
    clinic: Clinic, late: LateReason
) -> None:
    lot = clinic.lot("LIGHT-A", "WRONG", 1, use_by=PAST if late is LateReason.EXPIRED else FAR)
    if late is LateReason.HELD:
        holding.hold(clinic.practice, lot_id=lot, reason="notice expected", by=BY)
    _, request = _with_wash_from(clinic, _choice(clinic, "WRONG"))
    with pytest.raises(NeedsConfirmation, match="WRONG") as asked:
        clinic.post(request)
    assert asked.value.reason_needed
    with pytest.raises(BadInput, match="reason"):
        clinic.post(request, confirmed=True)
    booked = clinic.post(request, confirmed=True, reason="noticed afterwards")
    assert [lot.late_reason for lot in booked.lots if lot.lot_number == "WRONG"] == [late]


def test_expired_and_held_lots_are_never_proposed(clinic: Clinic) -> None:
    lot = clinic.lot("LIGHT-A", "HELD", 1, use_by=TODAY + timedelta(days=5))
    clinic.lot("LIGHT-A", "OLD", 1, use_by=PAST)
    holding.hold(clinic.practice, lot_id=lot, reason="notice expected", by=BY)
    form = laying_out.form(clinic.practice, clinic.plan().visit_id)
    assert {line.lot_number for line in form.lines if line.item_code == "LIGHT-A"} == {"LIGHT-A-1"}


def test_use_by_today_is_usable_and_goes_first(clinic: Clinic) -> None:
    """ISO 15223-1:2021, 5.1.4: the date after which the device is not to be used (read in the source)."""
    clinic.lot("LIGHT-A", "TODAY", 1, use_by=TODAY)
    form = laying_out.form(clinic.practice, clinic.plan().visit_id)
    assert {line.lot_number for line in form.lines if line.item_code == "LIGHT-A"} == {"TODAY"}


def test_a_tray_tried_in_a_mouth_never_goes_back_to_stock(clinic: Clinic) -> None:
    """Semi-critical items: CDC guideline for dental settings, 2003 (from memory)."""
    visit = clinic.plan(upper_size="L")
    form = laying_out.form(clinic.practice, visit.visit_id)
    request = as_expected(form)
    medium = laying_out.form(clinic.practice, clinic.plan("C-8").visit_id)
    tray = next(line for line in medium.lines if line.item_code == "T1-UM")
    tried = UsedTray(Arch.MAXILLARY, tray.item_id or 0, TrialOutcome.TRIED_THROWN, tray.holding_id)
    clinic.post(replace(request, trays=(*request.trays, tried)))
    assert clinic.left("T1-UL") == 4
    assert clinic.left("T1-UM") == 4


def test_a_tray_of_which_the_book_has_none_can_still_be_recorded(clinic: Clinic) -> None:
    """What was really used is always recordable: the tray is noted as found, then as used."""
    request = as_expected(laying_out.form(clinic.practice, clinic.plan().visit_id))
    upper = replace(request.trays[0], holding_id=None, found=FoundLot("FROM-THE-DRAWER"))
    changed = replace(request, trays=(upper, *request.trays[1:]))
    with pytest.raises(NeedsConfirmation, match="stock found"):
        clinic.post(changed)
    booked = clinic.post(changed, confirmed=True)
    assert [lot.qty for lot in booked.lots if lot.lot_number == "FROM-THE-DRAWER"] == [1]
    assert clinic.left("T1-UM") == 5


def test_a_single_use_tray_can_not_go_to_reprocessing(clinic: Clinic) -> None:
    request = as_expected(laying_out.form(clinic.practice, clinic.plan().visit_id))
    wrong = replace(request.trays[0], outcome=TrialOutcome.TRIED_REPROCESS)
    with pytest.raises(BadInput, match="single use"):
        clinic.post(replace(request, trays=(wrong,)))


def test_more_than_a_cartridge_holds_is_refused_in_words(clinic: Clinic) -> None:
    request = as_expected(laying_out.form(clinic.practice, clinic.plan().visit_id))
    lines = (replace(request.lines[0], qty=6000), *request.lines[1:])
    with pytest.raises(BadInput, match="60 mL is more than one cartridge holds"):
        clinic.post(replace(request, lines=lines))


def test_nothing_used_is_no_booking(clinic: Clinic) -> None:
    request = as_expected(laying_out.form(clinic.practice, clinic.plan().visit_id))
    with pytest.raises(BadInput, match="Nothing was used"):
        clinic.post(replace(request, lines=(), trays=()))


def test_a_visit_can_not_be_booked_out_for_a_day_to_come(clinic: Clinic) -> None:
    request = as_expected(laying_out.form(clinic.practice, clinic.plan().visit_id))
    with pytest.raises(BadInput, match="still to come"):
        clinic.post(replace(request, happened_on=TODAY + timedelta(days=1)))


def test_a_visit_is_not_booked_out_of_lots_that_were_not_there_on_that_day(clinic: Clinic) -> None:
    long_ago = TODAY - SINCE - timedelta(days=1)
    request = as_expected(laying_out.form(clinic.practice, clinic.plan(on=long_ago).visit_id))
    with pytest.raises(BadInput, match=rf"{long_ago} is before lot .* first received, {TODAY - SINCE}"):
        clinic.post(replace(request, happened_on=long_ago), confirmed=True)


@pytest.mark.parametrize("in_days", [1, -15])
def test_a_booking_before_the_planned_day_or_long_after_it_needs_a_yes(clinic: Clinic, in_days: int) -> None:
    on = TODAY + timedelta(days=in_days)
    request = as_expected(laying_out.form(clinic.practice, clinic.plan(on=on).visit_id))
    with pytest.raises(NeedsConfirmation, match=f"planned for {on}") as asked:
        clinic.post(request)
    assert not asked.value.reason_needed
    assert clinic.post(request, confirmed=True).visit.state is VisitState.DONE


def test_a_booking_two_weeks_late_asks_nothing(clinic: Clinic) -> None:
    assert clinic.book(clinic.plan(on=TODAY - timedelta(days=14))).visit.state is VisitState.DONE


def test_a_refused_booking_leaves_nothing_behind(clinic: Clinic) -> None:
    before = {code: clinic.left(code) for code in ("LIGHT-A", "HEAVY-A", "TIP-1", "T1-UM")}
    visit = clinic.plan()
    request = as_expected(laying_out.form(clinic.practice, visit.visit_id))
    wrong = UsedLine(item_id=request.lines[0].item_id, qty=100, holding_id=999_999)
    with pytest.raises(BadInput):
        clinic.post(replace(request, lines=(*request.lines, wrong)))
    assert {code: clinic.left(code) for code in before} == before
    assert visits.one(clinic.practice, visit.visit_id).state is VisitState.PLANNED


def test_the_size_that_fitted_is_carried_over_to_the_cases_next_visit(clinic: Clinic) -> None:
    clinic.book(clinic.plan(upper_size="L"))
    assert clinic.plan(upper_size=None).upper_size == "L"


def test_a_visit_of_which_only_the_upper_was_done_counts_for_the_upper_alone(clinic: Clinic) -> None:
    def arches() -> list[tuple[bool, bool]]:
        with clinic.practice.reading() as desk:
            return [row[3:] for row in planning.visit_counts(desk.session, TODAY)]

    visit = clinic.plan()
    only_upper = filling_in.only(filling_in.begin(clinic.practice, visit.visit_id), Arch.MAXILLARY)
    booked = clinic.post(filling_in.book_out(only_upper))
    assert arches() == [(True, False)]
    correcting.undo(clinic.practice, booked.documents[-1], reason="both", by=BY, request_key=clinic.key())
    assert arches() == [(True, True)]  # as planned, until it is booked anew
    clinic.book(visits.one(clinic.practice, visit.visit_id))
    assert arches() == [(True, True)]
