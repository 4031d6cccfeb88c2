"""What to count how often: by what a year's use costs and by need; what is due is one gentle line of the week."""

from dataclasses import replace
from datetime import timedelta

import pytest

from inventory.domain.abc_classes import Category, Value
from inventory.domain.alerts import Action, AlertKind
from inventory.domain.vocabulary import Criticality
from inventory.domain.why import chained
from inventory.errors import BadInput, NotFound
from inventory.service import catalogue, correcting, count_review, counting, moving, setting_up, weekly_check
from inventory.service.clock import Clock
from inventory.service.count_shelves import Scope
from inventory.service.item_classes import ItemClass, item_classes, set_counting
from inventory.service.moving import Slip
from inventory.service.practice import Practice
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, NOW, SUPPLIER, TODAY, box


def later(clinic: Clinic, **time: int) -> Clinic:
    """The same practice some time on."""
    now = NOW + timedelta(**time)
    return replace(clinic, practice=Practice(clinic.practice.store, Clock(lambda: now)))


def of(clinic: Clinic, code: str) -> ItemClass:
    return next(line for line in item_classes(clinic.practice).lines if line.code == code)


def due(clinic: Clinic) -> set[str]:
    return {line.code for line in item_classes(clinic.practice).due}


def counted(clinic: Clinic, *codes: str) -> int:
    """Count items in a round, as the book has them, and approve it."""
    round_id = counting.start(clinic.practice, Scope(items=codes), blind=False, by=BY).round_id
    for line in counting.sheet(clinic.practice, round_id).lines:
        counting.record(clinic.practice, round_id, line.key, str((line.expected_qty or 0) // line.unit_qty), by=BY)
    count_review.approve(clinic.practice, round_id, by=BY, request_key=clinic.key())
    return round_id


def test_items_are_classed_by_what_their_use_of_a_year_cost(clinic: Clinic) -> None:
    catalogue.add_supplier(clinic.practice, SUPPLIER, by=BY)
    for code, cents in (("HEAVY-A", 30_000), ("LIGHT-A", 3000)):
        catalogue.save_supply(clinic.practice, box(code, pack_cents=cents), by=BY)
    clinic.book(clinic.plan())
    heavy, light, bite = (of(clinic, code) for code in ("HEAVY-A", "LIGHT-A", "BITE"))
    # 42 mL of load and 17 of wash, 2.3 of each in tips, at 3.00 and 0.30 a mL
    assert (heavy.classed.item.cents, light.classed.item.cents) == (13_290, 579)
    assert [one.classed.value for one in (heavy, light, bite)] == [Value.A, Value.C, Value.C]
    assert bite.unpriced > 0
    assert chained(heavy.classed.why)
    assert of(later(clinic, days=365), "HEAVY-A").classed.item.cents == 0  # out of the year that is looked at


def test_an_item_is_due_when_it_was_not_counted_for_longer_than_its_weeks(clinic: Clinic) -> None:
    set_counting(clinic.practice, "LIGHT-A", criticality=Criticality.VITAL, by=BY)
    set_counting(clinic.practice, "BAG", criticality=Criticality.NORMAL, weeks=2, by=BY, reason="they vanish")
    assert due(later(clinic, weeks=2)) == set()
    assert due(later(clinic, weeks=2, days=1)) == {"BAG"}
    assert due(later(clinic, weeks=4, days=1)) == {"BAG", "LIGHT-A"}
    assert "POWDER" not in due(later(clinic, weeks=14))  # there is none
    counted(later(clinic, weeks=4), "LIGHT-A")  # a count that agrees with the book counts too
    assert due(later(clinic, weeks=8)) == {"BAG"}
    assert of(clinic, "LIGHT-A").last_counted == TODAY + timedelta(weeks=4)


def test_a_correction_is_a_count_until_it_is_undone_and_stock_found_for_a_visit_is_none(clinic: Clinic) -> None:
    sealed = counting.sheet(
        clinic.practice, counting.start(clinic.practice, Scope(items=("BAG",)), by=BY).round_id
    ).lines[0]
    fixed = moving.correct_count(
        clinic.practice, int(sealed.key), 40, Slip(clinic.key(), BY, reason="counted"), book_said=None
    )
    assert of(clinic, "BAG").last_counted == TODAY
    assert fixed.document_id is not None
    correcting.undo(clinic.practice, fixed.document_id, reason="other box", by=BY, request_key="undo")
    assert of(clinic, "BAG").last_counted is None


def test_the_practice_s_own_judgement_decides_and_can_be_taken_back(clinic: Clinic) -> None:
    line = set_counting(clinic.practice, "BAG", criticality=Criticality.NORMAL, by=BY)
    assert (line.classed.category, line.classed.weeks) == (Category.III, 26)
    assert set_counting(clinic.practice, "BAG", weeks=6, by=BY).classed.own
    assert set_counting(clinic.practice, "BAG", usual=True, by=BY).classed.weeks == 26
    setting_up.change_settings(clinic.practice, {"count_weeks": {"I": 1, "II": 2, "III": 3}}, by=BY)
    assert of(clinic, "BAG").classed.weeks == 3
    with pytest.raises(BadInput):
        set_counting(clinic.practice, "BAG", weeks=0, by=BY)
    with pytest.raises(NotFound):
        set_counting(clinic.practice, "NONE", weeks=4, by=BY)


def test_the_week_has_one_line_for_all_that_is_due_with_its_arithmetic(clinic: Clinic) -> None:
    assert not [line for line in weekly_check.weekly_check(clinic.practice).lines if line.kind is AlertKind.COUNT_DUE]
    on = later(clinic, weeks=13, days=3)
    (line,) = [one for one in weekly_check.weekly_check(on.practice).lines if one.kind is AlertKind.COUNT_DUE]
    assert line.subject == "8 items to count"
    assert line.what.endswith("and 5 more")
    assert (line.action, line.due) == (Action.COUNT, TODAY + timedelta(weeks=13))
    assert [each.result.value for each in line.why] == [3] * 3
    assert chained(line.why)
