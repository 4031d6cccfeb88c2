"""Whether booked visits can be done, with what to order by when, and what is laid out for a day."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from inventory.domain.readiness import Answer
from inventory.domain.supply import Coming
from inventory.domain.vocabulary import Arch
from inventory.service import catalogue, forecasting, laying_out, readiness, setting_up, size_mix
from inventory.service.forecasting import Picture
from inventory.service.practice import Desk
from inventory.service.readiness import Readiness
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, SUPPLIER, TODAY, TRAY, box


def day(n: int) -> date:
    return TODAY + timedelta(days=n)


def seen(clinic: Clinic, *coming: tuple[str, int, int]) -> tuple[Readiness, ...]:
    """How visits stand with some deliveries on their way: item code, base units, days until they arrive."""
    with clinic.practice.reading() as desk:
        numbers = {item.code: item.id or 0 for item in clinic.items(desk)}
        orders = tuple(Coming(numbers[code], qty, day(n), "12") for code, qty, n in coming)
        picture = replace(forecasting.picture(desk), coming=orders)
        return readiness.readiness_of(desk, picture, day(14))


def buy(clinic: Clinic, *codes: str, weekdays: tuple[int, ...] = ()) -> None:
    catalogue.add_supplier(clinic.practice, replace(SUPPLIER, order_weekdays=weekdays), by=BY)
    for code in codes:
        catalogue.save_supply(clinic.practice, box(code), by=BY)


def test_a_short_visit_says_of_what_how_much_and_by_when_to_order(clinic: Clinic) -> None:
    buy(clinic, "T1-UM", weekdays=(1, 4))
    clinic.lot("HEAVY-A", "more", 10)
    for n in range(7):
        clinic.plan(f"C-{n}", on=day(10), lower=False)
    late = seen(clinic)[5]
    assert late.answer is Answer.SHORT
    # three days of lead time before Saturday the 20th is Wednesday; orders are taken on Mondays and Thursdays
    assert late.missing == ("short of Tray, Line 1, upper M (1 pcs), order by 2027-03-15",)
    assert late.lacks[0].supplier == SUPPLIER.name


def test_it_says_plainly_when_it_is_too_late_to_order_and_when_nobody_sells_it(clinic: Clinic) -> None:
    buy(clinic, "T1-UM")
    clinic.lot("HEAVY-A", "more", 10)
    clinic.lot("LIGHT-A", "more", 10)
    for n in range(6):
        clinic.plan(f"C-{n}", on=day(2))
    (short,) = (one for one in seen(clinic) if not one.ready)
    assert short.missing == (
        "short of Tray, Line 1, upper M (1 pcs), too late to order (by 2027-03-09)",
        "short of Tray, Line 1, lower M (1 pcs), no supplier is set",
    )


def test_a_visit_that_a_delivery_makes_ready_says_which_and_by_when(clinic: Clinic) -> None:
    clinic.lot("HEAVY-A", "more", 10)
    for n in range(6):
        clinic.plan(f"C-{n}", on=day(5), lower=False)
    last = seen(clinic, ("T1-UM", 2, 4))[-1]
    assert (last.answer, last.ready, last.missing) == (Answer.IF, True, ())
    assert last.notes == ("ready if order 12 arrives by 2027-03-14: Tray, Line 1, upper M",)
    assert seen(clinic, ("T1-UM", 2, 6))[-1].answer is Answer.SHORT


def test_a_tray_of_unknown_size_is_a_matter_of_chance_and_short_below_the_target(clinic: Clinic) -> None:
    clinic.plan("C-1", on=day(1), upper_size=None, lower=False)
    (one,) = seen(clinic)
    assert one.answer is Answer.SHORT  # of four sizes only M and L are there
    assert 40 < one.chances[0].percent < 90
    assert one.notes == (f"upper tray size unknown: {one.chances[0].percent} of 100",)
    assert "size unknown" in one.missing[0]
    setting_up.change_settings(clinic.practice, {"tray_target_percent": 40}, by=BY)
    assert seen(clinic)[0].answer is Answer.READY


def test_a_delivery_of_the_missing_sizes_makes_an_unknown_size_ready(clinic: Clinic) -> None:
    for size in ("S", "XL"):
        tray = replace(TRAY, code=f"T1-U{size}", name=f"Tray, Line 1, upper {size}", tray_size=size)
        catalogue.add_item(clinic.practice, tray, by=BY)
    clinic.plan("C-1", on=day(5), upper_size=None, lower=False)
    (one,) = seen(clinic, ("T1-US", 2, 3), ("T1-UXL", 2, 3))
    assert one.answer is Answer.IF
    assert one.chances[0].percent == 95  # S, M and L; XL, the last twentieth, is not waited for
    assert one.notes[0] == "ready if order 12 arrives by 2027-03-13: Tray, Line 1, upper S"


def test_reusable_trays_come_back_and_are_not_used_up_by_the_visits_before(clinic: Clinic) -> None:
    with clinic.practice.reading() as desk:
        mix = size_mix.read(desk, forecasting.picture(desk))
    run = mix.runs["Line 1", Arch.MAXILLARY]
    visits = [day(0), day(3), day(10), day(11)]
    assert mix.together(run, visits) == 4
    assert mix.together(replace(run, reusable=True), visits) == 2  # a week away


def test_new_trays_at_retakes_and_trays_tried_in_vain_are_learned_by_arch(clinic: Clinic) -> None:
    clinic.book(clinic.plan("C-1"))
    with clinic.practice.reading() as desk:
        rates = size_mix.read(desk, forecasting.picture(desk)).rates
    upper = rates["retake", Arch.MAXILLARY]
    assert (upper.seen, upper.chances, upper.rate) == (0, 1, 1 / 21)  # .05 believed as if seen in twenty trays


def test_visits_laid_out_for_a_day_leave_to_those_before_them_what_these_need(clinic: Clinic) -> None:
    for n in range(5):
        clinic.plan(f"C-{n}", on=day(0))
    clinic.plan("C-9", on=day(1))
    (form,) = laying_out.lay_out(clinic.practice)
    assert {line.item for line in form.lines if line.missing} >= {"Tray, Line 1, upper M", "Tray, Line 1, lower M"}


def test_two_operatories_do_not_lay_out_the_same_bag_of_the_store_room(clinic: Clinic) -> None:
    clinic.lot("POWDER", "one bag", 1, place="store room")
    for n in (1, 2):
        clinic.plan(f"C-{n}", on=day(1), case_kind="preliminary", place=f"operatory {n}", lower=False)
    first, second = laying_out.lay_out(clinic.practice)
    assert [line.opens for line in first.lines if line.item_code == "POWDER"] == [True]
    assert [line.missing for line in second.lines if line.item_code == "POWDER"] == [2400]


@pytest.mark.parametrize(
    ("arrives", "said"), [(3, "arrives only on 2027-03-13 (order 12)"), (1, "due 2027-03-11 (order 12)")]
)
def test_what_is_missing_on_a_lay_out_list_says_when_it_comes(
    clinic: Clinic, monkeypatch: pytest.MonkeyPatch, arrives: int, said: str
) -> None:
    clinic.plan("C-1", on=day(1), case_kind="preliminary", lower=False)
    read = forecasting.picture

    def with_an_order(desk: Desk) -> Picture:
        picture = read(desk)
        powder = next(number for number, item in picture.items.items() if item.code == "POWDER")
        return replace(picture, coming=(Coming(powder, 50_000, day(arrives), "12"),))

    monkeypatch.setattr(forecasting, "picture", with_an_order)
    (form,) = laying_out.lay_out(clinic.practice)
    assert any(warning.endswith(f"24 g missing; on order, {said}.") for warning in form.warnings), form.warnings
