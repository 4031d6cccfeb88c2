"""What steps really take, learned from counts and entered amounts: facts that hold for any practice."""

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.domain.learning import (
    TOO_FAR,
    Count,
    Entered,
    Interval,
    Learning,
    Prior,
    deleted_residuals,
    learn,
    posterior,
)

CARTRIDGE = 5000  # 0.01 mL
LOAD_UPPER, LOAD_LOWER = Prior(2500, 500), Prior(1700, 300)
BOTH = {"upper": LOAD_UPPER, "lower": LOAD_LOWER}
EXACT = 1  # a count to 0.01 mL


def chain(
    taken: Sequence[tuple[int, Mapping[str, int]]], unit: int = EXACT, *, ages: Sequence[float] = ()
) -> list[Interval[str]]:
    """Intervals one after the other, each with what was gone and the attempts."""
    return [
        Interval(Count(at, unit), Count(at + 1, unit), gone, attempts, age=ages[at] if ages else 0.0)
        for at, (gone, attempts) in enumerate(taken)
    ]


def by_hand(prior: Prior, values: Sequence[float], variance: float) -> tuple[float, float]:
    """Posterior of one normal mean with known variance: precisions add up (a textbook's conjugate case)."""
    precision = 1 / prior.variance + len(values) / variance
    return (prior.mean / prior.variance + sum(values) / variance) / precision, 1 / precision


def test_without_an_observation_the_default_stands() -> None:
    learned = learn(BOTH).needs["upper"]
    assert (learned.mean, learned.sd, learned.observations) == (2500, 500, 0)
    assert learned.low == pytest.approx(2500 - 1.645 * 500, abs=1)
    assert learned.together is None
    assert learned.weight == 1


def test_a_default_that_counts_for_one_case_goes_half_way_to_the_first_amount_entered() -> None:
    learned = learn({"upper": LOAD_UPPER}, entered=[Entered("upper", 2900, 10)]).needs["upper"]
    assert learned.mean == pytest.approx(2700, abs=15)  # not quite: a larger mean has a larger spread
    assert learned.entered == 1


def test_a_default_of_more_weight_gives_way_more_slowly() -> None:
    heavy = learn({"upper": Prior(2500, 500, 9)}, entered=[Entered("upper", 2900, 10)]).needs["upper"]
    assert heavy.mean == pytest.approx(2540, abs=3)


def test_amounts_entered_are_averaged_with_the_default_by_their_precisions() -> None:
    amounts = [2600, 2800, 3000, 2700]
    learned = learn({"upper": LOAD_UPPER}, entered=[Entered("upper", each, 100, each) for each in amounts])
    found = learned.needs["upper"]
    noise = (0.2 * found.mean) ** 2 + 100**2 / 12 + 1 / 6
    mean, variance = by_hand(LOAD_UPPER, amounts, noise)
    assert found.mean == pytest.approx(mean, rel=1e-5)
    assert found.sd_of_mean == pytest.approx(math.sqrt(variance), rel=1e-4)


def test_what_stays_in_tips_and_is_purged_is_no_part_of_what_is_learned() -> None:
    with_tips = [Interval(Count(0, EXACT), Count(1, EXACT), 10 * 2615, {"upper": 10}, known=10 * 115)]
    without = chain([(10 * 2500, {"upper": 10})])
    assert learn(BOTH, with_tips).needs == learn(BOTH, without).needs


def test_the_mix_of_visits_tells_the_arches_apart() -> None:
    weeks = chain(
        [(4 * 3000 + 2 * 1500, {"upper": 4, "lower": 2}), (2 * 3000 + 6 * 1500, {"upper": 2, "lower": 6})] * 30
    )
    learned = learn(BOTH, weeks).needs
    assert learned["upper"].mean == pytest.approx(3000, rel=0.01)
    assert learned["lower"].mean == pytest.approx(1500, rel=0.01)
    assert learned["upper"].together is None
    assert (learned["upper"].intervals, learned["upper"].attempts) == (60, 180)


def test_arches_always_taken_together_are_known_in_sum_only_and_it_says_so() -> None:
    learned = learn(BOTH, chain([(8 * 4500, {"upper": 8, "lower": 8})] * 40)).needs
    together = learned["upper"].together
    assert together is not None
    assert learned["lower"].together == together
    assert together.needs == ("upper", "lower")
    assert together.mean == pytest.approx(4500, rel=0.005)
    assert together.high - together.low < 200  # 2 mL
    assert learned["upper"].high - learned["upper"].low > 700  # and neither arch by itself


def test_a_single_visit_of_another_kind_does_not_part_what_all_others_tie_together() -> None:
    weeks = [(8 * 4500, {"upper": 8, "lower": 8})] * 40
    learned = learn(BOTH, chain([*weeks, (8 * 4500 + 3000, {"upper": 9, "lower": 8})], CARTRIDGE)).needs
    assert learned["upper"].together is not None


def test_needs_of_different_articles_are_not_tied_together() -> None:
    learned = learn(BOTH, chain([(8 * 2500, {"upper": 8})] * 4), [Entered("lower", 1600, 10)]).needs
    assert learned["upper"].together is None
    assert learned["lower"].together is None


def test_counts_in_whole_cartridges_share_their_rounding_so_the_total_stays_known() -> None:
    """40 intervals of 8 loads: only the first and the last reading are off, whatever happens between."""
    true, left = 3100, 400 * CARTRIDGE + 1234
    readings = [round((left - week * 8 * true) / CARTRIDGE) * CARTRIDGE for week in range(41)]
    weeks = [(a - b, {"upper": 8}) for a, b in pairwise(readings)]
    learned = learn({"upper": LOAD_UPPER}, chain(weeks, CARTRIDGE)).needs["upper"]
    alone = [
        Interval(Count((at, 0), CARTRIDGE), Count((at, 1), CARTRIDGE), *week) for at, week in enumerate(weeks)
    ]  # as if nobody knew that neighbours share a count
    apart = learn({"upper": LOAD_UPPER}, alone).needs["upper"]
    assert learned.mean == pytest.approx(true, rel=0.01)
    assert learned.sd_of_mean < apart.sd_of_mean


def test_one_count_typed_tenfold_is_left_out_named_and_moves_nothing() -> None:
    weeks = [(8 * 2900 + (-1) ** week * 500, {"upper": 8}) for week in range(20)]
    right = learn({"upper": LOAD_UPPER}, chain(weeks, CARTRIDGE))
    more = 9 * 4 * CARTRIDGE  # 4 cartridges as 40
    wild = list(weeks)
    wild[9], wild[10] = (wild[9][0] - more, wild[9][1]), (wild[10][0] + more, wild[10][1])
    found = learn({"upper": LOAD_UPPER}, chain(wild, CARTRIDGE))
    assert not right.left_out
    assert [each.names for each in found.left_out] == [(9, 10), (10, 11)]
    assert all(each.distance > 20 for each in found.left_out)
    assert found.left_out[0].expected == pytest.approx(8 * 2900, abs=2500)
    assert found.needs["upper"].mean == pytest.approx(right.needs["upper"].mean, rel=0.01)
    assert found.needs["upper"].intervals == 18


def test_a_cartridge_that_vanished_while_nobody_was_treated_is_left_out_and_named() -> None:
    weeks = [(8 * 2500, {"upper": 8})] * 6
    found = learn({"upper": LOAD_UPPER}, chain([*weeks, (CARTRIDGE, {}), *weeks]))
    assert [each.names for each in found.left_out] == [(6, 7)]


def test_one_amount_entered_tenfold_is_left_out_and_named() -> None:
    entered = [Entered("upper", qty, 10, f"visit {qty}") for qty in (2400, 2600, 25000, 2500)]
    found = learn({"upper": LOAD_UPPER}, entered=entered)
    assert [each.names for each in found.left_out] == [("visit 25000",)]
    assert found.needs["upper"].mean == pytest.approx(2500, rel=0.01)


def test_a_practice_far_from_the_default_is_believed_not_left_out() -> None:
    found = learn({"upper": LOAD_UPPER}, chain([(8 * 3400, {"upper": 8})] * 10))
    assert not found.left_out
    assert found.needs["upper"].mean == pytest.approx(3400, rel=0.02)


def test_what_is_older_counts_for_less() -> None:
    both = chain([(8 * 2300, {"upper": 8}), (8 * 2700, {"upper": 8})], ages=[520, 0])
    remembered = learn({"upper": LOAD_UPPER}, both, half_life=math.inf).needs["upper"].mean
    forgotten = learn({"upper": LOAD_UPPER}, both, half_life=26).needs["upper"].mean
    assert remembered == pytest.approx(2500, rel=0.01)
    assert forgotten == pytest.approx(2680, rel=0.01)


def test_a_half_life_makes_an_amount_as_old_as_it_half_as_weighty() -> None:
    old = learn({"upper": LOAD_UPPER}, entered=[Entered("upper", 2500, 10, age=26)], half_life=26).needs["upper"]
    assert old.sd_of_mean**-2 == pytest.approx(500**-2 + (500**2 + 100 / 12 + 1 / 6) ** -1 / 2, rel=1e-6)


def test_nothing_takes_less_than_nothing() -> None:
    weeks = [(5 * 2500, {"upper": 5, "lower": 10}), (10 * 2500, {"upper": 10, "lower": 10})] * 20
    learned = learn({"upper": Prior(2500, 500), "lower": Prior(300, 300)}, chain(weeks)).needs
    assert learned["lower"].mean >= 0
    assert learned["lower"].low == 0
    gone = learn({"lower": Prior(300, 300)}, chain([(-200, {"lower": 1})], 2000)).needs["lower"]
    assert gone.low == 0
    assert gone.mean >= 0


def test_a_need_without_spread_such_as_a_tray_is_never_changed() -> None:
    learned = learn({"tray": Prior(1, 0)}, chain([(9, {"tray": 8})])).needs["tray"]
    assert (learned.mean, learned.low, learned.high) == (1, 1, 1)


def test_what_nobody_believed_anything_of_is_refused() -> None:
    with pytest.raises(ValueError, match="lower"):
        learn({"upper": LOAD_UPPER}, chain([(100, {"lower": 1})]))
    with pytest.raises(ValueError, match="weight"):
        learn({"upper": Prior(2500, 500, 0)})


WEEKS = st.lists(
    st.tuples(
        st.integers(-20_000, 60_000), st.fixed_dictionaries({"upper": st.integers(0, 9), "lower": st.integers(0, 9)})
    ),
    max_size=6,
)


@settings(max_examples=30, deadline=None)
@given(WEEKS, st.lists(st.integers(0, 9000), max_size=5))
def test_whatever_is_counted_no_mean_is_negative_and_no_interval_wider_than_before(
    weeks: list[tuple[int, dict[str, int]]], entered: list[int]
) -> None:
    found = learn(BOTH, chain(weeks, CARTRIDGE), [Entered("lower", qty, 500, at) for at, qty in enumerate(entered)])
    for key, learned in found.needs.items():
        assert learned.mean >= 0
        assert 0 <= learned.low <= learned.mean <= learned.high
        assert learned.sd_of_mean <= math.sqrt(BOTH[key].variance) + 1e-6
    assert len(found.left_out) <= len(weeks) + len(entered)
    assert all(each.distance > TOO_FAR for each in found.left_out)


@settings(max_examples=30, deadline=None)
@given(WEEKS)
def test_the_order_of_the_intervals_does_not_matter(weeks: list[tuple[int, dict[str, int]]]) -> None:
    forward, backward = (learn(BOTH, each) for each in (chain(weeks, CARTRIDGE), chain(weeks, CARTRIDGE)[::-1]))
    assert means(forward) == pytest.approx(means(backward), rel=1e-6, abs=1e-6)


def means(found: Learning[str]) -> list[float]:
    return [each.mean for each in found.needs.values()]


@pytest.mark.parametrize("seed", range(3))
def test_the_residual_of_each_observation_is_that_of_a_fit_without_it(seed: int) -> None:
    generator = np.random.default_rng(seed)
    design, taken = generator.integers(0, 6, (9, 3)).astype(float), generator.normal(0, 40, 9)
    root = generator.normal(0, 1, (9, 9))
    noise, prior, mean = root @ root.T + np.eye(9), np.diag([4.0, 9.0, 1.0]), np.array([3.0, 5.0, 2.0])
    off, spread = deleted_residuals(mean, prior, design, taken, noise)
    for row in range(9):
        others = [number for number in range(9) if number != row]
        kept, covariance = posterior(mean, prior, design[others], taken[others], noise[others][:, others])
        across = np.linalg.solve(noise[others][:, others], noise[others][:, row])  # its errors go with its neighbours'
        reduced = design[row] - across @ design[others]
        expected = reduced @ kept + across @ taken[others]
        variance = noise[row, row] - across @ noise[others][:, row] + reduced @ covariance @ reduced
        assert off[row] == pytest.approx(taken[row] - expected, rel=1e-6)
        assert spread[row] == pytest.approx(math.sqrt(variance), rel=1e-6)
