"""The one writer of movements: whole or not at all, never below nothing, once for one request."""

from contextlib import suppress
from dataclasses import replace

import pytest

from inventory.domain.ledger import Draft, Entry, Opened, Posting, Sealed, turned
from inventory.domain.vocabulary import DocumentKind, MovementKind
from inventory.errors import AlreadyDone, KeyReused, NotAllowed, StockChanged
from inventory.store import ledger
from inventory.store.engine import Store
from tests.shelves import TODAY, Shelves


@pytest.fixture
def shelves(store: Store) -> Shelves:
    return Shelves(store)


def count(target: int | Sealed | Opened, qty: int, part: int = 0) -> Draft:
    return Draft(DocumentKind.COUNT, (Entry(target, MovementKind.COUNT, qty),), part)


def use(target: int | Sealed | Opened, qty: int, part: int = 0) -> Draft:
    return Draft(DocumentKind.USE, (Entry(target, MovementKind.USE, -qty),), part)


def reversal(shelves: Shelves, document_id: int) -> Draft:
    with shelves.practice.reading() as desk:
        entries = turned(ledger.entries_of(desk.session, document_id))
    return Draft(DocumentKind.REVERSAL, entries, reason="wrong", reverses_id=document_id)


def test_a_request_posts_once_and_gives_its_first_result_again(shelves: Shelves) -> None:
    stack = shelves.sealed(shelves.lot(3))
    first = shelves.post(use(stack, 5_000), key="k")
    assert shelves.post(use(stack, 5_000), key="k") == first
    assert shelves.on_hand(stack) == 10_000


def test_a_key_that_comes_with_other_content_is_refused(shelves: Shelves) -> None:
    stack = shelves.sealed(shelves.lot(3))
    shelves.post(use(stack, 5_000), key="k", content="one")
    with pytest.raises(KeyReused):
        shelves.post(use(stack, 5_000), key="k", content="another")
    assert shelves.on_hand(stack) == 10_000


def test_the_book_never_shows_less_than_nothing(shelves: Shelves) -> None:
    lot = shelves.lot(1, number="A-1")
    stack = shelves.sealed(lot)
    with pytest.raises(StockChanged, match="not enough left of lot A-1"):
        shelves.post(use(stack, 10_000))
    shelves.post(use(stack, 5_000))
    with pytest.raises(StockChanged):
        shelves.post(use(stack, 5_000))


def test_stock_found_and_its_use_in_one_request_pass_through_nothing(shelves: Shelves) -> None:
    stack = shelves.sealed(shelves.lot(1))
    shelves.post(count(stack, 5_000, 0), use(stack, 10_000, 2))
    assert shelves.on_hand(stack) == 0


def test_what_is_opened_in_a_request_is_used_in_it(shelves: Shelves) -> None:
    lot = shelves.lot(2)
    unit = Opened(lot, shelves.places["Chair 1"], TODAY)
    other = Opened(lot, shelves.places["Chair 1"], TODAY, 2)
    stack = shelves.sealed(lot)
    entries = [Entry(stack, MovementKind.OPENING, -5_000), Entry(unit, MovementKind.OPENING, 5_000)]
    entries += [Entry(stack, MovementKind.OPENING, -5_000), Entry(other, MovementKind.OPENING, 5_000)]
    shelves.post(Draft(DocumentKind.OPENING, tuple(entries), 1), use(unit, 700, 2))
    assert shelves.stock(lot) == {("Chair 1", TODAY): [4_300, 5_000]}


def test_a_refused_posting_leaves_nothing_even_if_the_caller_goes_on(shelves: Shelves) -> None:
    stack = shelves.sealed(shelves.lot(1))
    before = shelves.movements()
    draft = count(stack, -10_000)
    with shelves.practice.writing() as desk, suppress(StockChanged):  # as a careless caller would
        ledger.post(
            desk.session,
            Posting("k", "h", shelves.person_id, desk.now, desk.now, desk.today, (draft,)),
        )
    assert shelves.movements() == before
    assert shelves.on_hand(stack) == 5_000
    with shelves.practice.reading() as desk:
        assert ledger.already_posted(desk.session, "k", "h") is None


@pytest.mark.parametrize(
    "draft",
    [
        Draft(DocumentKind.COUNT, ()),
        count(1, 1),
        Draft(DocumentKind.RECEIPT, (Entry(1, MovementKind.USE, -5_000),)),
        Draft(DocumentKind.TRANSFER, (Entry(1, MovementKind.TRANSFER, -5_000),)),
        count(4711, 5_000),
        count(Sealed(4711, 1), 5_000),
        count(Sealed(1, 4711), 5_000),
        Draft(DocumentKind.REVERSAL, (Entry(1, MovementKind.RECEIPT, -5_000),), reason="x", reverses_id=4711),
        Draft(DocumentKind.REVERSAL, (Entry(1, MovementKind.RECEIPT, -5_000),), reason="x"),
    ],
)
def test_what_breaks_a_law_is_refused_whole(shelves: Shelves, draft: Draft) -> None:
    stack = shelves.sealed(shelves.lot(1))
    assert stack == 1
    before = shelves.movements()
    with pytest.raises(NotAllowed):
        shelves.post(count(stack, 5_000, 0), replace(draft, part=1))
    assert (shelves.movements(), shelves.on_hand(stack)) == (before, 5_000)


def test_a_request_without_documents_is_refused(shelves: Shelves) -> None:
    with pytest.raises(NotAllowed), shelves.practice.writing() as desk:
        ledger.post(desk.session, Posting("k", "h", 1, desk.now, desk.now, desk.today, ()))


def test_a_reversal_mirrors_its_document_line_by_line(shelves: Shelves) -> None:
    stack = shelves.sealed(shelves.lot(4))
    document = shelves.post(use(stack, 10_000))
    exact = reversal(shelves, document)
    (entry,) = exact.entries
    for wrong in (
        (Entry(stack, MovementKind.USE, 5_000),),
        (Entry(stack, MovementKind.PURGE, 10_000),),
        (entry, Entry(stack, MovementKind.USE, 5_000)),
        (Entry(stack, MovementKind.USE, 10_000, step="wash"),),
    ):
        with pytest.raises(NotAllowed, match="differs from its posting"):
            shelves.post(Draft(DocumentKind.REVERSAL, wrong, reason="wrong", reverses_id=document))
    shelves.post(exact)
    assert shelves.on_hand(stack) == 20_000


def test_a_document_is_reversed_once_and_a_reversal_never(shelves: Shelves) -> None:
    stack = shelves.sealed(shelves.lot(4))
    document = shelves.post(count(stack, -5_000))
    undone = shelves.post(reversal(shelves, document))
    with pytest.raises(AlreadyDone):
        shelves.post(reversal(shelves, document))
    with pytest.raises(NotAllowed, match="not an undoing"):
        shelves.post(reversal(shelves, undone))
    assert shelves.on_hand(stack) == 20_000


def test_a_lot_has_one_sealed_stack_at_a_place(shelves: Shelves) -> None:
    lot = shelves.lot(1)
    shelves.receive(lot, 2)
    assert shelves.stock(lot) == {("Store room", None): [15_000]}
    target = Sealed(lot, shelves.places["Store room"])
    shelves.post(count(target, 5_000))
    assert shelves.stock(lot) == {("Store room", None): [20_000]}


def test_many_lots_are_posted_as_one(shelves: Shelves) -> None:
    item = shelves.item()
    targets = [Sealed(shelves.lot(item=item), shelves.places["Store room"]) for _ in range(30)]
    entries = tuple(Entry(target, MovementKind.RECEIPT, 5_000) for target in targets * 10)
    shelves.post(Draft(DocumentKind.RECEIPT, entries))
    assert [shelves.stock(target.lot_id) for target in targets] == [{("Store room", None): [50_000]}] * 30
