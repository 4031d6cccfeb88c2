"""Colleagues who book visits out at the same moment, from the same opened cartridges: each visit once, nothing lost."""

from contextlib import closing
from itertools import count

from inventory.domain.vocabulary import VisitState
from inventory.errors import AlreadyDone, Conflict, NeedsConfirmation
from inventory.service import booking, laying_out, tracing, visits
from inventory.service.practice import Practice
from inventory.service.verifying import verify
from inventory.store.engine import open_store
from tests.clinic import FAR, MATERIALS, Clinic, as_expected
from tests.service.catalogue_samples import BY, TODAY, new_clock
from tests.several import at_once

COLLEAGUES, EACH = 3, 3
OFTEN = 30


def book_all(url: str, name: str, visit_ids: list[int]) -> int:
    """Book visits as expected; whoever comes too late looks again. Counts how often that was."""
    practice = Practice(open_store(url), new_clock(TODAY))
    late = 0
    with closing(practice.store):
        for visit_id in visit_ids:
            for attempt in range(OFTEN):
                request = as_expected(laying_out.form(practice, visit_id))
                try:
                    booking.book_out(practice, request, by=BY, request_key=f"{name}-{visit_id}-{attempt}")
                except (Conflict, NeedsConfirmation):  # a colleague took what the form had proposed
                    late += 1
                else:
                    break
    return late


def test_visits_booked_from_the_same_cartridges_at_the_same_moment_lose_nothing(store_url: str) -> None:
    with closing(open_store(store_url)) as store:
        clinic = Clinic.stocked(store)
        for code in MATERIALS:
            clinic.lot(code, f"{code}-2", 12, use_by=FAR)
        for code in ("T1-UM", "T1-LM"):
            clinic.lot(code, f"{code}-2", 9)
        planned = [clinic.plan(f"C-{number}").visit_id for number in range(COLLEAGUES * EACH)]
        before = {code: clinic.left(code) for code in MATERIALS}
        at_once(book_all, [(store_url, f"w{n}", planned[n::COLLEAGUES]) for n in range(COLLEAGUES)])
        assert {visits.one(clinic.practice, visit).state for visit in planned} == {VisitState.DONE}
        assert verify(clinic.practice).findings == ()
        for code in MATERIALS:
            used = [
                sum(use.qty for use in tracing.case_lots(clinic.practice, f"C-{number}") if use.item_code == code)
                for number in range(len(planned))
            ]
            assert len(set(used)) == 1  # every visit took the same
            assert before[code] - clinic.left(code) == sum(used) > 0


def book_one(url: str, name: str, visit_id: int) -> str:
    practice = Practice(open_store(url), new_clock(TODAY))
    with closing(practice.store):
        request = as_expected(laying_out.form(practice, visit_id))
        try:
            booking.book_out(practice, request, by=BY, request_key=name)
        except AlreadyDone:
            return "a colleague was faster"
        except (Conflict, NeedsConfirmation):
            return "the stock changed"
    return "booked"


def test_of_several_who_book_the_same_visit_one_does(store_url: str) -> None:
    with closing(open_store(store_url)) as store:
        clinic = Clinic.stocked(store)
        numbers = count()
        for _ in range(3):
            visit = clinic.plan(f"C-{next(numbers)}").visit_id
            left = clinic.left("BITE")
            said = at_once(book_one, [(store_url, f"w{next(numbers)}", visit) for _ in range(COLLEAGUES)])
            assert said.count("booked") == 1
            lots = tracing.case_lots(clinic.practice, visits.one(clinic.practice, visit).case_ref)
            assert left - clinic.left("BITE") == sum(use.qty for use in lots if use.item_code == "BITE") > 0
        assert verify(clinic.practice).findings == ()
