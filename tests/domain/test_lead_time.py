"""How long a supplier really takes: what it states, corrected by what its deliveries have shown."""

import statistics
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.lead_time import PRIOR_ORDERS, LeadTime, learn_lead_time

DAYS = st.integers(0, 60)


def test_without_a_delivery_the_supplier_is_believed_and_shows_no_spread() -> None:
    assert learn_lead_time(7, []) == LeadTime(7, 0.0, 0)


def test_one_late_delivery_shifts_the_days_by_a_fifth_of_its_lateness() -> None:
    """Four orders of 7 days and one of 17: mean 45 / 5 = 9, variance (4 x 4 + 64) / 5 = 16 (computed from the rule)."""
    assert learn_lead_time(7, [17]) == LeadTime(9, 4.0, 1)


def test_what_is_known_of_it_is_said_with_how_it_is_known() -> None:
    assert LeadTime(1).words == "takes 1 day, as it says itself"
    assert LeadTime(9, 3.5, 6).words == "takes 9 days give or take 4, learned from 6 orders that came"


def test_many_deliveries_outweigh_what_the_supplier_states() -> None:
    shown = [8, 10, 12] * 40
    learned = learn_lead_time(3, shown)
    assert learned.days == 10
    assert learned.sd_days == pytest.approx(statistics.pstdev(shown), abs=0.4)


def test_an_order_is_overdue_once_it_is_later_than_the_usual_spread() -> None:
    assert LeadTime(7, 1.2, 5).overdue_after(date(2026, 3, 2)) == date(2026, 3, 4)
    assert LeadTime(7).overdue_after(date(2026, 3, 2)) == date(2026, 3, 2)


@given(DAYS, st.lists(DAYS, max_size=12))
def test_the_days_lie_between_what_is_stated_and_what_was_seen(stated: int, shown: list[int]) -> None:
    learned = learn_lead_time(stated, shown)
    known = [stated] * PRIOR_ORDERS + shown
    assert min(known) <= learned.days <= max(known)
    assert learned.sd_days == pytest.approx(statistics.pstdev(known))
