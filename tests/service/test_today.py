"""What a day begins with, and what the desk looks up about visits."""

from dataclasses import replace
from datetime import timedelta

import pytest

from inventory.domain.vocabulary import Arch, RemakeAskedBy, Role, TrialOutcome, VisitState
from inventory.errors import NotFound
from inventory.service import correcting, filling_in, laying_out, setting_up, today, visit_desk, visits
from inventory.service.practice import Practice
from inventory.service.setting_up import PersonDraft
from tests.clinic import Clinic, as_expected
from tests.service.catalogue_samples import BY, TODAY

YESTERDAY, TOMORROW = TODAY - timedelta(days=1), TODAY + timedelta(days=1)


def test_a_workstation_learns_who_works_here_and_what_day_it_is(newly_set_up: Practice) -> None:
    seen = today.desktop(newly_set_up)
    assert (seen.today, seen.people) == (TODAY, ("AB", "CD"))


def test_somebody_who_left_is_not_offered(newly_set_up: Practice) -> None:
    setting_up.add_person(newly_set_up, PersonDraft("CD", Role.ASSISTANT, active=False), by=BY)
    assert today.desktop(newly_set_up).people == ("AB",)


def test_the_day_list_begins_with_past_visits_not_booked_out_then_today_then_the_next_days(clinic: Clinic) -> None:
    for case, on in (("C-3", TOMORROW), ("C-2", TODAY), ("C-1", YESTERDAY)):
        clinic.plan(case, on)
    listed = today.day_list(clinic.practice).visits
    assert [one.card.case_ref for one in listed] == ["C-1", "C-2", "C-3"]


def test_a_visit_booked_today_stays_on_the_list_and_one_booked_yesterday_does_not(clinic: Clinic) -> None:
    clinic.book(clinic.plan("C-1", YESTERDAY))
    clinic.book(clinic.plan("C-2", TODAY))
    cards = [one.card for one in today.day_list(clinic.practice).visits]
    assert [(card.case_ref, card.state, card.booked_by) for card in cards] == [("C-2", VisitState.DONE, BY)]


def test_a_cancelled_visit_is_not_on_the_list(clinic: Clinic) -> None:
    card = clinic.plan()
    visits.cancel(clinic.practice, card.visit_id, version=card.version, reason="ill", by=BY)
    assert today.day_list(clinic.practice).visits == ()


def test_the_list_says_what_a_visit_is_short_of(clinic: Clinic) -> None:
    clinic.plan("C-1", TOMORROW, case_kind="preliminary")
    (only,) = today.day_list(clinic.practice).visits
    assert any("Powder" in missing for missing in only.missing)


def test_a_past_visit_is_not_asked_whether_it_is_ready(clinic: Clinic) -> None:
    clinic.plan("C-1", YESTERDAY)
    (only,) = today.day_list(clinic.practice).visits
    assert only.readiness is None
    assert only.missing == ()


def test_the_next_to_book_out_is_the_first_of_today_then_a_past_one(clinic: Clinic) -> None:
    clinic.plan("C-0", YESTERDAY)
    first = clinic.plan("C-1", TODAY)
    clinic.plan("C-2", TODAY)
    seen = today.day_list(clinic.practice)
    assert seen.first_to_book is not None
    assert seen.first_to_book.card.visit_id == first.visit_id
    clinic.book(first)
    clinic.book(seen.visits[2].card)
    left = today.day_list(clinic.practice).first_to_book
    assert left is not None
    assert left.card.case_ref == "C-0"


def test_nothing_is_next_where_all_visits_are_still_to_come(clinic: Clinic) -> None:
    clinic.plan("C-1", TOMORROW)
    assert today.day_list(clinic.practice).first_to_book is None


def test_the_list_of_planned_visits_is_by_date_and_that_of_done_ones_newest_first(clinic: Clinic) -> None:
    for case, on in (("C-2", TODAY), ("C-1", YESTERDAY)):
        clinic.plan(case, on)
    planned = visit_desk.visit_list(clinic.practice, state=VisitState.PLANNED)
    assert [card.case_ref for card in planned.visits] == ["C-1", "C-2"]
    for card in planned.visits:
        clinic.book(card)
    done = visit_desk.visit_list(clinic.practice, state=VisitState.DONE)
    assert [card.case_ref for card in done.visits] == ["C-2", "C-1"]


def test_part_of_a_case_reference_finds_it_in_upper_or_lower_case(clinic: Clinic) -> None:
    clinic.plan("KB-204")
    clinic.plan("KB-311")
    found = visit_desk.visit_list(clinic.practice, case_part="b-2")
    assert [card.case_ref for card in found.visits] == ["KB-204"]


@pytest.mark.parametrize("sign", ["%", "_", "[", "\\", "'"])
def test_signs_with_a_meaning_in_queries_find_only_themselves(clinic: Clinic, sign: str) -> None:
    clinic.plan("KB-204")
    assert visit_desk.visit_list(clinic.practice, case_part=sign).visits == ()


def test_a_long_list_is_cut_and_says_so(clinic: Clinic) -> None:
    for number in range(3):
        clinic.plan(f"C-{number}")
    cut = visit_desk.visit_list(clinic.practice, limit=2)
    assert (len(cut.visits), cut.more) == (2, True)
    assert not visit_desk.visit_list(clinic.practice, limit=3).more


def test_a_plan_offers_the_sizes_of_the_kinds_own_tray_line(clinic: Clinic) -> None:
    choices = visit_desk.plan_choices(clinic.practice)
    kinds = {kind.code: kind for kind in choices.kinds}
    assert kinds["final_stock_tray"].upper_sizes == ("S", "M", "L", "XL")
    assert kinds["reline"].upper_sizes == ()
    assert choices.places == ("operatory 1", "operatory 2")


def test_the_record_names_the_lots_and_who_booked_them(clinic: Clinic) -> None:
    card = clinic.plan()
    form = laying_out.form(clinic.practice, card.visit_id)
    request = as_expected(form)
    read = tuple(replace(line, lot_confirmed=line.step == "wash") for line in request.lines)
    clinic.post(replace(request, lines=read))
    record = visit_desk.record(clinic.practice, card.visit_id)
    washes = [lot for lot in record.lots if lot.step == "wash" and lot.item.startswith("Light")]
    assert [(lot.lot_number, lot.lot_confirmed) for lot in washes] == [("LIGHT-A-1", True)] * 2
    assert not any(lot.lot_confirmed for lot in record.lots if lot.step == "load")
    assert record.step_names["load"] == "Tray load with border"
    assert [entry.what for entry in record.entries] == ["opened for it", "booked out"]
    assert {entry.by for entry in record.entries} == {BY}


def test_the_record_says_which_trays_fitted_and_which_were_tried(clinic: Clinic) -> None:
    card = clinic.plan()
    form = filling_in.begin(clinic.practice, card.visit_id)
    clinic.post(filling_in.book_out(filling_in.tried(form, Arch.MAXILLARY, "L")))
    record = visit_desk.record(clinic.practice, card.visit_id)
    assert [tray.outcome for tray in record.trays] == [
        TrialOutcome.FITTED,
        TrialOutcome.FITTED,
        TrialOutcome.TRIED_THROWN,
    ]


def test_after_undoing_the_record_keeps_the_story_and_no_lots(clinic: Clinic) -> None:
    card = clinic.plan()
    clinic.book(card)
    correcting.undo_visit(clinic.practice, card.visit_id, reason="wrong case", by="CD", request_key="undo-1")
    record = visit_desk.record(clinic.practice, card.visit_id)
    assert record.lots == ()
    assert record.trays == ()
    assert record.card.state is VisitState.PLANNED
    assert [entry.what for entry in record.entries] == ["opened for it", "booked out, undone since", "undone"]
    assert (record.entries[-1].by, record.entries[-1].reason) == ("CD", "wrong case")


def test_the_record_shows_the_remake_beside_the_visit_it_does_again(clinic: Clinic) -> None:
    first = clinic.plan()
    clinic.book(first)
    again = clinic.plan(
        on=TOMORROW, remake_of=first.visit_id, remake_asked_by=RemakeAskedBy.LABORATORY
    )  # fmt: skip
    record = visit_desk.record(clinic.practice, first.visit_id)
    assert [other.visit_id for other in record.others] == [again.visit_id]
    assert record.others[0].remake_of == first.visit_id


def test_an_unknown_visit_has_no_record(clinic: Clinic) -> None:
    with pytest.raises(NotFound, match="no visit 999"):
        visit_desk.record(clinic.practice, 999)
