"""The dentist's one look: sizes, materials and visits, from one reading of the book."""

from dataclasses import replace
from datetime import timedelta

import pytest

from inventory.domain.trays import SizeWord
from inventory.domain.vocabulary import Arch
from inventory.service import catalogue, dentists_view
from inventory.service.dentists_view import DentistsView, SizeCell
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, SUPPLIER, TODAY, box


def look(clinic: Clinic) -> DentistsView:
    return dentists_view.dentists_view(clinic.practice)


def cell(view: DentistsView, arch: Arch, size: str) -> SizeCell:
    (grid,) = view.grids
    (row,) = (row for row in grid.rows if row.arch is arch)
    return next(cell for cell in row.cells if cell.size == size)


def test_without_booked_visits_every_size_is_enough_and_nothing_is_short(clinic: Clinic) -> None:
    view = look(clinic)
    assert view.booked == 0
    assert view.not_ready == ()
    assert cell(view, Arch.MAXILLARY, "XL").word is SizeWord.ENOUGH  # none is there, but none is needed


def test_a_size_known_in_advance_is_certain_and_unknown_ones_follow_the_mix(clinic: Clinic) -> None:
    for number in range(3):
        clinic.plan(f"C-{number}", on=TODAY + timedelta(days=1))
    known = cell(look(clinic), Arch.MAXILLARY, "M")
    assert known.expected_tenths == 32  # three visits, and a new tray at one retake in twenty
    clinic.plan("C-9", on=TODAY + timedelta(days=1), upper_size=None)
    mixed = cell(look(clinic), Arch.MAXILLARY, "M")
    assert known.expected_tenths < mixed.expected_tenths < known.expected_tenths + 10


def test_more_booked_visits_than_trays_of_a_size_is_short_and_says_why(clinic: Clinic) -> None:
    for number in range(6):
        clinic.plan(f"C-{number}", on=TODAY + timedelta(days=1))
    found = cell(look(clinic), Arch.MAXILLARY, "M")
    assert (found.available, found.word) == (5, SizeWord.SHORT)
    # 7 trays suffice for one arch with .735 + 6 x .05 x .735 = .955, but both arches together need .95
    assert found.reason == "5 available, booked visits need about 6.3, target 8"


def test_a_size_of_which_none_is_there_is_none(clinic: Clinic) -> None:
    clinic.plan(on=TODAY + timedelta(days=1), upper_size="XL")
    view = look(clinic)
    assert cell(view, Arch.MAXILLARY, "XL").word is SizeWord.NONE
    assert view.grids[0].all_fitted_percent == 0


def test_a_size_that_the_weekly_check_would_order_is_low_though_the_booked_visits_are_served(clinic: Clinic) -> None:
    catalogue.add_supplier(clinic.practice, SUPPLIER, by=BY)
    catalogue.save_supply(clinic.practice, box("T1-UM"), by=BY)
    assert cell(look(clinic), Arch.MAXILLARY, "M").word is SizeWord.ENOUGH
    card = catalogue.item(clinic.practice, "T1-UM").draft
    catalogue.change_item(clinic.practice, "T1-UM", replace(card, min_units=6, max_units=12), by=BY)
    low = cell(look(clinic), Arch.MAXILLARY, "M")
    assert (low.word, low.reason) == (SizeWord.LOW, "5 available, to be ordered")


def test_what_was_fitted_moves_the_mix(clinic: Clinic) -> None:
    clinic.plan("C-9", on=TODAY + timedelta(days=1), upper_size=None, lower=False)
    before = cell(look(clinic), Arch.MAXILLARY, "L").expected_tenths
    for number in range(4):
        clinic.book(clinic.plan(f"C-{number}", upper_size="L"))
    assert cell(look(clinic), Arch.MAXILLARY, "L").expected_tenths > before


@pytest.mark.parametrize(("finals", "enough"), [(5, True), (6, False)])
def test_wash_is_enough_when_it_lasts_for_todays_finals_with_a_retake_each(
    clinic: Clinic, finals: int, enough: bool
) -> None:
    for number in range(finals):
        clinic.plan(f"C-{number}")
    line = next(line for line in look(clinic).materials if line.name == "Light body A, fast")
    assert line.qty == 4 * 5000
    assert line.needed_today == 2 * finals * (1115 + 815)  # both arches, twice, tip and purge included
    assert line.enough_today is enough


def test_visits_possible_are_counted_in_whole_visits_and_name_what_the_next_one_lacks(clinic: Clinic) -> None:
    view = look(clinic)
    reline = next(kind for kind in view.possible if kind.case_kind == "reline")
    # 4 cartridges of 50 mL; 19.3 mL a visit, both washes; one cartridge serves two visits and strands 11.4 mL,
    # which is one more upper wash: five arches a cartridge at most, never two half loads
    assert reline.count == 10
    assert reline.lacks == ("Light body A, fast",)
    custom = next(kind for kind in view.possible if kind.case_kind == "preliminary")
    assert custom.count == 0
