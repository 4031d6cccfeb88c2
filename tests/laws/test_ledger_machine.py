"""Whatever happens to stock, in whatever order: the book's balances are the sums of what happened, and nothing is lost.

A machine receives, opens, uses, books visits, carries, discards, returns, counts and undoes at random, and keeps a
plain dictionary of what should be where. After each step the store has to agree with it; what the machine knows to be
impossible has to be refused, and what it knows to be possible has to succeed.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from sqlalchemy import func, select
from sqlmodel import col

from inventory.domain.ledger import Draft, Entry, Opened
from inventory.domain.vocabulary import DocumentKind, MovementKind, VisitState
from inventory.errors import AlreadyDone, NotAllowed, StockChanged
from inventory.service import correcting, moving
from inventory.service.moving import Part
from inventory.service.usage import usage
from inventory.service.verifying import verify
from inventory.store.engine import open_store
from inventory.store.queries import history
from inventory.store.tables import Document, Holding, Movement, Visit
from tests.shelves import RECEIVED, Shelves
from tests.stores import NewStores

WHERE = ("Store room", "Chair 1", "Set aside", "Reprocessing")
places = st.sampled_from(WHERE)
shares = st.floats(0.01, 1)
picks = st.integers(0, 10**6)


@dataclass
class Done:
    """A document as the machine remembers it."""

    kind: DocumentKind
    at: datetime
    deltas: dict[int, int]
    visit_id: int | None = None
    order: int = 0
    undone: bool = False
    put_back: bool = False  # a count movement that an undoing posted, to keep a later count in force


@dataclass
class Known:
    """What the machine knows of a holding."""

    lot_id: int
    place: str
    opened_on: date | None
    unit_qty: int


class Ledger(RuleBasedStateMachine):
    """The machine; ``stores`` is put in by the test."""

    stores: NewStores

    def __init__(self) -> None:
        super().__init__()
        self.url = self.stores.make()
        self.store = open_store(self.url)
        self.shelves = Shelves(self.store)
        self.known: dict[int, Known] = {}
        self.balance: dict[int, int] = defaultdict(int)
        self.done: dict[int, Done] = {}
        self.last: Callable[[], Any] | None = None

    def teardown(self) -> None:
        try:
            result = verify(self.shelves.practice)
            assert result.clean, result.findings
            assert result.movements == sum(1 for _ in self.lines(self.done))
            self.told_by_use_and_waste()
        finally:
            self.store.close()
            self.stores.drop(self.url)

    def told_by_use_and_waste(self) -> None:
        """Before the first movement there was nothing, after the last what there is; the headings say the rest."""
        today = self.shelves.hands.now.date()
        told = usage(self.shelves.practice, RECEIVED, today).items
        assert all(item.before == 0 for item in told)
        assert sum(item.after for item in told) == sum(self.balance.values())

    # What happens

    @initialize()
    def stock(self) -> None:
        cartridge, tray = self.shelves.item(), self.shelves.tray(reusable=True)
        self.lots = {
            self.shelves.lot(item=item): unit for item, unit in ((cartridge, 5_000), (cartridge, 5_000), (tray, 1))
        }
        for lot in self.lots:
            self.remember(self.shelves.receive(lot, 3))

    @rule(pick=picks, units=st.integers(1, 4), place=places)
    def receive(self, pick: int, units: int, place: str) -> None:
        lot = list(self.lots)[pick % len(self.lots)]
        number = self.shelves.receive(lot, units, place)
        self.expect(self.remember(number), [units * self.lots[lot]])

    @rule(pick=picks, place=st.sampled_from(["", *WHERE]))
    def open(self, pick: int, place: str) -> None:
        sealed = self.holdings(lambda known: known.opened_on is None and known.unit_qty > 1)
        holding = sealed[pick % len(sealed)]
        slip = self.shelves.slip()
        self.post(
            lambda: moving.open_unit(self.shelves.practice, holding, slip, to_place=place or None),
            [-5_000, 5_000] if self.balance[holding] else None,
        )

    @rule(pick=picks, share=shares)
    def use(self, pick: int, share: float) -> None:
        holding, qty = self.some(pick, share)
        if qty:
            self.expect(self.remember(self.shelves.use(holding, qty)), [-qty])

    @rule(pick=picks, share=shares)
    def book(self, pick: int, share: float) -> None:
        """A visit that opens a fresh cartridge and draws from it."""
        holding = self.filled(lambda known: known.opened_on is None and known.unit_qty > 1, pick)
        if holding is None:
            return
        known = self.known[holding]
        unit = Opened(known.lot_id, self.shelves.places["Chair 1"], self.shelves.hands.now.date())
        qty = max(1, int(share * 5_000))
        visit = self.shelves.visit(state=VisitState.DONE)
        opening = (Entry(holding, MovementKind.OPENING, -5_000), Entry(unit, MovementKind.OPENING, 5_000))
        first = self.shelves.post(
            Draft(DocumentKind.OPENING, opening, 1, visit_id=visit),
            Draft(DocumentKind.USE, (Entry(unit, MovementKind.USE, -qty),), 2, visit_id=visit),
        )
        self.expect(self.remember(first), [-5_000, 5_000])
        self.expect(self.remember(first + 1), [-qty])

    @rule(pick=picks, share=shares, place=places)
    def carry(self, pick: int, share: float, place: str) -> None:
        holding, qty = self.some(pick, share, whole_opened=True)
        if qty and self.known[holding].place != place and not (self.known[holding].unit_qty > 1 and place == WHERE[-1]):
            slip = self.shelves.slip()
            parts = [Part(holding, qty)]
            self.post(lambda: moving.transfer(self.shelves.practice, parts, place, slip), [-qty, qty])

    @rule(pick=picks, share=shares, back=st.booleans())
    def take_away(self, pick: int, share: float, back: bool) -> None:
        holding, qty = self.some(pick, share)
        if qty:
            slip = self.shelves.slip(reason="test", proof="CN 1")
            verb = moving.return_to_supplier if back else moving.discard
            self.post(lambda: verb(self.shelves.practice, [Part(holding, qty)], slip), [-qty])

    @rule(pick=picks)
    def write_off(self, pick: int) -> None:
        holding = self.filled(lambda known: known.opened_on is not None, pick)
        if holding is not None:
            slip = self.shelves.slip()
            self.post(lambda: moving.write_off_rest(self.shelves.practice, holding, slip), [-self.balance[holding]])

    @rule(pick=picks, share=shares, more=st.integers(-2, 2), minutes=st.integers(0, 3))
    def count(self, pick: int, share: float, more: int, minutes: int) -> None:
        self.shelves.hands.now += timedelta(minutes=minutes)
        holding = self.holdings(lambda _: True)[pick % len(self.known)]
        known = self.known[holding]
        if known.opened_on is None:
            content = max(0, self.balance[holding] + more * known.unit_qty)
        else:
            content = int(share * known.unit_qty)
        slip = self.shelves.slip(reason="count")
        differs = content != self.balance[holding]
        self.post(
            lambda: moving.correct_count(self.shelves.practice, holding, content, slip),
            [content - self.balance[holding]] if differs else [],
        )
        assert self.balance[holding] == content

    @rule(hours=st.integers(1, 40))
    def time_passes(self, hours: int) -> None:
        self.shelves.hands.now += timedelta(hours=hours)

    @rule(pick=picks)
    def too_much(self, pick: int) -> None:
        holding = self.holdings(lambda _: True)[pick % len(self.known)]
        with pytest.raises(StockChanged):
            self.shelves.use(holding, self.balance[holding] + self.known[holding].unit_qty)

    @precondition(lambda self: self.last is not None)
    @rule()
    def press_enter_again(self) -> None:
        assert self.last is not None
        assert self.last().again

    @rule(pick=picks)
    def undo(self, pick: int) -> None:
        self.take_back(list(self.done)[pick % len(self.done)])

    @rule(back=st.integers(1, 4))
    def undo_something_recent(self, back: int) -> None:
        self.take_back(list(self.done)[-min(back, len(self.done))])

    def take_back(self, number: int) -> None:
        key = self.shelves.key()

        def deed() -> correcting.Undone:
            return correcting.undo(self.shelves.practice, number, reason="test", by="AB", request_key=key)

        chosen = self.to_undo(number)
        if self.done[number].kind is DocumentKind.REVERSAL or not self.possible(chosen):
            with pytest.raises(NotAllowed):
                deed()
        elif self.done[number].undone and chosen == number:
            with pytest.raises(AlreadyDone):
                deed()
        else:
            before = dict(self.balance)
            result = deed()
            assert result.undone == (chosen,)
            for made in result.documents:
                self.remember(made)
                self.done[made].put_back = self.done[made].kind is DocumentKind.COUNT
            self.done[chosen].undone = True
            counted = self.counted_after(self.done[chosen])
            for holding, delta in self.done[chosen].deltas.items():
                assert self.balance[holding] == before[holding] - (0 if holding in counted else delta)
            self.last = deed

    # What has to be true after each step

    @invariant()
    def balances_are_what_happened(self) -> None:
        with self.shelves.practice.reading() as desk:
            found = {row.id: row.on_hand for row in desk.session.execute(select(Holding)).scalars()}
            sums: dict[int, int] = {
                holding: int(total)
                for holding, total in desk.session.execute(
                    select(col(Movement.holding_id), func.sum(col(Movement.qty))).group_by(col(Movement.holding_id))
                )
            }
        assert {holding: qty for holding, qty in found.items() if qty} == {k: v for k, v in self.balance.items() if v}
        assert found == {holding: sums.get(holding, 0) for holding in found}

    @invariant()
    def nothing_is_less_than_nothing_or_more_than_full_or_broken(self) -> None:
        for holding, known in self.known.items():
            assert self.balance[holding] >= 0
            if known.opened_on is None:
                assert self.balance[holding] % known.unit_qty == 0
            else:
                assert self.balance[holding] <= known.unit_qty

    @invariant()
    def what_came_is_what_went_and_what_is_there(self) -> None:
        with self.shelves.practice.reading() as desk:
            for lot in getattr(self, "lots", ()):
                sums: Counter[str] = Counter(history.sums_of_lot(desk.session, lot))
                there = sum(self.balance[holding] for holding, known in self.known.items() if known.lot_id == lot)
                went = -sum(sums[kind] for kind in ("use", "purge", "waste", "discard", "return"))
                assert sums["receipt"] + sums["count"] == there + went
                assert sums["transfer"] == sums["opening"] == 0

    @invariant()
    def a_visit_is_done_while_its_booking_stands(self) -> None:
        standing = {
            one.visit_id
            for one in self.done.values()
            if one.kind is DocumentKind.USE and one.visit_id and not one.undone
        }
        with self.shelves.practice.reading() as desk:
            visits = desk.session.execute(select(Visit)).scalars().all()
            assert {visit.id for visit in visits if visit.state is VisitState.DONE} == standing

    # The machine's memory

    def post(self, deed: Callable[[], moving.Moved], expected: list[int] | None) -> None:
        """Do something, or see it refused where nothing is left (None)."""
        if expected is None:
            with pytest.raises(StockChanged):
                deed()
            return
        moved = deed()
        assert not moved.again
        assert [line.qty for line in moved.lines] == expected
        if moved.document_id is not None:
            self.remember(moved.document_id)
            self.last = deed

    def remember(self, number: int) -> list[history.Line]:
        """Take a document into the machine's memory."""
        with self.shelves.practice.reading() as desk:
            lines = history.lines(desk.session, [number])[number]
            document = desk.session.get_one(Document, number)
            self.done[number] = Done(document.kind, document.happened_at, {}, document.visit_id, order=len(self.done))
        for line in lines:
            self.known[line.holding_id] = Known(line.lot_id, line.place, line.opened_on, line.unit_qty)
            self.balance[line.holding_id] += line.qty
            deltas = self.done[number].deltas
            deltas[line.holding_id] = deltas.get(line.holding_id, 0) + line.qty
        return list(lines)

    def expect(self, lines: list[history.Line], qtys: list[int]) -> None:
        assert [line.qty for line in lines] == qtys

    def lines(self, numbers: Iterable[int]) -> Iterable[int]:
        with self.shelves.practice.reading() as desk:
            for lines in history.lines(desk.session, list(numbers)).values():
                yield from (line.qty for line in lines)

    def holdings(self, which: Callable[[Known], bool]) -> list[int]:
        return [holding for holding, known in self.known.items() if which(known)]

    def filled(self, which: Callable[[Known], bool], pick: int) -> int | None:
        found = [holding for holding in self.holdings(which) if self.balance[holding]]
        return found[pick % len(found)] if found else None

    def some(self, pick: int, share: float, *, whole_opened: bool = False) -> tuple[int, int]:
        """Some of what stands somewhere: whole units where sealed, any amount (or all of it) where opened."""
        holding = self.filled(lambda _: True, pick)
        if holding is None:
            return 0, 0
        known, there = self.known[holding], self.balance[holding]
        if known.opened_on is None:
            return holding, max(1, int(share * (there // known.unit_qty))) * known.unit_qty
        return holding, there if whole_opened else max(1, int(share * there))

    def to_undo(self, number: int) -> int:
        """Which document undoing this one turns: of a booking its use, while that stands."""
        visit = self.done[number].visit_id
        if visit is not None and self.done[number].kind is not DocumentKind.REVERSAL:
            booking = [n for n, one in self.done.items() if one.visit_id == visit and one.kind is DocumentKind.USE]
            return next((n for n in booking if not self.done[n].undone), number)
        return number

    def counted_after(self, document: Done) -> set[int]:
        return {
            holding
            for one in self.done.values()
            if one.kind is DocumentKind.COUNT and not one.undone and one.visit_id is None and one.at > document.at
            if not one.put_back
            for holding in one.deltas
        }

    def relied_on(self, count: Done) -> bool:
        """Whether what was counted was left as it is by an undoing of something earlier."""
        return not count.put_back and any(
            one.put_back and not one.undone and one.order > count.order and one.deltas.keys() & count.deltas.keys()
            for one in self.done.values()
        )

    def possible(self, number: int) -> bool:
        """Whether what a document did can be taken back now."""
        document = self.done[number]
        if document.undone:
            return True
        if document.kind is DocumentKind.COUNT and document.visit_id is None and self.relied_on(document):
            return False
        counted = self.counted_after(document)
        for holding, delta in document.deltas.items():
            known = self.known[holding]
            after = self.balance[holding] - (0 if holding in counted else delta)
            touched = any(
                one.order > document.order and holding in one.deltas and not one.undone
                for one in self.done.values()
                if one.kind is not DocumentKind.REVERSAL
            )
            if delta and after < 0:
                return False
            if known.opened_on is not None and delta:
                if after > known.unit_qty:
                    return False
                if document.kind is DocumentKind.OPENING and touched:
                    return False
        return True


def run(stores: NewStores, examples: int, steps: int) -> None:
    Ledger.stores = stores
    run_state_machine_as_test(
        Ledger, settings=settings(max_examples=examples, stateful_step_count=steps, deadline=None)
    )


@pytest.mark.parametrize("new_stores", ["sqlite"], indirect=True)
def test_the_book_is_the_sum_of_what_happened(new_stores: NewStores) -> None:
    run(new_stores, examples=12, steps=30)


@pytest.mark.parametrize("new_stores", ["postgresql"], indirect=True)
def test_the_book_is_the_sum_of_what_happened_on_a_server_too(new_stores: NewStores) -> None:
    run(new_stores, examples=5, steps=20)
