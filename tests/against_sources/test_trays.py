"""The size mix against tables, enumeration, another library's distribution and simulation.

The tables were computed from the rule with independent scripts; no published distribution of edentulous tray sizes was
found. The default prior S/M/L/XL 0.20/0.50/0.25/0.05 with the weight of ten patients is our own judgement.
"""

from collections.abc import Iterator
from itertools import product
from math import isclose

import numpy as np
import pytest
from scipy import stats

from inventory.domain.trays import (
    SizeOutlook,
    chance_all_fitted,
    chance_by_cases,
    expected_take,
    shared,
    smallest_stock,
)

TABLE = [
    ((3, 8, 6, 1.5), 6, 0.95, (3, 5, 5, 3), 0.9582),
    ((3, 8, 6, 1.5), 10, 0.95, (5, 8, 7, 4), 0.9546),
    ((1, 1, 1, 1), 8, 0.95, (7, 7, 7, 6), 0.9576),
]
DRAWS = 200_000


@pytest.mark.parametrize(("weights", "cases", "target", "stock", "chance"), TABLE)
def test_the_smallest_stock_for_a_target(
    weights: tuple[float, ...], cases: int, target: float, stock: tuple[int, ...], chance: float
) -> None:
    """Computed from the rule."""
    found = smallest_stock([SizeOutlook(weights)], shared(cases), target)
    assert found.stocks == (stock,)
    assert round(found.chance, 4) == chance


def test_a_quantile_for_each_size_misses_the_joint_target() -> None:
    """Computed from the rule: .880 where .95 was asked, in the second row of the table."""
    weights, cases = (3, 8, 6, 1.5), 10
    stock = tuple(int(stats.betabinom.ppf(0.95, cases, a, sum(weights) - a)) for a in weights)
    assert round(chance_by_cases(SizeOutlook(weights), stock, cases)[cases], 3) == 0.880


@pytest.mark.parametrize(("try_in", "chance"), [(0.2, 0.928), (0.4, 0.883)])
def test_neighbouring_try_ins_lower_the_chance_of_the_first_row(try_in: float, chance: float) -> None:
    """Computed with independent scripts, good to about one in a thousand: the exact law gives .9289 and .8821."""
    outlook = SizeOutlook((3, 8, 6, 1.5), try_in=try_in)
    assert isclose(chance_by_cases(outlook, (3, 5, 5, 3), 6)[6], chance, abs_tol=0.0015)


def stocks_of(trays: int, sizes: int) -> Iterator[tuple[int, ...]]:
    for head in product(range(trays + 1), repeat=sizes - 1):
        if sum(head) <= trays:
            yield (*head, trays - sum(head))


@pytest.mark.parametrize(
    ("outlook", "cases", "target"),
    [
        (SizeOutlook((3, 8, 6, 1.5)), 6, 0.95),
        (SizeOutlook((1, 1, 1, 1)), 4, 0.9),
        (SizeOutlook((0.3, 8, 2)), 8, 0.98),
        (SizeOutlook((3, 8, 6), try_in=0.3), 4, 0.95),
        (SizeOutlook((2, 5, 2.5), try_in=0.2, retake=0.1), 4, 0.9),
        (SizeOutlook((6, 1, 6), try_in=0.4, known=(0, 2, 0)), 3, 0.9),
        (SizeOutlook((2, 1), retake=0.3, known=(1, 0)), 4, 0.97),
        (SizeOutlook((1, 1, 3)), 6, 0.5),  # these two need exchanges, adding and taking away alone miss them
        (SizeOutlook((1, 2)), 7, 0.2),
    ],
)
def test_the_smallest_stock_equals_enumeration(outlook: SizeOutlook, cases: int, target: float) -> None:
    found = smallest_stock([outlook], shared(cases), target)
    best_with_fewer = max(
        chance_by_cases(outlook, stock, cases)[cases] for stock in stocks_of(found.trays - 1, len(outlook.weights))
    )
    best = max(chance_by_cases(outlook, stock, cases)[cases] for stock in stocks_of(found.trays, len(outlook.weights)))
    assert best_with_fewer < target
    assert isclose(found.chance, best)


@pytest.mark.parametrize(
    ("upper", "lower", "cases", "target"),
    [
        (SizeOutlook((1.5, 2), retake=0.5), SizeOutlook((0.3, 0.1), retake=0.5), 4, 0.2),
        (SizeOutlook((2, 5), retake=0.1), SizeOutlook((3, 2), try_in=0.2), 3, 0.95),
    ],
)
def test_the_smallest_stock_of_both_arches_equals_enumeration(
    upper: SizeOutlook, lower: SizeOutlook, cases: int, target: float
) -> None:
    found = smallest_stock([upper, lower], shared(cases, 2), target)

    def best(trays: int) -> float:
        return max(
            chance_by_cases(upper, stock[:2], cases)[cases] * chance_by_cases(lower, stock[2:], cases)[cases]
            for stock in stocks_of(trays, 4)
        )

    assert best(found.trays - 1) < target
    assert isclose(found.chance, best(found.trays))


@pytest.mark.parametrize("cases", [0, 1, 5, 12])
def test_the_chance_equals_the_sum_of_the_dirichlet_multinomial_law(cases: int) -> None:
    weights, stock = (2.0, 5.0, 2.5, 0.5), (3, 6, 4, 2)
    counts = [x for x in stocks_of(cases, 4) if all(a <= b for a, b in zip(x, stock, strict=True))]
    expected = sum(float(stats.dirichlet_multinomial.pmf(np.array(x), weights, np.array(cases))) for x in counts)
    assert isclose(chance_by_cases(SizeOutlook(weights), stock, cases)[cases], expected, abs_tol=1e-12)


def simulated_takes(outlook: SizeOutlook, cases: "np.ndarray", rng: np.random.Generator) -> "np.ndarray":
    """Trays taken of each size, one row a draw, told patient by patient."""
    sizes = len(outlook.weights)
    shares = rng.dirichlet(outlook.weights, len(cases)).cumsum(axis=1)
    takes = np.zeros((len(cases), sizes), dtype=int)
    rows = np.arange(len(cases))
    for patient in range(int(cases.max())):
        comes = patient < cases
        size = np.minimum((rng.random(len(cases))[:, None] > shares).sum(axis=1), sizes - 1)
        takes[rows, size] += comes * rng.geometric(1 - outlook.retake, len(cases))
        side = np.where(rng.random(len(cases)) < 0.5, -1, 1)
        side = np.where(size == 0, 1, np.where(size == sizes - 1, -1, side))
        takes[rows, size + side] += comes & (rng.random(len(cases)) < outlook.try_in)
    for size, visits in enumerate(outlook.known):
        for _ in range(visits):
            takes[:, size] += rng.geometric(1 - outlook.retake, len(cases))
    return takes


def test_the_full_law_of_both_arches_agrees_with_simulation() -> None:
    upper = SizeOutlook((3, 8, 6, 1.5), try_in=0.25, retake=0.10, known=(0, 1, 1, 0))
    lower = SizeOutlook((2, 9, 5, 0.7), try_in=0.35, retake=0.12, known=(1, 0, 0, 0))
    stocks = ((4, 7, 6, 3), (4, 7, 6, 2))
    chances = [0.0, 0.05, 0.1, 0.2, 0.3, 0.2, 0.15]
    rng = np.random.default_rng(20260301)
    cases = rng.choice(len(chances), DRAWS, p=chances)
    takes = [simulated_takes(outlook, cases, rng) for outlook in (upper, lower)]
    all_fitted = np.all([(take <= stock).all(axis=1) for take, stock in zip(takes, stocks, strict=True)], axis=0)
    exact = chance_all_fitted([upper, lower], stocks, shared(chances, 2))
    assert isclose(exact, all_fitted.mean(), abs_tol=4 * (exact * (1 - exact) / DRAWS) ** 0.5)
    for outlook, take in zip((upper, lower), takes, strict=True):
        mean = expected_take(outlook, float(np.dot(chances, range(len(chances)))))
        assert np.allclose(mean, take.mean(axis=0), atol=4 * take.std(axis=0).max() / DRAWS**0.5)
