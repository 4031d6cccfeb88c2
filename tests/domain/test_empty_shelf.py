"""An item of which nothing is left is still planned for, also where opening limits its life."""

from datetime import date

from inventory.domain.demand import Demand, Rate, StepUse, Stream
from inventory.domain.reordering import Position, propose
from inventory.domain.shelf import OpenedLife
from inventory.domain.supply import Supply
from inventory.domain.vocabulary import BaseUnit

TODAY = date(2027, 3, 10)


def test_an_item_that_has_run_out_is_proposed_although_there_is_no_parcel_to_walk() -> None:
    demand = Demand((Stream("final", Rate(2.0), (StepUse(1000),)),), (), 0)
    bottle = OpenedLife(100_000, 28)
    found = propose(
        Position("D", "Disinfectant", BaseUnit.CML, 100_000, (), demand, Supply("S", 1, 2300, 7), opened_life=bottle),
        TODAY,
    )
    assert found.packs >= 1
    assert found.counted == 0
