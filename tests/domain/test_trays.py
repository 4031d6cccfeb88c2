"""Tray sizes: what the next patients take, the smallest stock that fits them, and how a size stands."""

from itertools import pairwise
from math import isclose

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.domain.trays import (
    Cases,
    Gain,
    SizeHeld,
    SizeOutlook,
    SizeWord,
    buy_next,
    chance_all_fitted,
    chance_by_cases,
    expected_take,
    learned_rate,
    learned_weights,
    never_used,
    shared,
    size_status,
    smallest_stock,
)
from inventory.errors import BadInput

MIX = SizeOutlook((3, 8, 6, 1.5))
UPPER = SizeOutlook((3, 8, 6, 1.5), try_in=0.2, retake=0.1)
LOWER = SizeOutlook((2, 9, 5, 0.7), try_in=0.3, retake=0.12)


def fitted(outlook: SizeOutlook, stock: tuple[int, ...], cases: int) -> float:
    return chance_by_cases(outlook, stock, cases)[cases]


# what is learned


def test_every_fitted_tray_adds_one_patient_to_the_prior() -> None:
    assert learned_weights((2, 5, 2.5, 0.5), (1, 3, 3, 1)) == (3, 8, 5.5, 1.5)


def test_without_a_prior_and_without_a_patient_every_size_counts_alike() -> None:
    assert learned_weights((0, 0, 0), (0, 0, 0)) == (1, 1, 1)
    assert learned_weights((0, 0, 0), (0, 2, 0)) == (0, 2, 0)


def test_a_learned_rate_moves_from_the_prior_to_what_was_seen() -> None:
    assert learned_rate(0.2, 10, events=0, chances=0) == 0.2
    assert isclose(learned_rate(0.2, 10, events=5, chances=10), 0.35)


@pytest.mark.parametrize(
    "figures",
    [
        {"weights": ()},
        {"weights": (0, 0)},
        {"weights": (1, -0.5)},
        {"weights": (1, 1), "try_in": 1.1},
        {"weights": (1, 1), "try_in": -0.1},
        {"weights": (1, 1), "retake": 1},
        {"weights": (1, 1), "retake": -0.1},
        {"weights": (1, 1), "known": (1,)},
    ],
)
def test_figures_that_are_no_chances_are_refused(figures: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"weights|chances|known"):
        SizeOutlook(**figures)  # type: ignore[arg-type]


# what visits take


def test_expected_takes_are_the_shares_of_the_sizes() -> None:
    assert expected_take(SizeOutlook((1, 2, 1)), 8) == (2, 4, 2)


def test_a_size_known_in_advance_is_taken_for_certain() -> None:
    assert expected_take(SizeOutlook((1, 2, 1), known=(0, 0, 3)), 8) == (2, 4, 5)


def test_a_retake_takes_the_size_again() -> None:
    assert expected_take(SizeOutlook((1, 2, 1), retake=0.2, known=(0, 0, 2)), 8) == (2.5, 5, 5)


def test_a_try_in_takes_a_neighbouring_size_and_at_the_end_of_the_run_the_only_one() -> None:
    takes = expected_take(SizeOutlook((1, 2, 1), try_in=0.5), 8)
    assert takes == (2 + 4 * 0.25, 4 + 2 * 0.5 + 2 * 0.5, 2 + 4 * 0.25)


def test_a_line_of_one_size_has_no_neighbour_to_try() -> None:
    only = SizeOutlook((5,), try_in=0.5)
    assert expected_take(only, 4) == (4,)
    assert fitted(only, (4,), 4) == 1


# the chance that all are fitted


def test_no_case_needs_no_tray() -> None:
    assert fitted(UPPER, (0, 0, 0, 0), 0) == 1


def test_one_case_is_fitted_when_its_size_is_there() -> None:
    assert isclose(fitted(MIX, (1, 0, 0, 0), 1), 3 / 18.5)


def test_fewer_trays_than_cases_never_fit_all() -> None:
    assert fitted(MIX, (1, 2, 1, 0), 5) == 0


def test_a_case_with_a_retake_needs_a_second_tray_of_its_size() -> None:
    retaken = SizeOutlook((1, 1), retake=0.25)
    assert isclose(fitted(retaken, (1, 1), 1), 0.75)
    assert isclose(fitted(retaken, (2, 2), 1), 1 - 0.25**2)


def test_a_case_with_a_try_in_needs_the_neighbour_too() -> None:
    tried = SizeOutlook((1, 1, 2), try_in=0.5)
    assert isclose(fitted(tried, (1, 0, 0), 1), 0.25 * 0.5)
    assert isclose(fitted(tried, (1, 1, 0), 1), 0.25 + 0.25 * (0.5 + 0.25))
    assert isclose(fitted(tried, (1, 1, 1), 1), 1)


def test_a_visit_of_known_size_needs_that_size_and_tries_no_other() -> None:
    known = SizeOutlook((1, 1, 1), try_in=0.5, known=(0, 2, 0))
    assert fitted(known, (0, 2, 0), 0) == 1
    assert fitted(known, (9, 1, 9), 0) == 0
    for try_in in (0.0, 0.5):
        retaken = SizeOutlook((1, 1, 1), try_in, retake=0.1, known=(0, 2, 0))
        assert isclose(fitted(retaken, (0, 2, 0), 0), 0.81)


def test_both_arches_of_a_case_are_needed_together() -> None:
    stocks = ((3, 5, 5, 3), (3, 6, 5, 2))
    each = [fitted(outlook, stock, 6) for outlook, stock in zip((UPPER, LOWER), stocks, strict=True)]
    assert isclose(chance_all_fitted((UPPER, LOWER), stocks, shared(6, 2)), each[0] * each[1])


def test_arches_are_multiplied_within_each_number_of_cases_and_mixed_afterwards() -> None:
    """With none or six cases the two arches stand or fall together; multiplying the mixtures would be wrong."""
    stocks = ((2, 3, 3, 1), (2, 3, 3, 1))
    six = [fitted(outlook, stock, 6) for outlook, stock in zip((UPPER, LOWER), stocks, strict=True)]
    joint = chance_all_fitted((UPPER, LOWER), stocks, shared([0.5, 0, 0, 0, 0, 0, 0.5], 2))
    assert isclose(joint, 0.5 + 0.5 * six[0] * six[1])
    assert joint > (0.5 + 0.5 * six[0]) * (0.5 + 0.5 * six[1]) + 0.1


def test_single_arch_cases_need_one_arch_only() -> None:
    cases: Cases = {(4, 2): 1.0}
    stocks = ((2, 4, 3, 1), (1, 2, 2, 0))
    assert isclose(
        chance_all_fitted((UPPER, LOWER), stocks, cases), fitted(UPPER, stocks[0], 4) * fitted(LOWER, stocks[1], 2)
    )


outlooks = st.builds(
    SizeOutlook,
    st.lists(st.sampled_from([0.3, 1.0, 2.5, 8.0]), min_size=2, max_size=3).map(tuple),
    try_in=st.sampled_from([0.0, 0.2, 0.5, 1.0]),
    retake=st.sampled_from([0.0, 0.1, 0.4]),
)


@st.composite
def outlooks_with_stock(draw: st.DrawFn) -> tuple[SizeOutlook, tuple[int, ...]]:
    outlook = draw(outlooks)
    return outlook, tuple(draw(st.integers(0, 6)) for _ in outlook.weights)


@given(outlooks_with_stock())
def test_chances_never_rise_with_cases_and_never_fall_with_trays(of_arch: tuple[SizeOutlook, tuple[int, ...]]) -> None:
    outlook, stock = of_arch
    chances = chance_by_cases(outlook, stock, 6)
    assert all(0 <= chance <= 1 for chance in chances)
    assert all(later <= earlier + 1e-12 for earlier, later in pairwise(chances))
    for size in range(len(stock)):
        more = chance_by_cases(outlook, (*stock[:size], stock[size] + 1, *stock[size + 1 :]), 6)
        assert all(high >= low - 1e-12 for low, high in zip(chances, more, strict=True))


@given(outlooks_with_stock())
def test_the_run_of_sizes_may_be_read_from_either_end(of_arch: tuple[SizeOutlook, tuple[int, ...]]) -> None:
    outlook, stock = of_arch
    turned = SizeOutlook(outlook.weights[::-1], outlook.try_in, outlook.retake)
    assert isclose(fitted(outlook, stock, 5), fitted(turned, stock[::-1], 5), abs_tol=1e-12)


@given(outlooks_with_stock(), st.integers(0, 8), st.integers(8, 20))
def test_the_chance_of_few_cases_does_not_depend_on_how_many_are_looked_at(
    of_arch: tuple[SizeOutlook, tuple[int, ...]], cases: int, most: int
) -> None:
    assert isclose(chance_by_cases(*of_arch, most)[cases], fitted(*of_arch, cases), abs_tol=1e-10)


@given(outlooks_with_stock())
def test_the_walk_without_try_ins_is_the_product(of_arch: tuple[SizeOutlook, tuple[int, ...]]) -> None:
    outlook = SizeOutlook(of_arch[0].weights, 0.0, of_arch[0].retake)
    nearly = SizeOutlook(outlook.weights, 1e-13, outlook.retake)
    assert isclose(fitted(outlook, of_arch[1], 5), fitted(nearly, of_arch[1], 5), abs_tol=1e-10)


# the smallest stock


def test_an_empty_calendar_needs_no_stock() -> None:
    assert smallest_stock([MIX], shared(0), 0.95).stocks == ((0, 0, 0, 0),)


def test_visits_of_known_size_only_need_just_those_trays() -> None:
    known = SizeOutlook((1, 1, 1), known=(0, 2, 1))
    assert smallest_stock([known], shared(0), 0.95).stocks == ((0, 2, 1),)


def test_trays_lost_to_try_ins_and_retakes_ask_for_more_stock() -> None:
    plain = smallest_stock([MIX], shared(6), 0.95)
    full = smallest_stock([UPPER], shared(6), 0.95)
    assert full.chance >= 0.95
    assert full.trays > plain.trays == 16


def test_both_arches_share_one_target() -> None:
    found = smallest_stock([UPPER, LOWER], shared(6, 2), 0.95)
    assert isclose(found.chance, chance_all_fitted([UPPER, LOWER], found.stocks, shared(6, 2)))
    assert found.chance >= 0.95


@pytest.mark.parametrize("target", [0, 1, -0.1, 0.99999])
def test_a_target_no_stock_can_reach_is_refused(target: float) -> None:
    with pytest.raises(BadInput, match="target"):
        smallest_stock([MIX], shared(6), target)


@settings(max_examples=20)
@given(outlooks, st.integers(0, 5), st.sampled_from([0.5, 0.9, 0.95]))
def test_no_single_tray_of_the_smallest_stock_can_be_missed(outlook: SizeOutlook, cases: int, target: float) -> None:
    found = smallest_stock([outlook], shared(cases), target)
    assert found.chance >= target
    (stock,) = found.stocks
    for size, have in enumerate(stock):
        if have:
            fewer = (*stock[:size], have - 1, *stock[size + 1 :])
            assert fitted(outlook, fewer, cases) < target


# what to buy next


def test_where_several_booked_visits_lack_their_size_that_size_is_bought_first() -> None:
    """One more tray leaves the chance at nothing; it is the way there all the same."""
    booked = SizeOutlook((3, 8, 6, 1.5), known=(0, 0, 0, 3))
    for there in (0, 1, 2):
        assert buy_next([booked], ((4, 4, 4, there),), shared(2))[0].size == 3
    assert buy_next([booked, MIX], ((4, 4, 4, 0), (0, 4, 4, 4)), shared(2, 2))[0] == Gain(0, 3, 0)


def test_the_tray_to_buy_next_is_the_one_that_helps_most() -> None:
    best, *others = buy_next([MIX], ((3, 2, 5, 3),), shared(6))
    assert (best.arch, best.size) == (0, 1)
    assert isclose(best.chance, fitted(MIX, (3, 3, 5, 3), 6))
    assert all(best.chance >= other.chance for other in others)
    assert {gain.size for gain in (best, *others)} == {0, 1, 2, 3}


def test_with_far_too_few_trays_it_still_names_the_commonest_size() -> None:
    assert buy_next([MIX], ((0, 0, 0, 0),), shared(6))[0] == Gain(0, 1, 0)


def test_it_looks_at_both_arches() -> None:
    assert buy_next([UPPER, LOWER], ((9, 9, 9, 9), (4, 0, 4, 2)), shared(6, 2))[0].arch == 1


# how a size stands


@pytest.mark.parametrize(
    ("figures", "word", "reason"),
    [
        ((0, 0, 1.2, 3), SizeWord.NONE, "none available, booked visits need about 1.2, target 3"),
        ((0, 2, 0, 1), SizeWord.NONE, "none available, 2 away, target 1"),
        ((0, 0, 0.3, 0), SizeWord.NONE, "none available, booked visits need about 0.3"),
        ((2, 0, 2.5, 3), SizeWord.SHORT, "2 available, booked visits need about 2.5, target 3"),
        ((2, 1, 1.4, 3), SizeWord.LOW, "2 available, 1 away, booked visits need about 1.4, target 3"),
        ((2, 0, 2.0, 2), SizeWord.ENOUGH, "2 available, booked visits need about 2.0, target 2"),
        ((3, 0, 1.4, 3), SizeWord.ENOUGH, "3 available, booked visits need about 1.4, target 3"),
        ((0, 0, 0, 0), SizeWord.ENOUGH, "none available, none needed"),
        ((4, 1, 0, 0), SizeWord.ENOUGH, "4 available, 1 away, none needed"),
    ],
)
def test_a_size_is_said_in_words_with_its_reason(
    figures: tuple[int, int, float, int], word: SizeWord, reason: str
) -> None:
    status = size_status(*figures)
    assert (status.word, status.reason) == (word, reason)


def test_money_lies_in_sizes_that_were_never_taken() -> None:
    held = [SizeHeld(1, 4, 600, taken=0), SizeHeld(2, 9, 900, taken=1), SizeHeld(3, 5, 750, 0), SizeHeld(4, 0, 0, 0)]
    assert [(size.item_id, size.cents) for size in never_used(held)] == [(3, 750), (1, 600)]
