"""What steps take here: the default until somebody enters other amounts, and what a person decides of it."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from itertools import count

import pytest
from sqlalchemy import select

from inventory.domain.vocabulary import Arch, BaseUnit, EstimateSource, ItemKind
from inventory.domain.why import chained
from inventory.errors import AlreadyDone, BadInput, NotAllowed, NotFound
from inventory.service import correcting, laying_out, learning, observing
from inventory.service.booking import Booked
from inventory.service.clock import Clock
from inventory.service.learning import Figure, Learned
from inventory.service.practice import Practice
from inventory.store.engine import Store
from inventory.store.tables import Change
from tests.clinic import MATERIALS, Clinic, as_expected
from tests.service.catalogue_samples import BY, NOW, TODAY
from tests.service.conftest import copied
from tests.stores import NewStores

TIP = 75 + 40  # what a tip keeps and what is purged, 0.01 mL


def wash(clinic: Clinic, arch: Arch = Arch.MAXILLARY, kind: str = "final_stock_tray") -> Learned:
    return next(
        each
        for each in learning.learned(clinic.practice)
        if (each.case_kind, each.step, each.arch) == (kind, "wash", arch)
    )


def took(clinic: Clinic, ref: str, qty: int, arch: Arch = Arch.MAXILLARY) -> Booked:
    """Book a visit with the wash of an arch as entered, tip and purge included; everything else as the form expects."""
    form = laying_out.form(clinic.practice, clinic.plan(ref).visit_id)
    request = as_expected(form)
    material = {line.item_id for line in form.lines if line.kind is ItemKind.IMPRESSION}
    lines = tuple(
        replace(line, qty=qty) if (line.step, line.arch) == ("wash", arch) and line.item_id in material else line
        for line in request.lines
    )
    return clinic.post(replace(request, lines=lines), confirmed=True)  # stock found, where the book ran out


def with_much_wash(store: Store) -> None:
    """Four visits that used 13 to 15 mL of wash for an upper where 10 mL are expected."""
    clinic = Clinic.stocked(store)
    for code in MATERIALS:
        clinic.lot(code, f"{code}-2", 20)
    for number, qty in enumerate((1300, 1430, 1510, 1390), start=1):
        took(clinic, f"C-{number}", qty + TIP)


@pytest.fixture
def generous(new_stores: NewStores) -> Iterator[Clinic]:
    """Give a clinic that uses more wash than expected."""
    with copied(new_stores, "much-wash", with_much_wash) as store:
        yield Clinic(Practice(store, Clock(lambda: NOW)), count(1000))


def test_a_form_booked_as_it_stands_teaches_nothing(clinic: Clinic) -> None:
    clinic.book(clinic.plan())
    for each in learning.learned(clinic.practice):
        assert each.observations == 0
        assert each.learned == each.default == each.current
        assert not each.identified
        assert not each.to_accept
        assert chained(each.why)


def test_only_materials_are_learned(clinic: Clinic) -> None:
    found = learning.learned(clinic.practice)
    assert {each.kind for each in found} == {ItemKind.IMPRESSION, ItemKind.BITE}
    powder = next(each for each in found if each.step == "preliminary")
    assert powder.base is BaseUnit.CG


def test_amounts_that_people_entered_sharpen_the_default_without_tip_and_purge(generous: Clinic) -> None:
    upper = wash(generous)
    assert upper.observations == 4
    # four cases against the default's one (their spread grows with the mean, so a little less than (1000 + 5630) / 5)
    assert upper.learned.qty == pytest.approx(1326, abs=45)
    assert upper.low < upper.learned.qty < upper.high
    assert upper.identified
    assert upper.to_accept
    assert upper.current == upper.default == Figure(1000, 200)
    assert upper.why[0].result.value == upper.learned.qty
    assert chained(upper.why)
    assert wash(generous, Arch.MANDIBULAR).observations == 0
    assert wash(generous, kind="reline").observations == 0


def test_an_undone_booking_teaches_nothing_any_more(generous: Clinic) -> None:
    booked = took(generous, "C-9", 1600 + TIP)
    assert wash(generous).observations == 5
    correcting.undo(generous.practice, booked.documents[-1], reason="wrong case", by=BY, request_key="undo")
    assert wash(generous).observations == 4


def test_an_amount_typed_tenfold_is_left_out_and_named(generous: Clinic) -> None:
    before = wash(generous).learned.qty
    took(generous, "C-9", 4800 + TIP)
    after = wash(generous)
    (far,) = after.left_out
    assert (far.case_ref, far.on, far.qty) == ("C-9", TODAY, 4800)
    assert after.learned.qty == before
    assert any("case C-9" in term.name for term in after.why[0].terms)


def test_what_is_learned_is_used_once_somebody_accepts_it(generous: Clinic) -> None:
    upper = wash(generous)
    accepted = learning.accept(generous.practice, upper.need_id, by=BY)
    assert accepted.current == upper.learned
    assert accepted.source is EstimateSource.LEARNED
    assert accepted.learned == upper.learned  # what was entered counts once: it starts from the default again
    form = laying_out.form(generous.practice, generous.plan("C-8").visit_id)
    line = next(each for each in form.lines if each.need_id == upper.need_id and each.kind is ItemKind.IMPRESSION)
    assert line.qty == upper.learned.qty + TIP
    with pytest.raises(AlreadyDone):
        learning.accept(generous.practice, upper.need_id, by=BY)


def test_without_an_observation_there_is_nothing_to_accept(clinic: Clinic) -> None:
    with pytest.raises(NotAllowed, match=r"Wash, upper: nothing was learned yet"):
        learning.accept(clinic.practice, wash(clinic).need_id, by=BY)


def test_a_pinned_figure_stays_whatever_is_learned_until_it_is_reset(generous: Clinic) -> None:
    number = wash(generous).need_id
    pinned = learning.pin(generous.practice, number, 1200, by=BY, reason="new spacers")
    assert pinned.current == pinned.pinned == Figure(1200, 240)  # the spread goes with the mean
    took(generous, "C-9", 1500 + TIP)
    assert wash(generous).current == Figure(1200, 240)
    assert wash(generous).observations == 5
    assert not wash(generous).to_accept
    with pytest.raises(NotAllowed):
        learning.accept(generous.practice, number, by=BY)
    back = learning.reset(generous.practice, number, by=BY, reason="old spacers again")
    assert back.current == back.default == Figure(1000, 200)
    assert back.pinned is None


def test_a_reset_forgets_what_was_entered_before_and_learns_anew(
    generous: Clinic,
) -> None:
    number = wash(generous).need_id
    assert learning.reset(generous.practice, number, by=BY, reason="new technique").observations == 0
    next_day = Clock(lambda: NOW + timedelta(days=1))
    afterwards = replace(generous, practice=replace(generous.practice, clock=next_day))
    took(afterwards, "C-9", 900 + TIP)
    assert wash(afterwards).observations == 1
    assert wash(afterwards).learned.qty < 1000


def test_who_decided_and_why_stands_in_the_log(generous: Clinic) -> None:
    number = wash(generous).need_id
    learning.pin(generous.practice, number, 1200, 150, by=BY, reason="new spacers")
    with generous.practice.reading() as desk:
        rows = [row for row in desk.session.execute(select(Change)).scalars() if row.subject == "estimate"]
        assert {(row.field, row.old, row.new) for row in rows} == {
            ("mean_qty", "1000", "1200"), ("sd_qty", "200", "150"), ("source", "default", "pinned"),
        }  # fmt: skip
        assert {(row.subject_id, row.reason) for row in rows} == {(str(number), "new spacers")}


def test_impossible_figures_unknown_needs_and_missing_reasons_are_refused(clinic: Clinic) -> None:
    number = wash(clinic).need_id
    for mean, spread in ((0, None), (-5, None), (1000, 3001), (1000, -1)):
        with pytest.raises(BadInput):
            learning.pin(clinic.practice, number, mean, spread, by=BY, reason="as told")
    with pytest.raises(BadInput):
        learning.pin(clinic.practice, number, 1000, by=BY, reason=" ")
    with pytest.raises(BadInput):
        learning.reset(clinic.practice, number, by=BY, reason="")
    with pytest.raises(NotFound):
        learning.reset(clinic.practice, 9999, by=BY, reason="as told")


@pytest.mark.parametrize(
    ("qty", "unit"), [(1500, 500), (1300, 100), (1390, 10), (1395, 1), (0, 500)], ids=["3t", "13", "13.9", "13.95", "0"]
)
def test_how_an_amount_was_read_is_taken_from_its_roundness(qty: int, unit: int) -> None:
    assert observing.reading_unit(qty, 5000) == unit
