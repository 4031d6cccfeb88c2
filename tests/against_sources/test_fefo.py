"""The issue rule against the text of WHO good distribution practices, Annex 5 (read in the source).

"First expiry/first out (FEFO): a distribution procedure in which the stock with the earliest expiry date is
distributed and/or used before an identical stock item with a later expiry date is distributed and/or used."
"""

from datetime import date
from itertools import permutations

from inventory.domain.allocation import Load, Stack, allocate

TODAY = date(2026, 3, 1)
EARLY, MIDDLE, LATE = date(2026, 6, 30), date(2026, 9, 30), date(2027, 2, 28)


def lot(lot_id: int, use_by: date) -> Stack:
    return Stack(lot_id, lot_id, 1, qty=5000, unit_qty=5000, first_received_on=date(2026, 1, lot_id), use_by=use_by)


def test_identical_stock_is_used_up_in_the_order_of_its_expiry_whatever_order_it_arrived_in() -> None:
    loads = [Load(n, (1,), 5000) for n in range(3)]
    for dates in permutations([EARLY, MIDDLE, LATE]):
        lots = [lot(n, use_by) for n, use_by in enumerate(dates, start=1)]
        picked = allocate(loads, lots, TODAY).picks
        assert [pick.stack.use_by for pick in picked] == [EARLY, MIDDLE, LATE]


def test_the_use_by_day_itself_is_still_a_day_of_use() -> None:
    """ISO 15223-1:2021, 5.1.4: the date *after which* the device is not to be used (read in the source)."""
    load = [Load("wash", (1,), 900)]
    assert allocate(load, [lot(1, EARLY)], EARLY).complete
    assert not allocate(load, [lot(1, EARLY)], date(2026, 7, 1)).complete
