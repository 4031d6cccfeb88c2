"""The laws of a document's movements."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.ledger import Entry, Line, Sealed, broken_laws, fold, request_hash, turned
from inventory.domain.quantity import LARGEST
from inventory.domain.vocabulary import DocumentKind, MovementKind

OUTGOING = {
    DocumentKind.USE: [MovementKind.USE, MovementKind.PURGE, MovementKind.WASTE],
    DocumentKind.DISCARD: [MovementKind.DISCARD],
    DocumentKind.RETURN: [MovementKind.RETURN],
}


def line(kind: MovementKind, qty: int, *, holding: int = 1, lot: int = 1, sealed: bool = True) -> Line:
    return Line(holding, lot, sealed, 5_000, kind, qty)


def opening(sealed: int = -5_000, opened: int = 5_000) -> list[Line]:
    return [line(MovementKind.OPENING, sealed), line(MovementKind.OPENING, opened, holding=2, sealed=False)]


def test_a_receipt_brings_and_a_use_takes() -> None:
    assert not broken_laws(DocumentKind.RECEIPT, [line(MovementKind.RECEIPT, 5_000)])
    assert broken_laws(DocumentKind.RECEIPT, [line(MovementKind.RECEIPT, -5_000)])
    for document, kinds in OUTGOING.items():
        for kind in kinds:
            assert not broken_laws(document, [line(kind, -5_000)])
            assert broken_laws(document, [line(kind, 5_000)]) == (f"a {kind} that adds",)


@pytest.mark.parametrize("document", [kind for kind in DocumentKind if kind is not DocumentKind.REVERSAL])
def test_each_kind_of_document_holds_its_own_kinds_of_movement_only(document: DocumentKind) -> None:
    own = set(OUTGOING.get(document, [MovementKind(document)]))
    for kind in MovementKind:
        faults = broken_laws(document, [line(kind, -5_000)])
        assert (f"a {kind} in a document of kind {document}" in faults) is (kind not in own)


def test_a_count_goes_either_way() -> None:
    for qty in (-5_000, 5_000):
        assert not broken_laws(DocumentKind.COUNT, [line(MovementKind.COUNT, qty)])


def test_an_opening_fills_one_unit_with_one_unit() -> None:
    assert not broken_laws(DocumentKind.OPENING, opening())
    assert broken_laws(DocumentKind.OPENING, opening(-10_000, 10_000))
    assert broken_laws(DocumentKind.OPENING, opening(-5_000, 4_000))
    assert broken_laws(DocumentKind.OPENING, opening(5_000, -5_000))


def test_an_opening_turned_round_is_lawful_in_a_reversal_only() -> None:
    assert not broken_laws(DocumentKind.REVERSAL, opening(5_000, -5_000))
    assert broken_laws(DocumentKind.REVERSAL, opening())


def test_a_transfer_neither_loses_nor_makes_nor_opens_anything() -> None:
    def carried(there: int, *, sealed: bool = True, lot: int = 1) -> tuple[str, ...]:
        away = line(MovementKind.TRANSFER, -5_000)
        return broken_laws(
            DocumentKind.TRANSFER, [away, line(MovementKind.TRANSFER, there, holding=2, sealed=sealed, lot=lot)]
        )

    assert not carried(5_000)
    assert carried(10_000)
    assert carried(5_000, sealed=False)  # that would be an opening
    assert carried(5_000, lot=2)  # and that another lot


@pytest.mark.parametrize("qty", [1, 4_999, -5_001])
def test_a_sealed_stack_changes_by_whole_units_an_opened_one_by_any_amount(qty: int) -> None:
    assert broken_laws(DocumentKind.COUNT, [line(MovementKind.COUNT, qty)])
    assert not broken_laws(DocumentKind.COUNT, [line(MovementKind.COUNT, qty, sealed=False)])


def test_a_document_moves_something() -> None:
    assert broken_laws(DocumentKind.COUNT, []) == ("a document without movements",)
    assert broken_laws(DocumentKind.COUNT, [line(MovementKind.COUNT, 0)]) == ("a movement of nothing",)


def test_an_amount_that_no_practice_has_is_refused() -> None:
    assert not broken_laws(DocumentKind.COUNT, [line(MovementKind.COUNT, LARGEST, sealed=False)])
    assert broken_laws(DocumentKind.COUNT, [line(MovementKind.COUNT, LARGEST + 1, sealed=False)])


def test_every_fault_is_named() -> None:
    faults = broken_laws(DocumentKind.RECEIPT, [line(MovementKind.DISCARD, 17), line(MovementKind.RECEIPT, -17)])
    assert len(faults) == 5


entries = st.builds(
    Entry, st.builds(Sealed, st.integers(1, 9), st.integers(1, 9)), st.sampled_from(MovementKind), st.integers(-99, 99)
)


@given(st.lists(entries))
def test_a_document_and_its_reversal_leave_everything_as_it_was(posted: list[Entry]) -> None:
    undone = turned(posted)
    assert turned(undone) == tuple(posted)
    balances = fold(
        (entry.target.lot_id, entry.qty) for entry in (*posted, *undone) if isinstance(entry.target, Sealed)
    )
    assert not any(balances.values())


@given(st.dictionaries(st.text(), st.integers() | st.text() | st.dates() | st.none(), max_size=5))
def test_a_requests_fingerprint_follows_its_content_not_its_order(content: dict[str, object]) -> None:
    reordered = dict(reversed(content.items()))
    assert request_hash("book", content) == request_hash("book", reordered)
    assert request_hash("book", content) != request_hash("undo", content)
    assert request_hash("book", content) != request_hash("book", {**content, "more": 1})


def test_a_date_in_a_request_is_part_of_its_fingerprint() -> None:
    first, second = (request_hash("book", {"on": date(2026, 3, day)}) for day in (1, 2))
    assert first != second
