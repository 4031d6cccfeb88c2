"""Several workstations at the same stock at the same moment: nothing is lost or taken twice, nobody waits for ever."""

from contextlib import closing

from inventory.domain.ledger import Draft, Entry, Posting, Sealed
from inventory.domain.vocabulary import DocumentKind, MovementKind
from inventory.errors import AlreadyDone, Conflict, NotAllowed, StockChanged
from inventory.service import correcting, group_posting, moving
from inventory.service.clock import Clock
from inventory.service.moving import Part, Slip
from inventory.service.practice import Desk, Practice
from inventory.service.verifying import verify
from inventory.store.engine import open_store
from inventory.store.ledger import post
from inventory.store.queries.history import sealed_at
from tests.several import at_once
from tests.shelves import TODAY, Shelves

WORKSTATIONS = 4
EACH = 25


def practice(url: str) -> Practice:
    return Practice(open_store(url), Clock())


def draw(url: str, name: str, holding: int, times: int) -> int:
    """Draw 10 mL again and again; counts how often it was there."""
    at = practice(url)
    got = 0
    with closing(at.store):
        for number in range(times):
            use = Draft(DocumentKind.USE, (Entry(holding, MovementKind.USE, -1_000),))
            try:
                with at.writing() as desk:
                    today = desk.today
                    post(desk.session, Posting(f"{name}-{number}", "h", 1, desk.now, desk.now, today, (use,)))
            except StockChanged:
                continue
            got += 1
    return got


def test_bookings_from_several_workstations_on_the_same_lot_lose_nothing(store_url: str) -> None:
    with closing(open_store(store_url)) as store:
        shelves = Shelves(store)
        stack = shelves.sealed(shelves.lot(WORKSTATIONS * EACH, item=shelves.item(unit_qty=1_000)))
        got = at_once(draw, [(store_url, f"w{number}", stack, EACH) for number in range(WORKSTATIONS)])
        assert got == [EACH] * WORKSTATIONS
        assert shelves.on_hand(stack) == 0
        assert verify(shelves.practice).clean


def test_the_last_of_a_lot_is_taken_once(store_url: str) -> None:
    with closing(open_store(store_url)) as store:
        shelves = Shelves(store)
        stack = shelves.sealed(shelves.lot(10, item=shelves.item(unit_qty=1_000)))
        got = at_once(draw, [(store_url, f"w{number}", stack, 10) for number in range(WORKSTATIONS)])
        assert sum(got) == 10
        assert shelves.on_hand(stack) == 0
        assert verify(shelves.practice).clean


def same_form(url: str, holding: int) -> tuple[int | None, bool]:
    at = practice(url)
    with closing(at.store):
        moved = moving.open_unit(at, holding, Slip("the same form", "AB", on=TODAY))
        return moved.document_id, moved.again


def test_one_form_sent_by_two_posts_once(store_url: str) -> None:
    with closing(open_store(store_url)) as store:
        shelves = Shelves(store)
        lot = shelves.lot(5)
        results = at_once(same_form, [(store_url, shelves.sealed(lot))] * WORKSTATIONS)
        assert len({document for document, _ in results}) == 1
        assert sorted(again for _, again in results) == [False, True, True, True]
        assert shelves.stock(lot)["Store room", TODAY] == [5_000]


def undo(url: str, name: str, document: int) -> bool:
    at = practice(url)
    with closing(at.store):
        try:
            correcting.undo(at, document, reason="wrong", by="AB", request_key=name)
        except AlreadyDone:
            return False
    return True


def test_of_several_who_undo_the_same_document_one_does(store_url: str) -> None:
    with closing(open_store(store_url)) as store:
        shelves = Shelves(store)
        lot = shelves.lot(1)
        document = shelves.receive(lot, 3)
        done = at_once(undo, [(store_url, f"w{number}", document) for number in range(WORKSTATIONS)])
        assert sorted(done) == [False, False, False, True]
        assert shelves.stock(lot) == {("Store room", None): [5_000]}
        assert verify(shelves.practice).clean


def carry(url: str, name: str, lots: list[int], there: str, back: str) -> int:
    """Carry one unit of each lot there and back; counts how often somebody else was faster."""
    at = practice(url)
    late = 0
    with closing(at.store):
        for number in range(10):
            for way, (place, to) in enumerate(((there, back), (back, there))):
                with at.reading() as desk:
                    parts = [Part(one, 1_000) for lot in lots if (one := stack_of(desk, lot, place))]
                try:
                    moving.transfer(at, parts, to, Slip(f"{name}-{number}-{way}", "AB"))
                except StockChanged:
                    late += 1
    return late


def stack_of(desk: Desk, lot: int, place: str) -> int:
    found = sealed_at(desk.session, lot, desk.place(place).id or 0)
    return found[0] if found else 0


def test_stock_carried_to_and_fro_by_several_is_never_lost_and_nobody_waits_for_ever(store_url: str) -> None:
    """In opposite directions and in opposite order of lots: where a careless order of locks would end in a deadlock."""
    with closing(open_store(store_url)) as store:
        shelves = Shelves(store)
        item = shelves.item(unit_qty=1_000)
        lots = [shelves.lot(50, item=item) for _ in range(3)]
        for lot in lots:
            shelves.receive(lot, 50, "Chair 1")
        ways = [("Store room", "Chair 1"), ("Chair 1", "Store room")]
        at_once(
            carry,
            [
                (store_url, f"w{number}", lots[:: 1 if number < 2 else -1], *ways[number % 2])
                for number in range(WORKSTATIONS)
            ],
        )
        for lot in lots:
            assert sum(sum(there) for there in shelves.stock(lot).values()) == 100_000
        assert verify(shelves.practice).clean


def found_everywhere(url: str, name: str, lots: list[int], place_id: int) -> bool:
    """Count in stock of lots that have no stack at a place yet."""
    at = practice(url)
    entries = tuple(Entry(Sealed(lot, place_id), MovementKind.COUNT, 1_000) for lot in lots)
    with closing(at.store), at.writing() as desk:
        draft = Draft(DocumentKind.COUNT, entries)
        post(desk.session, Posting(name, "h", 1, desk.now, desk.now, desk.today, (draft,)))
    return True


def test_stacks_that_several_make_at_the_same_moment_are_made_once(store_url: str) -> None:
    with closing(open_store(store_url)) as store:
        shelves = Shelves(store)
        item = shelves.item(unit_qty=1_000)
        lots = [shelves.lot(item=item) for _ in range(6)]
        chair = shelves.places["Chair 1"]
        orders = [lots, lots[::-1], lots[3:] + lots[:3], lots]
        assert all(at_once(found_everywhere, [(store_url, f"w{n}", order, chair) for n, order in enumerate(orders)]))
        for lot in lots:
            assert shelves.stock(lot) == {("Chair 1", None): [4_000]}
        assert verify(shelves.practice).clean


def count(url: str, name: str, holding: int, content: int) -> bool:
    at = practice(url)
    with closing(at.store):
        try:
            moving.correct_count(at, holding, content, Slip(name, "AB", reason="count"), book_said=50_000)
        except Conflict:
            return False
    return True


def test_a_count_and_a_booking_at_the_same_moment_do_not_mix(store_url: str) -> None:
    """Counted: 4 units less than the book. Either the booking came first and the count is refused, or after it."""
    with closing(open_store(store_url)) as store:
        shelves = Shelves(store)
        for attempt in range(4):
            stack = shelves.sealed(shelves.lot(50, item=shelves.item(unit_qty=1_000)))
            drawn, counted = at_once(
                either, [(store_url, f"draw {attempt}", stack, True), (store_url, f"count {attempt}", stack, False)]
            )
            assert drawn == 1
            assert shelves.on_hand(stack) == (45_000 if counted else 49_000)
        assert verify(shelves.practice).clean


def either(url: str, name: str, holding: int, drawing: bool) -> int:
    return draw(url, name, holding, 1) if drawing else count(url, name, holding, 46_000)


def send_away(url: str, name: str, holding: int) -> bool:
    """Send one unit to another practice under the same reference as everybody else; whether it went."""
    at = practice(url)
    with closing(at.store):
        try:
            group_posting.send(at, [Part(holding, 1_000)], "T-1", "B", Slip(request_key=name, by="AB"))
        except NotAllowed:
            return False
        return True


def test_a_transfer_between_practices_is_sent_once_though_several_send_it(store_url: str) -> None:
    with closing(open_store(store_url)) as store:
        shelves = Shelves(store)
        stack = shelves.sealed(shelves.lot(10, item=shelves.item(unit_qty=1_000)))
        went = at_once(send_away, [(store_url, f"w{number}", stack) for number in range(WORKSTATIONS)])
        assert (sum(went), shelves.on_hand(stack)) == (1, 9_000)
