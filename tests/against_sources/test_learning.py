"""Learning against other forms of the same law, an established library, and practices whose true use is known.

The bars of the recovery are those the program was specified with; `python -m tests.benchmarks.learning` measures the
same with 200 practices, and DEVELOPERS.md shows that table.
"""

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from inventory.domain.learning import learn, posterior
from tests.benchmarks.learning import ASKED, DESIGNS, Design, Score, believed, drawn, rests, score, wild_counts

Array = NDArray[np.float64]
PRACTICES = 24
SEED = 7


@cache
def small(design: Design, body: str) -> Score:
    return score(body, design, PRACTICES, SEED)


def kalman(mean: Array, prior: Array, attempts: Array, taken: Array, *, between: Array, rounding: float) -> Array:
    """The same law interval by interval: the state is what each need takes, and how far the last count was off.

    Kalman 1960, J. Basic Eng. 82(1) 35 (from memory): y = n theta + (error of the last count) - (error of this one).
    """
    needs = len(mean)
    state, spread = np.append(mean, 0.0), np.zeros((needs + 1, needs + 1))
    spread[:needs, :needs], spread[-1, -1] = prior, rounding
    for row, gone, noise in zip(attempts, taken, between, strict=True):
        # the state grows by this count's error, is updated, and forgets the last count's
        grown = np.zeros((needs + 2, needs + 2))
        grown[:-1, :-1], grown[-1, -1] = spread, rounding
        look = np.concatenate([row, [1.0, -1.0]])
        gain = grown @ look / (look @ grown @ look + noise)
        state = np.append(state, 0.0)
        state = state + gain * (gone - look @ state)
        grown = grown - np.outer(gain, look @ grown)
        kept = [*range(needs), needs + 1]
        state, spread = state[kept], grown[kept][:, kept]
    return np.concatenate([state[:needs], np.sqrt(np.diag(spread)[:needs])])


@pytest.mark.parametrize("seed", range(5))
def test_learning_all_at_once_equals_learning_interval_by_interval(seed: int) -> None:
    generator = np.random.default_rng(seed)
    attempts = generator.integers(0, 7, (26, 4)).astype(float)
    taken, between = generator.normal(60, 25, 26), generator.uniform(20, 90, 26)
    mean, prior, rounding = np.array([25.0, 17.0, 7.0, 6.0]), np.diag([25.0, 9.0, 4.0, 4.0]), 50**2 / 12
    noise = np.diag(between + 2 * rounding) - rounding * (np.eye(26, k=1) + np.eye(26, k=-1))
    found, covariance = posterior(mean, prior, attempts, taken, noise)
    step_by_step = kalman(mean, prior, attempts, taken, between=between, rounding=rounding)
    assert np.concatenate([found, np.sqrt(np.diag(covariance))]) == pytest.approx(step_by_step, rel=1e-10)


@pytest.mark.parametrize("seed", range(3))
def test_it_equals_an_established_library_at_equal_precisions(seed: int) -> None:
    """BayesianRidge of scikit-learn, asked which precisions it found; counts of a practice, above the defaults."""
    from sklearn.linear_model import BayesianRidge  # type: ignore[import-untyped] # noqa: PLC0415 - slow to load

    priors = believed("heavy")
    intervals = drawn("heavy", DESIGNS[0], np.random.default_rng(seed)).intervals
    design = np.array([[each.attempts[need] for need in priors] for each in intervals], dtype=float)
    mean = np.array([prior.mean for prior in priors.values()])
    above = np.array([each.taken - each.known for each in intervals]) - design @ mean
    theirs = BayesianRidge(fit_intercept=False).fit(design, above)
    prior, noise = np.eye(len(mean)) / theirs.lambda_, np.eye(len(above)) / theirs.alpha_
    found, covariance = posterior(np.zeros(len(mean)), prior, design, above, noise)
    assert found == pytest.approx(theirs.coef_, rel=1e-9)
    assert covariance == pytest.approx(theirs.sigma_, rel=1e-9)


@pytest.mark.parametrize("design", DESIGNS[:3], ids=lambda design: design.name)
def test_the_true_use_is_recovered_better_than_by_other_ways(design: Design) -> None:
    found = small(design, "heavy")
    assert found.rmse("the program") <= ASKED[design.name]  # mL; never learning 3.2
    for other in ("never learning", "least squares", "BayesianRidge"):
        assert found.rmse("the program") < found.rmse(other)


def test_the_intervals_of_90_percent_hold_the_truth_about_so_often() -> None:
    held = np.concatenate([small(design, "heavy").held.ravel() for design in DESIGNS[:3]])
    assert 0.85 <= held.mean() <= 0.95


def test_one_count_typed_tenfold_is_found_and_moves_an_estimate_by_a_fraction_of_a_millilitre() -> None:
    wild = wild_counts(6, SEED)
    assert wild.found == wild.practices
    assert wild.typical("the program") < 0.75
    assert wild.typical("least squares") > 20


def test_rests_that_are_thrown_away_confirm_nothing_where_they_are_asked_as_unknowns() -> None:
    found = rests(PRACTICES, SEED)
    assert found.rmse("unknown") < min(found.rmse("believed"), found.rmse("never learning"))
    assert found.held["believed"].mean() < 0.85 <= found.held["unknown"].mean()


def test_what_the_heavy_body_takes_in_all_is_known_far_better_than_any_step() -> None:
    intervals = drawn("heavy", DESIGNS[0], np.random.default_rng(SEED)).intervals
    learned = learn(believed("heavy"), intervals).needs
    taken = sum(each.taken - each.known for each in intervals)
    told = sum(need.mean * sum(each.attempts[key] for each in intervals) for key, need in learned.items())
    assert told == pytest.approx(taken, rel=0.03)
