"""What an order comes to while it is written: fee, minimum, free delivery, and how far the stock will last."""

from datetime import date

import pytest

from inventory.domain.basket import SupplierTerms
from inventory.domain.ordering import OrderSum, lasts_until, order_sum, told

TODAY = date(2026, 3, 2)
NORTH = SupplierTerms("north", minimum_cents=3000, fee_cents=900, free_from_cents=15_000)


@pytest.mark.parametrize(
    ("goods", "comes_to", "words"),
    [
        (0, OrderSum(0, 0, 0, 15_000), "goods 0.00, 150.00 short of free delivery"),
        (
            2000,
            OrderSum(2000, 900, 1000, 13_000),
            (
                "goods 20.00, delivery 9.00, in all 29.00, 130.00 short of free delivery, "
                "10.00 short of the minimum order of 30.00"
            ),
        ),
        (15_000, OrderSum(15_000, 0, 0, 0), "goods 150.00, delivery free from 150.00 on"),
    ],
)
def test_goods_decide_fee_minimum_and_free_delivery(goods: int, comes_to: OrderSum, words: str) -> None:
    found = order_sum(NORTH, [goods])
    assert found == comes_to
    assert told(NORTH, found) == words


def test_a_supplier_that_delivers_nothing_free_has_no_threshold() -> None:
    terms = SupplierTerms("lake", fee_cents=1800)
    found = order_sum(terms, [1000, 500])
    assert (found.to_free_cents, found.total_cents) == (None, 3300)
    assert told(terms, found) == "goods 15.00, delivery 18.00, in all 33.00"


def test_stock_lasts_as_many_days_as_mean_use_takes() -> None:
    assert lasts_until(TODAY, 1000, 100.0) == date(2026, 3, 12)
    assert lasts_until(TODAY, 0, 100.0) == TODAY
    assert lasts_until(TODAY, 1000, 0.0) is None
    assert lasts_until(TODAY, 10**9, 1.0) is None
