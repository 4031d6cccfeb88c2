"""What was taken again, by arch and by lot; and what goes with an item or may take its place."""

from datetime import timedelta

import pytest

from inventory.domain.vocabulary import Arch
from inventory.errors import NotFound
from inventory.service import booking, correcting, filling_in, goes_with, retakes
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, TODAY


def again(clinic: Clinic, case_ref: str, arch: Arch) -> booking.Booked:
    """A visit whose wash of an arch was taken twice."""
    form = filling_in.begin(clinic.practice, clinic.plan(case_ref).visit_id)
    twice = filling_in.retake(clinic.practice, form, "wash", arch)
    return clinic.post(filling_in.book_out(twice))


def test_a_retake_is_counted_once_for_its_arch_and_for_the_lot_it_repeats(clinic: Clinic) -> None:
    clinic.book(clinic.plan("C-1"))
    again(clinic, "C-2", Arch.MANDIBULAR)
    undone = again(clinic, "C-3", Arch.MANDIBULAR)
    correcting.undo(clinic.practice, undone.documents[-1], reason="wrong case", by=BY, request_key=clinic.key())
    found = retakes.retakes(clinic.practice)
    upper, lower = found.arches
    assert (upper.impressions, upper.retakes) == (4, 0)  # two visits, load and wash each
    assert (lower.impressions, lower.retakes) == (5, 1)
    assert [(lot.lot, lot.impressions, lot.again) for lot in found.lots] == [("LIGHT-A-1", 5, 1)]
    later = retakes.retakes(clinic.practice, TODAY + timedelta(days=1))
    assert [arch.impressions for arch in later.arches] == [0, 0]
    assert later.lots == ()


def test_a_tip_goes_with_its_materials_and_a_material_with_its_tips(clinic: Clinic) -> None:
    light = goes_with.goes_with(clinic.practice, "light-a")
    assert [line.code for line in light.fits] == ["TIP-1"]
    assert {line.code for line in goes_with.goes_with(clinic.practice, "TIP-1").fits} >= {"LIGHT-A", "HEAVY-A"}
    with pytest.raises(NotFound):
        goes_with.goes_with(clinic.practice, "NONE")
