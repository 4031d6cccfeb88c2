"""Golden cases of ageing stock, worked out by hand from the rule: weekly use on days 0, 7, ..., dates inclusive."""

from datetime import date, timedelta

import numpy as np

from inventory.domain.shelf import Outlook, Parcel, Uses, walk

TODAY = date(2026, 3, 2)


def day(n: int) -> date:
    return TODAY + timedelta(days=n)


def weekly(parcels: list[Parcel], use: int = 10, weeks: int = 30) -> Outlook:
    return walk(parcels, Uses(tuple(range(0, 7 * weeks, 7)), 7 * weeks, np.full((1, weeks), use)), TODAY)


def test_two_weeks_of_use_just_empty_a_lot_that_ends_on_day_13() -> None:
    # 20 mL ending on day 13 and 50 mL ending on day 200, 10 mL a week: nothing wasted (computed from the rule).
    assert weekly([Parcel("a", 20, day(13)), Parcel("b", 50, day(200))]).lost == 0


def test_of_forty_half_is_wasted_and_the_cover_is_seven_weeks_not_nine() -> None:
    # 40 mL ending on day 13: used on days 0 and 7 only (computed from the rule).
    outlook = weekly([Parcel("a", 40, day(13)), Parcel("b", 50, day(200))])
    assert {f.key: f.lost for f in outlook.fates} == {"a": 20, "b": 0}
    assert outlook.usable == 90
    assert outlook.runs_out == (day(49), day(49), day(49))  # the eighth use is the first one short


def test_expired_stock_is_on_hand_but_not_usable() -> None:
    # All dated lots expired: on hand 60, usable 0; both are shown, and ordering looks at what is usable.
    outlook = weekly([Parcel("a", 25, day(-1)), Parcel("b", 35, day(-400))])
    assert (outlook.expired, outlook.usable) == (60, 0)
    assert outlook.runs_out[1] == TODAY


def test_a_lot_whose_date_was_not_read_never_expires_by_itself_and_is_issued_last() -> None:
    outlook = weekly([Parcel("unread", 50), Parcel("dated", 50, day(900))], weeks=6)
    assert [f.key for f in outlook.fates] == ["dated", "unread"]
    assert weekly([Parcel("unread", 50)], use=0, weeks=300).lost == 0
