"""The chance that one visit of unknown size finds its tray."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.tray_chance import chance_of_tray
from inventory.domain.trays import SizeOutlook

RUN = (3.0, 8.0, 6.0, 1.5)


def test_the_first_visit_finds_its_tray_when_its_size_is_there() -> None:
    assert chance_of_tray(SizeOutlook(RUN), (1, 0, 1, 0), 0) == pytest.approx(9 / 18.5)
    assert chance_of_tray(SizeOutlook(RUN), (1, 1, 1, 1), 0) == pytest.approx(1)


def test_a_visit_before_may_have_taken_the_last_tray_of_the_size() -> None:
    # Polya's urn: after one patient of a size the next one has it with (alpha + 1) / (sum + 1)
    found = chance_of_tray(SizeOutlook(RUN), (1, 1, 1, 1), 1)
    assert found == pytest.approx(1 - sum(a * (a + 1) for a in RUN) / (18.5 * 19.5))


def test_a_known_size_before_is_gone_for_certain_and_a_neighbour_only_with_the_chance_of_a_try_in() -> None:
    assert chance_of_tray(SizeOutlook((1, 0, 0), known=(1, 0, 0)), (1, 9, 9), 0) == 0
    tried = chance_of_tray(SizeOutlook((1, 1), try_in=0.5), (1, 9), 1)
    # S is asked for with 1/2; before it came an S with 2/3 (gone) or an L with 1/3 (lost to a try-in with 1/2)
    assert tried == pytest.approx(1 / 2 + 1 / 2 * (1 / 3 * 1 / 2))


def drawn(outlook: SizeOutlook, stock: tuple[int, ...], before: int, draws: int = 100_000) -> float:
    """The same by drawing practices, patient by patient."""
    chance = np.random.default_rng(7)
    shares = chance.dirichlet(outlook.weights, draws).cumsum(1)
    left, rows, last = np.tile(np.array(stock), (draws, 1)), np.arange(draws), len(stock) - 1
    for size, known in enumerate(outlook.known):
        for _ in range(known):
            left[:, size] -= chance.geometric(1 - outlook.retake, draws)
    for _ in range(before):
        size = (chance.random(draws)[:, None] > shares).sum(1).clip(0, last)
        beside = np.where(size == 0, 1, np.where(size == last, last - 1, size + chance.choice([-1, 1], draws)))
        tried = chance.random(draws) < outlook.try_in
        left[rows[tried], beside[tried]] -= 1
        left[rows, size] -= chance.geometric(1 - outlook.retake, draws)
    size = (chance.random(draws)[:, None] > shares).sum(1).clip(0, last)
    return float((left[rows, size] >= 1).mean())


@pytest.mark.parametrize(
    ("outlook", "stock", "before"),
    [
        (SizeOutlook(RUN, 0.2, 0.1, (0, 1, 0, 0)), (1, 3, 2, 1), 3),
        (SizeOutlook(RUN, 0.4, 0.05), (2, 4, 3, 1), 9),
    ],
)
def test_it_is_what_a_hundred_thousand_drawn_practices_say(
    outlook: SizeOutlook, stock: tuple[int, ...], before: int
) -> None:
    assert chance_of_tray(outlook, stock, before) == pytest.approx(drawn(outlook, stock, before), abs=0.006)


@given(
    st.lists(st.floats(0.1, 9), min_size=2, max_size=4), st.floats(0, 0.5), st.floats(0, 0.3),
    st.integers(0, 9), st.data(),
)  # fmt: skip
def test_a_tray_more_never_lowers_it_and_a_visit_more_never_raises_it(
    weights: list[float], try_in: float, retake: float, before: int, data: st.DataObject
) -> None:
    outlook = SizeOutlook(tuple(weights), try_in, retake)
    stock = tuple(data.draw(st.lists(st.integers(0, 6), min_size=len(weights), max_size=len(weights))))
    place = data.draw(st.integers(0, len(weights) - 1))
    more = tuple(have + (at == place) for at, have in enumerate(stock))
    chance = chance_of_tray(outlook, stock, before)
    assert 0 <= chance <= 1
    assert chance <= chance_of_tray(outlook, more, before) + 1e-9
    assert chance_of_tray(outlook, stock, before + 1) <= chance + 1e-9
