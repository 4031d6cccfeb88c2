"""What rounds of counting teach: visits booked as the form has them, while the shelf says that a step takes more."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import count
from typing import Any

import pytest
from sqlalchemy import select
from sqlmodel import col

from inventory.domain.vocabulary import Arch, CountMethod
from inventory.domain.why import chained
from inventory.service import correcting, learning, moving, setting_up
from inventory.service.booking import Booked
from inventory.service.clock import Clock
from inventory.service.learning import Figure, Learned
from inventory.service.moving import Slip
from inventory.service.practice import Practice
from inventory.store.engine import Store
from inventory.store.queries import stock
from inventory.store.tables import CountLine, CountRound, Item
from tests.clinic import FAR, Clinic
from tests.service.catalogue_samples import BY, NOW, TODAY
from tests.service.conftest import copied
from tests.stores import NewStores

UPPER, LOWER = Arch.MAXILLARY, Arch.MANDIBULAR
WEEK, DAY = timedelta(weeks=1), timedelta(days=1)
TIP = 115  # what a tip keeps and its purge, 0.01 mL
TRUE = {UPPER: 1400, LOWER: 700}  # a wash takes; the form expects 10 mL and 7 mL
BOTH = (UPPER, LOWER)
WEEKS = ((UPPER,), (LOWER,), (UPPER,), BOTH, BOTH, BOTH)
VISITS = 2  # a week
SHELF = 150_000
LAST = len(WEEKS)


def at(clinic: Clinic, moment: datetime) -> Clinic:
    return replace(clinic, practice=Practice(clinic.practice.store, Clock(lambda: moment)))


def counted(clinic: Clinic, qty: int, moment: datetime, *, without: int = 0) -> None:
    """Keep a round that read all of the wash material but for some shelves, to a tenth of a cartridge."""
    with clinic.practice.writing() as desk:
        item = desk.session.execute(select(Item).where(col(Item.code) == "LIGHT-A")).scalar_one()
        round_id = desk.add(
            CountRound(state="approved", started_at=moment, approved_at=moment, person_id=desk.person(BY))
        )
        stands = stock.stands(desk.session, [item.id or 0])
        for number, one in enumerate(stands[without:]):
            opened = one.opened_on is not None
            desk.add(
                CountLine(
                    count_round_id=round_id, lot_id=one.lot_id, place_id=one.place_id, opened_on=one.opened_on,
                    holding_id=one.holding_id, method=CountMethod.TENTHS if opened else CountMethod.UNITS, reading=0,
                    reading_unit_qty=500 if opened else 5000, counted_qty=qty if number == 0 else 0,
                    counted_at=moment, person_id=desk.person(BY),
                )
            )  # fmt: skip


def book(clinic: Clinic, case_ref: str, week: int, arches: tuple[Arch, ...] = BOTH) -> Booked:
    """Book a visit as the form has it, on the day after the count that a week begins with."""
    then = at(clinic, NOW + week * WEEK + DAY)
    known: dict[str, Any] = {"case_kind": "reline", "upper_size": None, "lower_size": None}
    known |= {"upper": UPPER in arches, "lower": LOWER in arches}
    return then.book(then.plan(case_ref, TODAY + week * WEEK + DAY, **known))


def left_at_last() -> int:
    """What the last count found, in the unit of its reading."""
    taken = sum(VISITS * (TRUE[arch] + TIP) for arches in WEEKS for arch in arches)
    return (SHELF - taken) // 500 * 500


def weeks_of_counts(store: Store) -> None:
    """A count every Wednesday, and between two of them visits of which the shelf knows what they really took."""
    clinic = Clinic.stocked(store)
    clinic.lot("LIGHT-A", "LIGHT-A-2", 26, use_by=FAR)
    left = SHELF
    counted(clinic, left, NOW)
    for week, arches in enumerate(WEEKS):
        for number in range(VISITS):
            book(clinic, f"C-{week}-{number}", week, arches)
            left -= sum(TRUE[arch] + TIP for arch in arches)
        counted(at(clinic, NOW + (week + 1) * WEEK), left // 500 * 500, NOW + (week + 1) * WEEK)


@pytest.fixture
def counting(new_stores: NewStores) -> Iterator[Clinic]:
    """Give a clinic that counted its wash material every week, on the day of its last count."""
    with copied(new_stores, "weeks-of-counts", weeks_of_counts) as store:
        yield Clinic(Practice(store, Clock(lambda: NOW + LAST * WEEK)), count(1000))


def wash(clinic: Clinic, arch: Arch) -> Learned:
    return next(
        each
        for each in learning.learned(clinic.practice)
        if (each.case_kind, each.step, each.arch) == ("reline", "wash", arch)
    )


def test_counts_teach_what_a_step_really_takes_although_every_form_was_booked_as_it_stood(counting: Clinic) -> None:
    upper, lower = wash(counting, UPPER), wash(counting, LOWER)
    assert (upper.counts, upper.attempts, upper.entered) == (5, 5 * VISITS, 0)
    assert upper.learned.qty == pytest.approx(TRUE[UPPER], abs=100)
    assert lower.learned.qty == pytest.approx(TRUE[LOWER], abs=100)
    assert upper.low <= TRUE[UPPER] <= upper.high
    assert upper.default == upper.current == Figure(1000, 200)
    assert upper.identified
    assert upper.to_accept
    assert chained(upper.why)
    assert learning.accept(counting.practice, upper.need_id, by=BY).current == upper.learned


def test_a_wild_count_is_left_out_named_and_moves_hardly_anything(counting: Clinic) -> None:
    before = wash(counting, UPPER).learned.qty
    moment = NOW + (LAST + 1) * WEEK
    book(counting, "C-99", LAST)
    after = at(counting, moment)
    counted(after, 10 * SHELF, moment)
    told = wash(after, UPPER)
    (far,) = told.far_counts
    assert (far.item, far.since, far.until) == ("Light body A, fast", TODAY + LAST * WEEK, TODAY + (LAST + 1) * WEEK)
    assert far.gone < 0 < far.expected
    assert any("Light body A, fast counted" in term.name for term in told.why[0].terms)
    assert told.learned.qty == pytest.approx(before, abs=2)


def test_a_count_that_missed_a_shelf_says_nothing(counting: Clinic) -> None:
    moment = NOW + (LAST + 1) * WEEK
    counted(at(counting, moment), 10 * SHELF, moment, without=1)
    assert wash(at(counting, moment), UPPER).far_counts == ()


def test_an_undone_visit_is_no_attempt(counting: Clinic) -> None:
    day = TODAY + (LAST - 1) * WEEK + DAY
    late = replace(counting, practice=Practice(counting.practice.store, Clock(lambda: NOW + LAST * WEEK, day=day)))
    booked = late.book(late.plan("C-99", day, case_kind="reline", upper_size=None, lower_size=None))
    assert wash(counting, UPPER).far_counts  # a visit of which the shelf knows nothing
    correcting.undo(counting.practice, booked.documents[-1], reason="other case", by=BY, request_key="undo")
    upper = wash(counting, UPPER)
    assert (upper.far_counts, upper.attempts) == ((), 5 * VISITS)


def test_a_reset_forgets_what_counts_said_of_that_step_and_of_no_other(counting: Clinic) -> None:
    before = wash(counting, LOWER).learned.qty
    back = learning.reset(counting.practice, wash(counting, UPPER).need_id, by=BY, reason="new technique")
    assert (back.counts, back.learned) == (0, Figure(1000, 200))
    assert wash(counting, LOWER).learned.qty == pytest.approx(before, abs=30)


def test_nothing_is_learned_from_before_the_last_big_change_and_arches_always_together_are_known_in_sum(
    counting: Clinic,
) -> None:
    """In the last three weeks every visit took both arches."""
    day = (TODAY + 3 * WEEK).isoformat()
    setting_up.change_settings(counting.practice, {"practice_changed_on": day}, by=BY)
    upper, lower = wash(counting, UPPER), wash(counting, LOWER)
    assert (upper.counts, lower.counts) == (3, 3)
    assert upper.together is not None
    assert set(upper.together.needs) == {upper.need_id, lower.need_id}
    assert upper.together.qty == pytest.approx(TRUE[UPPER] + TRUE[LOWER], abs=100)
    assert not upper.identified
    assert not upper.together.rests
    assert ("asked were the last", 21) in {(term.name, term.value) for term in upper.why[0].terms}


def test_a_rest_written_off_is_one_more_unknown(counting: Clinic) -> None:
    """What the book believes to be left is the form's own expectation; what was really thrown away nobody weighed."""
    before = wash(counting, UPPER)
    moment, gone = NOW + (LAST + 1) * WEEK, SHELF - left_at_last()
    book(counting, "C-99", LAST)
    with counting.practice.reading() as desk:
        light = desk.session.execute(select(Item).where(col(Item.code) == "LIGHT-A")).scalar_one()
        rest = next(one for one in stock.stands(desk.session, [light.id or 0]) if one.opened_on is not None)
    moving.write_off_rest(at(counting, moment - DAY).practice, rest.holding_id, Slip("rest", BY))
    taken = sum(TRUE[arch] + TIP for arch in BOTH)
    counted(at(counting, moment), SHELF - gone - taken - 300, moment)  # 3 mL were thrown away, whatever the book says
    after = wash(at(counting, moment), UPPER)
    assert (after.counts, after.far_counts) == (6, ())
    assert after.learned.qty == pytest.approx(before.learned.qty, abs=40)
