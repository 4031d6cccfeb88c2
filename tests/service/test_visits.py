"""Planning visits: under a case reference, never a name; sizes carried over; remakes linked."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from inventory.domain.vocabulary import RemakeAskedBy, VisitState
from inventory.errors import AlreadyDone, BadInput, NeedsConfirmation, NotAllowed, NotFound
from inventory.service import laying_out, visits
from inventory.service.visits import VisitPlan
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, TODAY

PLAN = VisitPlan("C-1", TODAY, "final_stock_tray", upper_size="m", lower_size="M")


def test_a_planned_visit_is_shown_as_it_was_planned(clinic: Clinic) -> None:
    card = visits.plan(clinic.practice, replace(PLAN, place="Operatory 2", note="bring the old denture"), by=BY)
    assert visits.one(clinic.practice, card.visit_id) == card
    assert (card.state, card.upper_size, card.place, card.version) == (VisitState.PLANNED, "M", "operatory 2", 1)


@pytest.mark.parametrize("name", ["Jane Doe", "Doe", "", "x" * 41, "C 1", "C-1\nx", "[bold]1", "Ä1"])
def test_what_is_no_case_reference_is_refused_so_that_names_stay_out(clinic: Clinic, name: str) -> None:
    with pytest.raises(BadInput, match="case reference"):
        visits.plan(clinic.practice, replace(PLAN, case_ref=name), by=BY)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"upper": False, "lower": False}, "arch"),
        ({"remake_asked_by": RemakeAskedBy.CHAIR}, "remake"),
        ({"case_kind": "crown"}, "case kind"),
        ({"upper_size": "XXL"}, "tray size"),
        ({"place": "garden"}, "garden"),
        ({"case_kind": "reline"}, "uses no stock tray"),
    ],
)
def test_a_field_that_is_not_valid_is_named(clinic: Clinic, changes: dict[str, object], message: str) -> None:
    with pytest.raises(BadInput) as told:
        visits.plan(clinic.practice, replace(PLAN, **changes), by=BY)  # type: ignore[arg-type]
    assert message in str(told.value)
    assert visits.between(clinic.practice, TODAY, TODAY) == ()


@pytest.mark.parametrize(
    ("on", "asked"),
    [
        (TODAY - timedelta(days=1), "has passed"),
        (TODAY + timedelta(days=800), "more than a year ahead"),
        (TODAY, "has a visit of this kind"),
    ],
)
def test_a_day_that_is_probably_mistyped_or_a_visit_planned_before_needs_a_yes(
    clinic: Clinic, on: date, asked: str
) -> None:
    clinic.plan("C-1", on=TODAY)
    with pytest.raises(NeedsConfirmation, match=asked) as told:
        visits.plan(clinic.practice, replace(PLAN, on=on), by=BY)
    assert not told.value.reason_needed
    assert len(visits.of_case(clinic.practice, "C-1")) == 1
    assert visits.plan(clinic.practice, replace(PLAN, on=on), by=BY, confirmed=True).on == on


def test_another_kind_of_visit_of_the_case_on_the_same_day_is_nothing_unusual(clinic: Clinic) -> None:
    visits.plan(clinic.practice, PLAN, by=BY)
    other = replace(PLAN, case_kind="reline", upper_size=None, lower_size=None)
    assert visits.plan(clinic.practice, other, by=BY).case_kind == "reline"


def test_a_size_known_from_an_earlier_visit_of_the_case_is_carried_over(clinic: Clinic) -> None:
    clinic.plan(upper_size="L", lower_size=None)
    again = clinic.plan(on=TODAY + timedelta(days=7), upper_size=None, lower_size=None)
    assert (again.upper_size, again.lower_size) == ("L", None)
    assert clinic.plan("C-2", upper_size=None).upper_size is None


def test_a_size_is_not_carried_over_to_a_visit_without_stock_tray(clinic: Clinic) -> None:
    clinic.plan()
    assert clinic.plan(case_kind="reline", upper_size=None, lower_size=None).upper_size is None


def test_a_change_keeps_the_old_values_in_the_change_log_and_raises_the_version(clinic: Clinic) -> None:
    card = visits.plan(clinic.practice, PLAN, by=BY)
    later = replace(PLAN, on=TODAY + timedelta(days=1))
    changed = visits.change(clinic.practice, card.visit_id, later, version=card.version, by=BY)
    assert (changed.on, changed.version) == (later.on, 2)
    with pytest.raises(AlreadyDone, match="colleague"):
        visits.change(clinic.practice, card.visit_id, PLAN, version=card.version, by=BY)


def test_a_cancelled_visit_needs_a_reason_and_is_not_planned_any_more(clinic: Clinic) -> None:
    card = visits.plan(clinic.practice, PLAN, by=BY)
    with pytest.raises(BadInput, match="reason"):
        visits.cancel(clinic.practice, card.visit_id, version=1, reason="  ", by=BY)
    visits.cancel(clinic.practice, card.visit_id, version=1, reason="called off", by=BY)
    assert visits.upcoming(clinic.practice) == ()
    with pytest.raises(AlreadyDone, match="cancelled"):
        visits.cancel(clinic.practice, card.visit_id, version=2, reason="again", by=BY)


def test_a_remake_is_a_new_visit_linked_to_the_earlier_one_with_who_asked(clinic: Clinic) -> None:
    first = clinic.book(clinic.plan()).visit
    remake = clinic.plan(
        on=TODAY + timedelta(days=9), remake_of=first.visit_id, remake_asked_by=RemakeAskedBy.LABORATORY
    )
    assert (remake.remake_of, remake.remake_asked_by) == (first.visit_id, RemakeAskedBy.LABORATORY)
    assert visits.one(clinic.practice, first.visit_id).state is VisitState.DONE
    with pytest.raises(NotAllowed, match="belongs to case C-1"):
        clinic.plan("C-2", remake_of=first.visit_id, remake_asked_by=RemakeAskedBy.CHAIR)


def test_upcoming_visits_start_with_those_nobody_booked_out(clinic: Clinic) -> None:
    clinic.plan("C-2", on=TODAY + timedelta(days=3))
    clinic.plan("C-1", on=TODAY - timedelta(days=2))
    clinic.plan("C-3", on=TODAY + timedelta(days=99))
    assert [card.case_ref for card in visits.upcoming(clinic.practice)] == ["C-1", "C-2"]


def test_case_references_are_offered_newest_first(clinic: Clinic) -> None:
    for number in (1, 2, 12):
        clinic.plan(f"C-{number}", on=TODAY + timedelta(days=number))
    assert visits.case_refs(clinic.practice, "C-1") == ("C-12", "C-1")
    assert visits.case_refs(clinic.practice, "C_") == ()


def test_materials_of_two_families_in_one_case_get_a_warning(clinic: Clinic) -> None:
    with clinic.practice.writing() as desk:
        item = next(item for item in clinic.items(desk) if item.code == "LIGHT-A")
        item.family = "polyether"
    form = laying_out.form(clinic.practice, clinic.plan().visit_id)
    assert any("different families" in warning for warning in form.warnings)
    assert any("different families" in warning for warning in clinic.book(form.visit).warnings)


def test_a_lay_out_list_shares_the_days_stock_between_its_visits(clinic: Clinic) -> None:
    day = TODAY + timedelta(days=1)
    for number in range(6):
        clinic.plan(f"C-{number}", on=day)
    forms = laying_out.lay_out(clinic.practice)
    assert [form.complete for form in forms] == [True] * 4 + [False] * 2
    opened = [line for form in forms for line in form.lines if line.opens]
    assert len({(line.lot_number, line.fresh) for line in opened}) == len(opened)


def test_a_visit_that_does_not_exist_is_said_so(clinic: Clinic) -> None:
    with pytest.raises(NotFound):
        visits.one(clinic.practice, 4711)
