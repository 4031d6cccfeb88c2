"""Demand against published and independently computed numbers."""

from datetime import date, timedelta

import numpy as np
import pytest
from scipy import stats

from inventory.domain.demand import Demand, Distribution, Rate, StepUse, Stream, learn_rate, use_over

TODAY = date(2026, 3, 2)
SERIES = (0, 3, 0, 0, 2, 0, 0, 0, 4, 1, 0, 5)  # the intermittent series the three forecasts below are quoted for


def over(rate: Rate, step: StepUse, days: int, grid: int) -> Distribution:
    return use_over(Demand((Stream("final", rate, (step,)),)), TODAY, TODAY + timedelta(days=days), grid)


def test_eight_visits_a_week_over_twelve_days() -> None:
    # Poisson 13.714, gamma mean 12 mL, CV .35, on a grid of 1 mL (computed with independent scripts).
    use = over(Rate(8.0), StepUse(12, 12 * 0.35), 12, 1)
    assert [use.quantile(q) for q in (500_000, 950_000, 990_000)] == [162, 246, 285]


def test_a_slow_item_where_the_normal_approximation_misses() -> None:
    # Poisson 1.05, gamma mean 25 mL, CV .4, on a grid of half a millilitre (computed with independent scripts).
    use = over(Rate(1.05), StepUse(2500, 1000), 7, 50)
    assert use.masses[0] == pytest.approx(0.350, abs=5e-4)
    assert use.quantile(980_000) == 9850
    normal = stats.norm(use.mean, use.variance**0.5).ppf(0.98)
    assert normal / 100 == pytest.approx(82.9, abs=0.1)


def test_both_check_cases_against_two_million_draws_of_their_own() -> None:
    generator = np.random.default_rng(20260302)
    for rate, mean, cv, days in ((8.0, 12.0, 0.35, 12), (1.05, 25.0, 0.4, 7)):
        visits = generator.poisson(rate * days / 7, 2_000_000)
        drawn = generator.gamma(np.maximum(visits, 1) / cv**2) * mean * cv**2 * (visits > 0)
        use = over(Rate(rate), StepUse(100 * mean, 100 * cv * mean), days, 10)
        for share in (0.9, 0.95, 0.99):
            assert use.quantile(int(share * 1e6)) / 100 == pytest.approx(np.quantile(drawn, share), abs=0.5)


@pytest.mark.parametrize(
    ("mean", "levels"),
    [
        (0.5, (2, 2, 3)),
        (1, (3, 3, 4)),
        (2, (5, 5, 6)),
        (3, (6, 7, 8)),
        (4, (8, 9, 9)),
        (5, (9, 10, 11)),
        (6, (10, 12, 12)),
        (8, (13, 14, 15)),
        (10, (15, 17, 18)),
    ],
)
def test_smallest_stock_for_poisson_demand(mean: float, levels: tuple[int, int, int]) -> None:
    # Smallest S with P(X <= S) >= .95, .98, .99 (computed from the definition).
    use = over(Rate(mean), StepUse(1), 7, 1)
    assert tuple(use.quantile(q) for q in (950_000, 980_000, 990_000)) == levels


def test_seven_are_just_not_enough_for_a_poisson_demand_of_four() -> None:
    assert over(Rate(4.0), StepUse(1), 7, 1).at_most(7) == pytest.approx(0.9489, abs=5e-5)


@pytest.mark.parametrize(("mean", "variance", "level"), [(3, 6, 8), (4, 8, 9), (6, 12, 12), (2, 3, 5), (10, 25, 19)])
def test_smallest_stock_for_negative_binomial_demand(mean: float, variance: float, level: int) -> None:
    # By mean and variance, at 95 % (computed from the definition).
    assert over(Rate(mean, ratio=variance / mean), StepUse(1), 7, 1).quantile(950_000) == level


def croston(alpha: float, series: tuple[int, ...] = SERIES) -> float:
    """Croston 1972: smoothed size over smoothed interval; the comparison, not what the program forecasts with."""
    size = interval = 0.0
    gap = 1
    for value in series:
        if value == 0:
            gap += 1
            continue
        size = value if size == 0 else size + alpha * (value - size)
        interval = gap if interval == 0 else interval + alpha * (gap - interval)
        gap = 1
    return size / interval if interval else 0.0


def tsb(alpha_size: float, alpha_chance: float) -> float:
    """Teunter, Syntetos and Babai 2011, started from the first size and the first period."""
    sizes = [value for value in SERIES if value]
    size, chance = float(sizes[0]), float(SERIES[0] > 0)
    for value in sizes[1:]:
        size += alpha_size * (value - size)
    for value in SERIES[1:]:
        chance += alpha_chance * ((value > 0) - chance)
    return size * chance


def test_the_forecasts_for_intermittent_demand_give_their_known_numbers() -> None:
    # Croston and its Syntetos-Boylan correction (1 - alpha/2); agreed with a forecasting library (computed).
    assert croston(0.1) == pytest.approx(1.4117674, abs=5e-8)
    assert croston(0.1) * 0.95 == pytest.approx(1.3411791, abs=5e-8)
    assert croston(0.2) == pytest.approx(1.412664, abs=5e-7)
    assert croston(0.2) * 0.9 == pytest.approx(1.271397, abs=1e-6)
    assert tsb(0.2, 0.2) == pytest.approx(1.5336008, abs=5e-8)
    assert croston(0.1, (0, 0, 0)) == 0


def test_the_program_s_rate_lies_among_them_and_near_the_plain_mean() -> None:
    rate = learn_rate(SERIES)
    assert 1.2 < rate.weekly < 1.6
    assert rate.weekly == pytest.approx(sum(SERIES) / len(SERIES), rel=0.1)
    assert rate.ratio > 1.3  # it also says how lumpy the series is, which the three do not
