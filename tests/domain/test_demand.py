"""How much will be used: known bookings, forecast visits, amounts, as one exact distribution."""

import math
import subprocess
import sys
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from inventory.domain import demand as module
from inventory.domain.courses import draw_uses, outlook
from inventory.domain.demand import (
    Booking,
    Demand,
    Distribution,
    Forecast,
    Rate,
    StepUse,
    Stream,
    expected_use,
    learn_rate,
    learn_show_rate,
    use_over,
)
from inventory.domain.shelf import OpenedLife, Parcel

TODAY = date(2026, 3, 2)


def day(n: int) -> date:
    return TODAY + timedelta(days=n)


def over(demand: Demand, days: int, step: int | None = None) -> Distribution:
    return use_over(demand, TODAY, day(days), step)


def finals(rate: Rate, *steps: StepUse) -> Demand:
    return Demand((Stream("final", rate, steps or (StepUse(1),)),))


# --- how many visits -------------------------------------------------------------------------------------------------


def test_without_any_history_the_prior_speaks_with_the_weight_of_half_a_week() -> None:
    assert learn_rate([]) == Rate(1.0, 0.5, 1.0)
    assert learn_rate([], prior=3).weekly == 3
    assert over(finals(learn_rate([])), 12).quantile(990_000) > 5


def test_the_newest_week_weighs_most_and_half_as_much_after_half_a_year() -> None:
    assert learn_rate([0] * 26 + [10]).weekly > learn_rate([10] + [0] * 26).weekly
    old, new = learn_rate([53] + [0] * 26).weekly, learn_rate([0] * 26 + [53]).weekly
    prior = 0.5 / (sum(0.5 ** (k / 26) for k in range(27)) + 0.5)
    assert (old - prior) / (new - prior) == pytest.approx(0.5)


def test_one_visit_a_year_stays_a_small_but_not_an_impossible_demand() -> None:
    rate = learn_rate([0] * 30 + [1] + [0] * 21)
    assert 0.01 < rate.weekly < 0.05
    chance_of_one = 1 - over(finals(rate), 19, 1).at_most(0)
    assert 0.02 < chance_of_one < 0.15
    assert over(finals(rate), 19, 1).quantile(999_000) >= 1


def test_two_hundred_visits_a_week_are_no_trouble() -> None:
    busy = finals(learn_rate([200, 210, 195, 190, 205] * 20), StepUse(1000, 350, 115, 0.1))
    use = over(busy, 21)
    assert use.mean == pytest.approx(expected_use(busy, TODAY, day(21)), rel=1e-6)
    assert use.mean < use.quantile(990_000) < 1.3 * use.mean


def test_weeks_that_vary_more_than_chance_widen_the_forecast() -> None:
    assert learn_rate([2, 2, 2, 2] * 10).ratio == 1
    lumpy = learn_rate([0, 0, 0, 8] * 10)
    assert lumpy.ratio > 2
    assert lumpy.weekly == pytest.approx(2, rel=0.1)


def test_a_rate_learned_from_few_weeks_is_less_certain() -> None:
    few = over(finals(learn_rate([2] * 3)), 28, 1)
    many = over(finals(learn_rate([2] * 100)), 28, 1)
    assert few.variance > many.variance


def test_the_predictive_variance_is_that_of_the_negative_binomial() -> None:
    stream = Stream("final", Rate(2.0, weeks=20, ratio=1.5), (StepUse(1),))
    mean, variance = Forecast(Demand((stream,)), TODAY).visits(stream, 28)
    assert mean == 8
    assert variance == pytest.approx(1.5 * 2 * 4 + 16 * 1.5 * 2 / 20)


def test_booked_visits_are_counted_once_and_only_the_rest_is_forecast() -> None:
    booking = Booking(day(2), "final", (StepUse(1),))
    stream = Stream("final", Rate(3.0), (StepUse(1),))
    assert expected_use(Demand((stream,), (booking,)), TODAY, day(7)) == 3
    assert expected_use(Demand((stream,), (booking,) * 5), TODAY, day(7)) == 5
    assert expected_use(Demand((stream,), (Booking(day(2), "reline", (StepUse(1),)),)), TODAY, day(7)) == 4


def test_a_booking_after_the_stretch_does_not_count_in_it() -> None:
    booking = Booking(day(7), "final", (StepUse(1),))
    assert expected_use(Demand((), (booking,)), TODAY, day(7)) == 0
    assert expected_use(Demand((), (booking,)), TODAY, day(8)) == 1


def test_booked_visits_are_a_matter_of_who_comes() -> None:
    bookings = tuple(Booking(day(k), "final", (StepUse(1),), 0.9) for k in range(10))
    use = over(Demand((), bookings), 10, 1)
    expected = stats.binom(10, 0.9).pmf(np.arange(11))
    assert use.masses[:11] == pytest.approx(expected, abs=1e-12)


def test_the_show_rate_is_learned_from_the_prior_on() -> None:
    assert learn_show_rate(0, 0) == 0.95
    assert learn_show_rate(0, 20) == pytest.approx(0.475)
    assert learn_show_rate(2000, 2000) > 0.999


# --- how much each takes ---------------------------------------------------------------------------------------------


def test_a_retake_takes_material_tip_and_purge_again() -> None:
    step = StepUse(900, 0, fixed=115, retake=0.1)
    assert step.expected == pytest.approx(1.1 * 1015)
    use = over(Demand((), (Booking(day(0), "final", (step,)),)), 1, 5)
    assert use.masses[203] == pytest.approx(0.9)
    assert use.masses[406] == pytest.approx(0.1)


def test_a_visit_of_one_arch_only_leaves_the_other_arch_s_step_out() -> None:
    step = StepUse(1, chance=0.6)
    assert over(Demand((), (Booking(day(0), "k", (step,)),)), 1, 1).masses[:2] == pytest.approx([0.4, 0.6])


def test_a_step_taken_more_than_once_a_visit_is_taken_so_often() -> None:
    step = StepUse(1, retake=0.1, chance=2.3)
    demand = Demand((), (Booking(day(0), "k", (step,)),))
    use = over(demand, 1, 1)
    assert use.mean == pytest.approx(step.expected)
    assert use.variance == pytest.approx(step.variance)
    drawn = draw_uses(demand, TODAY, (0,), 1, generator=np.random.default_rng(4), paths=40_000).amounts[:, 0]
    assert drawn.mean() == pytest.approx(step.expected, rel=0.01)
    assert drawn.var() == pytest.approx(step.variance, rel=0.03)


def test_nothing_used_is_a_certain_nothing() -> None:
    use = over(Demand(), 14)
    assert (use.quantile(999_999), use.mean, use.variance) == (0, 0, 0)
    assert over(finals(Rate(0.0)), 14).quantile(999_999) == 0


@pytest.mark.parametrize("cv", [0.05, 0.35, 1.0, 1.8])
def test_the_amounts_are_gamma_on_the_grid(cv: float) -> None:
    step = StepUse(1000, 1000 * cv)
    use = over(Demand((), (Booking(day(0), "k", (step,)),)), 1, 4)
    law = stats.gamma(1 / cv**2, scale=1000 * cv**2)
    for share in (0.1, 0.5, 0.9, 0.99):
        assert use.quantile(int(share * 1e6)) == pytest.approx(law.ppf(share), rel=5e-3, abs=8)
    assert use.mean == pytest.approx(1000, rel=2e-3)


# --- the compound distribution ---------------------------------------------------------------------------------------


def panjer(visits: Rate, severity: NDArray[np.float64], weeks: float, points: int) -> NDArray[np.float64]:
    """Panjer's recursion (ASTIN Bulletin 12, 1981), for Poisson and negative binomial numbers of visits."""
    mean = visits.weekly * weeks
    variance = visits.ratio * (mean + mean * mean / (visits.weekly * visits.weeks))
    if variance <= mean * (1 + 1e-9):
        a, b, first = 0.0, mean, math.exp(-mean * (1 - severity[0]))
    else:
        size = mean * mean / (variance - mean)
        p = size / (size + mean)
        a, b = 1 - p, (size - 1) * (1 - p)
        first = (p / (1 - (1 - p) * severity[0])) ** size
    total = [first]
    for s in range(1, points):
        top = min(s, len(severity) - 1)
        k = np.arange(1, top + 1)
        back = np.array(total)[s - k]
        total.append(float(((a + b * k / s) * severity[k] * back).sum() / (1 - a * severity[0])))
    return np.array(total)


@pytest.mark.parametrize("rate", [Rate(8.0), Rate(0.35), Rate(2.0, 10, 1.0), Rate(3.0, 40, 1.8)])
def test_the_transform_agrees_with_panjers_recursion(rate: Rate) -> None:
    step = StepUse(12, 4.2)
    use = over(finals(rate, step), 12, 1)
    severity = module._attempt(step, 1, len(use.masses))[:200]
    expected = panjer(rate, severity, 12 / 7, len(use.masses))
    assert np.abs(use.masses - expected).max() < 1e-9
    if rate == Rate(8.0):
        assert np.abs(use.masses - expected).max() < 1e-14


def test_single_pieces_give_the_poisson_and_the_negative_binomial_law() -> None:
    poisson = over(finals(Rate(7.0)), 7, 1).masses
    assert poisson[:30] == pytest.approx(stats.poisson(7).pmf(np.arange(30)), abs=1e-12)
    mean, variance = 4.0, 8.0
    negative = over(finals(Rate(4.0, ratio=2.0)), 7, 1).masses
    size = mean**2 / (variance - mean)
    assert negative[:30] == pytest.approx(stats.nbinom(size, mean / variance).pmf(np.arange(30)), abs=1e-9)


def test_several_kinds_and_bookings_agree_with_two_million_drawn_courses() -> None:
    wash = StepUse(1000, 350, 115, 0.1)
    mixed = Demand(
        (
            Stream("final", Rate(1.4, 12, 1.6), (wash, StepUse(700, 250, 115, 0.12, 0.8))),
            Stream("reline", Rate(0.5), (wash,)),
        ),
        (Booking(day(1), "final", (wash,), 0.9), Booking(day(9), "other", (wash,), 0.95)),
    )
    use = over(mixed, 19)
    drawn = draw_uses(mixed, TODAY, (0, 7, 14), 19, generator=np.random.default_rng(5), paths=2_000_000)
    totals = drawn.amounts.sum(axis=1)
    assert use.mean == pytest.approx(expected_use(mixed, TODAY, day(19)), rel=1e-6)
    assert use.variance**0.5 == pytest.approx(Forecast(mixed, TODAY).spread(19), rel=1e-3)
    assert totals.mean() == pytest.approx(use.mean, rel=2e-3)
    assert totals.std() == pytest.approx(use.variance**0.5, rel=2e-3)
    for ppm in (500_000, 900_000, 990_000):
        below = (totals <= use.quantile(ppm)).mean()
        # The grid rounds up; and two draws of a negative binomial (rate, then weeks) are not quite one.
        assert ppm / 1e6 - 0.002 < below < ppm / 1e6 + 0.008


def test_what_is_expected_to_be_left_is_the_loss_function() -> None:
    use = over(finals(Rate(7.0)), 7, 1)
    law = stats.poisson(7).pmf(np.arange(60))
    amounts = np.array([0.0, 3.0, 6.5, 10.0, 40.0])
    expected = [sum(max(0.0, x - k) * law[k] for k in range(60)) for x in amounts]
    assert use.expected_left(amounts) == pytest.approx(expected, abs=1e-9)
    assert use.expected_left(np.array([-5.0])) == 0
    far = float(len(use.masses) + 50)
    assert use.expected_left(np.array([far]))[0] == pytest.approx(far - use.mean)


demands = st.builds(
    lambda weekly, weeks, ratio, mean, cv, retake: finals(
        Rate(weekly, weeks, ratio), StepUse(mean, cv * mean, 0, retake)
    ),
    st.floats(0.01, 30),
    st.floats(1, 100),
    st.floats(1, 3),
    st.floats(100, 3000),
    st.floats(0, 1),
    st.floats(0, 0.5),
)


@settings(deadline=None, max_examples=60)
@given(demands, st.integers(1, 40))
def test_the_distribution_keeps_its_mean_and_spread(wanted: Demand, days: int) -> None:
    use = over(wanted, days)
    assert use.masses.sum() == pytest.approx(1)
    assert use.mean == pytest.approx(expected_use(wanted, TODAY, day(days)), rel=0.01)
    spread = Forecast(wanted, TODAY).spread(days)
    assert use.variance**0.5 == pytest.approx(spread, rel=0.05, abs=use.step)


@settings(deadline=None, max_examples=60)
@given(demands, st.integers(1, 40), st.integers(500_000, 998_000))
def test_more_days_and_a_higher_target_never_need_less(wanted: Demand, days: int, ppm: int) -> None:
    use = over(wanted, days, 50)
    assert over(wanted, days + 7, 50).quantile(ppm) >= use.quantile(ppm)
    assert use.quantile(ppm + 1000) >= use.quantile(ppm)
    assert use.at_most(use.quantile(ppm)) >= ppm / 1e6 - 1e-9


def test_single_pieces_over_a_long_stretch_keep_their_spread() -> None:
    year = Forecast(finals(Rate(60.0)), TODAY).distributions([90, 365], most_points=512)
    for use, days in zip(year, (90, 365), strict=True):
        assert use.mean == pytest.approx(60 * days / 7)
        assert use.variance == pytest.approx(60 * days / 7, rel=1e-3)


@settings(deadline=None, max_examples=40)
@given(demands)
def test_measuring_in_millilitres_or_hundredths_gives_the_same_use(wanted: Demand) -> None:
    coarse, fine = over(wanted, 12, 10), over(_hundredfold(wanted), 12, 1000)
    assert fine.quantile(990_000) == pytest.approx(100 * coarse.quantile(990_000), abs=1000)


def _hundredfold(demand: Demand) -> Demand:
    (stream,) = demand.streams
    steps = tuple(StepUse(100 * s.mean, 100 * s.sd, 100 * s.fixed, s.retake, s.chance) for s in stream.steps)
    return Demand((Stream(stream.kind, stream.rate, steps),))


# --- courses for the shelf walk --------------------------------------------------------------------------------------


def test_numeric_libraries_are_loaded_only_when_planning_runs() -> None:
    modules = "basket courses demand freshness handbook pack_choice position reordering service_target shelf why"
    imports = "; ".join(f"import inventory.domain.{name}" for name in modules.split())
    code = f"import sys; {imports}; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_the_same_seed_draws_the_same_courses() -> None:
    wanted = finals(learn_rate([1, 2, 0]), StepUse(900, 300, 115, 0.1))
    drawn = [
        draw_uses(wanted, TODAY, (0, 7), 14, generator=np.random.default_rng(9), paths=50).amounts for _ in range(2)
    ]
    assert (drawn[0] == drawn[1]).all()


def test_a_booking_falls_into_the_period_of_its_day() -> None:
    wanted = Demand((), (Booking(day(7), "k", (StepUse(10),)), Booking(day(30), "k", (StepUse(10),))))
    uses = draw_uses(wanted, TODAY, (0, 7, 14), 21, generator=np.random.default_rng(1), paths=3)
    assert uses.amounts.tolist() == [[0, 10, 0]] * 3


def test_pieces_are_drawn_whole_and_a_period_starts_within_a_week() -> None:
    wanted = finals(Rate(7.0))
    uses = draw_uses(wanted, TODAY, (0, 3, 7), 14, generator=np.random.default_rng(1), paths=20_000)
    assert uses.amounts.mean(axis=0) == pytest.approx([3, 4, 7], rel=0.02)


def test_the_outlook_tells_what_a_lot_risks_and_when_stock_runs_out() -> None:
    wanted = finals(Rate(1.0), StepUse(1000, 350))
    parcels = [Parcel("soon", 3000, day(13)), Parcel("later", 5000, day(300))]
    mean = outlook(parcels, wanted, TODAY)
    chance = outlook(parcels, wanted, TODAY, generator=np.random.default_rng(2), paths=4000)
    assert mean.fates[0].lost == 1000
    assert mean.fates[0].used_up == 0
    assert 1000 < chance.fates[0].lost < 1400
    assert 200_000 < chance.fates[0].used_up < 350_000
    early, middle, late = chance.runs_out
    assert early is not None
    assert middle is not None
    assert late is not None
    assert early < middle < late


def test_stock_without_a_date_runs_out_on_a_day_too() -> None:
    wanted = finals(Rate(7.0))
    assert outlook([Parcel("trays", 30)], wanted, TODAY).runs_out == (day(30), day(30), day(30))
    early, _, late = outlook([Parcel("trays", 30)], wanted, TODAY, generator=np.random.default_rng(3)).runs_out
    assert early is not None
    assert late is not None
    assert early < day(30) < late


def test_an_opened_life_makes_the_outlook_lose_more() -> None:
    wanted = finals(Rate(0.2), StepUse(500, 100))
    parcels = [Parcel("a", 20000, day(400))]
    plain = outlook(parcels, wanted, TODAY, generator=np.random.default_rng(2))
    short = outlook(parcels, wanted, TODAY, OpenedLife(5000, 30), generator=np.random.default_rng(2))
    assert short.lost > plain.lost
