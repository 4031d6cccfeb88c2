"""A lot on hold is blocked everywhere at once, with a reason and initials, until somebody releases it."""

from contextlib import closing
from typing import Any

import pytest
from sqlalchemy import select
from sqlmodel import col

from inventory.domain.vocabulary import LateReason
from inventory.errors import AlreadyDone, BadInput, NotFound
from inventory.service import holding, moving
from inventory.service.clock import Clock
from inventory.service.moving import Part
from inventory.service.practice import Practice
from inventory.service.verifying import verify
from inventory.store.engine import open_store
from inventory.store.queries.stock import stands
from inventory.store.tables import Change, Hold
from tests.several import at_once
from tests.shelves import Shelves


def hold(shelves: Shelves, lot_id: int, **said: Any) -> holding.HoldMade:
    return holding.hold(shelves.practice, lot_id=lot_id, **{"reason": "sets slowly", "by": "ab", **said})


def release(shelves: Shelves, lot_id: int, **said: Any) -> None:
    holding.release(shelves.practice, lot_id=lot_id, **{"reason": "tested", "by": "AB", **said})


def blocked(shelves: Shelves, lot_id: int) -> set[LateReason | None]:
    with shelves.practice.reading() as desk:
        return {stand.blocked for stand in stands(desk.session, lot_id=lot_id)}


def test_a_lot_on_hold_is_blocked_at_every_place_sealed_and_opened(shelves: Shelves) -> None:
    lot, other = shelves.lot(4), shelves.lot(1)
    moving.transfer(shelves.practice, [Part(shelves.sealed(lot), 5_000)], "Chair 1", shelves.slip())
    moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip())
    made = hold(shelves, lot, reason=" sets slowly ")
    assert (made.lot_id, made.at) == (lot, shelves.hands.now)
    assert blocked(shelves, lot) == {LateReason.HELD}
    assert blocked(shelves, other) == {None}


def test_what_arrives_of_a_lot_on_hold_is_on_hold_too(shelves: Shelves) -> None:
    lot = shelves.lot()
    hold(shelves, lot)
    shelves.receive(lot, 3, "Chair 2")
    assert blocked(shelves, lot) == {LateReason.HELD}


def test_a_released_lot_may_be_used_again(shelves: Shelves) -> None:
    lot = shelves.lot(1)
    hold(shelves, lot)
    release(shelves, lot)
    assert blocked(shelves, lot) == {None}
    hold(shelves, lot, reason="again")
    assert blocked(shelves, lot) == {LateReason.HELD}


def test_a_lot_is_held_once_and_released_once(shelves: Shelves) -> None:
    lot = shelves.lot(1)
    with pytest.raises(AlreadyDone, match="not on hold"):
        release(shelves, lot)
    hold(shelves, lot)
    with pytest.raises(AlreadyDone, match="on hold already"):
        hold(shelves, lot)


def test_who_held_and_who_released_it_and_why_stays_on_record(shelves: Shelves) -> None:
    lot = shelves.lot(1)
    hold(shelves, lot)
    release(shelves, lot)
    with shelves.practice.reading() as desk:
        log = desk.session.execute(select(Change).where(col(Change.subject) == "lot")).scalars().all()
        row = desk.session.execute(select(Hold)).scalar_one()
        assert [(change.old, change.new, change.reason) for change in log] == [
            ("no", "yes", "sets slowly"),
            ("yes", "no", "tested"),
        ]
        assert (row.person_id, row.released_by_id) == (shelves.person_id, shelves.person_id)
        assert (row.reason, row.release_reason, row.released_at) == ("sets slowly", "tested", shelves.hands.now)


@pytest.mark.parametrize(
    "said", [{"reason": " "}, {"by": ""}, {"by": "ZZ"}, {"reason": "x" * 501}, {"reason": "a\x1bb"}]
)
def test_a_hold_needs_a_reason_and_known_initials(shelves: Shelves, said: dict[str, str]) -> None:
    lot = shelves.lot(1)
    with pytest.raises(BadInput):
        hold(shelves, lot, **said)
    assert blocked(shelves, lot) == {None}
    hold(shelves, lot)
    with pytest.raises(BadInput):
        release(shelves, lot, **said)
    assert blocked(shelves, lot) == {LateReason.HELD}


def test_a_lot_that_does_not_exist_is_not_found(shelves: Shelves) -> None:
    for deed in (hold, release):
        with pytest.raises(NotFound):
            deed(shelves, 4711)


def hold_at(url: str, lot_id: int) -> bool:
    with closing(open_store(url)) as store:
        try:
            holding.hold(Practice(store, Clock()), lot_id=lot_id, reason="sets slowly", by="AB")
        except AlreadyDone:
            return False
    return True


def test_of_two_who_hold_a_lot_at_the_same_moment_one_is_told_that_it_is_done(store_url: str) -> None:
    with closing(open_store(store_url)) as store:
        shelves = Shelves(store)
        for lot in [shelves.lot(1) for _ in range(4)]:
            assert sorted(at_once(hold_at, [(store_url, lot)] * 2)) == [False, True]
            assert verify(shelves.practice).clean
