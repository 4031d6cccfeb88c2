"""What stands where, the levels that operatories have of their own, and topping them up from the store room."""

from dataclasses import dataclass
from datetime import timedelta

import pytest

from inventory.domain.vocabulary import BaseUnit, DocumentKind, ItemKind, WayOfUse
from inventory.errors import BadInput, KeyReused, NotAllowed, NotFound
from inventory.service import holding, moving, places, tracing
from inventory.service.moving import Part
from inventory.store.engine import Store
from tests.shelves import TODAY, Shelves

YESTERDAY = TODAY - timedelta(days=1)


@dataclass
class Operatory(Shelves):
    """The little practice with two articles."""

    wash: int = 0
    tips: int = 0


@pytest.fixture
def chair(store: Store) -> Operatory:
    """Chair 1 has a level of three cartridges of one material, and one of five tips."""
    shelves = Operatory(store)
    shelves.wash = shelves.item(code="WASH", name="Wash")
    shelves.tips = shelves.item(
        code="TIP", name="Tip", kind=ItemKind.TIP, base=BaseUnit.PIECE, unit_qty=1, unit_name="tip",
        way_of_use=WayOfUse.STEP,
    )  # fmt: skip
    places.set_level(shelves.practice, "chair 1", "wash", 3, by="AB")
    places.set_level(shelves.practice, "Chair 1", "TIP", 5, by="AB")
    return shelves


def carried(done: places.ToppedUp) -> list[tuple[str, str, int]]:
    return [(line.code, one.lot_number, one.units) for line, one in done.picks]


def test_an_operatory_is_topped_up_from_the_store_room_in_one_entry_earliest_expiry_first(chair: Operatory) -> None:
    late = chair.lot(4, item=chair.wash, number="LATE", use_by=TODAY + timedelta(days=400))
    chair.lot(1, item=chair.wash, number="SOON", use_by=TODAY + timedelta(days=40))
    chair.lot(2, item=chair.tips, number="T")
    chair.lot(1, "Chair 1", item=chair.wash, number="THERE")
    planned = places.plan(chair.practice, "Chair 1")
    assert carried(planned) == [("TIP", "T", 2), ("WASH", "SOON", 1), ("WASH", "LATE", 1)]
    assert [(line.code, line.lacks) for line in planned.lacking] == [("TIP", 3)]
    done = places.top_up(chair.practice, "Chair 1", chair.slip())
    assert carried(done) == carried(planned)
    assert chair.stock(late) == {("Store room", None): [15_000], ("Chair 1", None): [5_000]}
    (entry,) = tracing.history(chair.practice, tracing.Filter(kind=DocumentKind.TRANSFER))
    assert (entry.document.document_id, len(entry.lines)) == (done.document_id, 6)


def test_topping_up_twice_carries_nothing_twice(chair: Operatory) -> None:
    lot = chair.lot(9, item=chair.wash)
    slip = chair.slip()
    first = places.top_up(chair.practice, "Chair 1", slip)
    again = places.top_up(chair.practice, "chair 1", slip)
    assert (again.document_id, again.again, carried(again)) == (first.document_id, True, carried(first))
    assert places.top_up(chair.practice, "Chair 1", chair.slip()).document_id is None
    assert chair.stock(lot)["Chair 1", None] == [15_000]
    with pytest.raises(KeyReused):
        places.top_up(chair.practice, "Chair 1", chair.slip(request_key=slip.request_key, reason="other"))


def test_neither_expired_nor_held_stock_is_carried_and_what_is_open_does_not_count(chair: Operatory) -> None:
    wash = chair.wash
    chair.lot(5, item=wash, use_by=YESTERDAY)
    held = chair.lot(5, item=wash)
    holding.hold(chair.practice, lot_id=held, reason="sets slowly", by="AB")
    chair.lot(2, item=wash, number="GOOD", use_by=TODAY)
    chair.lot(5, "Chair 2", item=wash)
    opened = chair.lot(1, "Chair 1", item=wash)
    moving.open_unit(chair.practice, chair.sealed(opened, "Chair 1"), chair.slip())
    done = places.top_up(chair.practice, "Chair 1", chair.slip())
    assert carried(done) == [("WASH", "GOOD", 2)]
    assert next(line.lacks for line in done.lacking if line.code == "WASH") == 1


def test_the_places_are_listed_in_walk_order_with_what_stands_there(chair: Operatory) -> None:
    lot = chair.lot(3, item=chair.wash, use_by=YESTERDAY)
    moving.transfer(chair.practice, [Part(chair.sealed(lot), 5_000)], "Set aside", chair.slip())
    found = {line.name: line for line in places.places(chair.practice)}
    assert list(found)[:2] == ["Store room", "Chair 1"]
    assert (found["Store room"].lots, found["Store room"].blocked) == (1, 1)
    assert (found["Chair 1"].levels, found["Chair 1"].below) == (2, 2)
    there = places.place(chair.practice, "set aside")
    assert [(line.lot_id, line.sealed_units) for line in there.lines] == [(lot, 1)]


def test_a_level_is_changed_and_taken_away_and_both_are_logged(chair: Operatory) -> None:
    assert places.set_level(chair.practice, "Chair 1", "WASH", 4, by="AB").level == 4
    assert places.set_level(chair.practice, "Chair 1", "WASH", 0, by="AB").level == 0
    places.set_level(chair.practice, "Chair 1", "WASH", 0, by="AB")
    assert [line.code for line in places.place(chair.practice, "Chair 1").levels] == ["TIP"]


def test_what_can_not_be_is_refused(chair: Operatory) -> None:
    practice = chair.practice
    with pytest.raises(NotAllowed, match="no operatory"):
        places.set_level(practice, "Store room", "WASH", 2, by="AB")
    with pytest.raises(NotFound):
        places.set_level(practice, "Chair 1", "NOTHING", 2, by="AB")
    with pytest.raises(BadInput, match="units"):
        places.set_level(practice, "Chair 1", "WASH", -1, by="AB")
    with pytest.raises(NotAllowed, match="no levels"):
        places.plan(practice, "Chair 2")
    with pytest.raises(BadInput, match="not today"):
        places.top_up(practice, "Chair 1", chair.slip(on=YESTERDAY))
