"""What two counts of an article say: how much is gone, for which attempts, whoever booked what."""

from datetime import UTC, datetime, timedelta

import pytest

from inventory.domain.count_intervals import Attempt, Counted, Flow, intervals
from inventory.domain.learning import Count, Prior, learn

MONDAY = datetime(2026, 3, 2, 8, tzinfo=UTC)
WEEK, HOUR = timedelta(weeks=1), timedelta(hours=1)
TIP = 115  # 0.01 mL


def counted(week: int, qty: int) -> Counted:
    return Counted(Count(("HEAVY", week), 500), qty, MONDAY + week * WEEK)


def test_what_is_gone_is_what_was_there_and_came_less_what_is_left() -> None:
    counts = [counted(1, 30_000), counted(0, 20_000)]  # in any order
    delivery, thrown_away = Flow(20_000, MONDAY + HOUR), Flow(-5000, MONDAY + 2 * HOUR)
    upper, lower = Attempt("upper", TIP, MONDAY + HOUR), Attempt("lower", TIP, MONDAY + 3 * HOUR)
    (found,) = intervals(counts, [delivery, thrown_away], [upper, upper, lower], MONDAY + 3 * WEEK)
    assert found.taken == 20_000 + 20_000 - 5000 - 30_000
    assert found.attempts == {"upper": 2, "lower": 1}
    assert found.known == 3 * TIP
    assert found.age == 2
    assert (found.start.key, found.end.key) == (("HEAVY", 0), ("HEAVY", 1))


def test_an_amount_that_a_person_read_is_asked_for_no_more() -> None:
    read: Attempt[str] = Attempt(None, 2600, MONDAY + HOUR, variance=100**2 / 12)
    (found,) = intervals([counted(0, 20_000), counted(1, 17_000)], [], [read], MONDAY + WEEK)
    assert (found.attempts, found.known) == ({}, 2600)
    assert found.known_variance == pytest.approx(833.3, abs=0.1)


def test_what_happens_at_the_moment_of_a_count_lies_before_it() -> None:
    counts = [counted(week, 20_000) for week in range(3)]
    at_the_count = Attempt("upper", 0, MONDAY + WEEK)
    first, second = intervals(counts, [], [at_the_count], MONDAY + 2 * WEEK)
    assert first.attempts == {"upper": 1}
    assert second.attempts == {}
    assert intervals(counts[:1], [], [], MONDAY) == ()


def test_counts_that_agree_with_the_book_teach_too() -> None:
    """Twenty weeks with eight loads of 25 mL each, counted to a tenth of a cartridge: the default is confirmed."""
    counts = [counted(week, 500_000 - week * 20_000) for week in range(21)]
    loads = [Attempt("upper", 0, MONDAY + week * WEEK + HOUR) for week in range(20) for _ in range(8)]
    found = learn({"upper": Prior(2500, 500)}, intervals(counts, [], loads, MONDAY + 20 * WEEK)).needs["upper"]
    assert found.mean == pytest.approx(2500, abs=1)
    assert found.sd_of_mean < 60
    assert (found.intervals, found.attempts) == (20, 160)


def test_a_rest_thrown_away_is_no_proof_of_what_was_expected() -> None:
    """A cartridge of 50 mL serves two loads of 23 mL, not of the 20 expected; the book throws 10 mL away each time.

    Taken for known, those 10 mL would confirm the 20 mL for ever. As an unknown, up to the 17 mL of the least load,
    they leave room for the truth.
    """
    counts = [counted(week, 1_000_000 - week * 20_000) for week in range(21)]  # four cartridges a week
    days = [MONDAY + week * WEEK + HOUR for week in range(20)]
    loads = [Attempt("load", 0, day) for day in days for _ in range(8)]
    believed = {"load": Prior(2000, 400), "rest": Prior(850, 1700 / 12**0.5)}
    booked = intervals(counts, [Flow(-4 * 1000, day) for day in days], loads, MONDAY + 20 * WEEK)
    deceived = learn(believed, booked).needs["load"]
    assert (round(deceived.mean), deceived.high < 2200) == (2000, True)
    rests = [Attempt("rest", 0, day) for day in days for _ in range(4)]
    found = learn(believed, intervals(counts, [], [*loads, *rests], MONDAY + 20 * WEEK)).needs["load"]
    assert found.low < 2300 < found.high
    assert found.together is not None
    assert set(found.together.needs) == {"load", "rest"}
