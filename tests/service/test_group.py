"""Several practices together: what they have, what one would use up for another, and the two halves of a transfer."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing
from dataclasses import replace
from datetime import date, timedelta
from itertools import count

import pytest

from inventory.domain.vocabulary import DocumentKind, OrderState
from inventory.errors import BadInput, NeedsConfirmation, NotAllowed, NotFound, StockChanged
from inventory.service import (
    catalogue,
    correcting,
    group,
    group_posting,
    holding,
    ordering,
    receiving,
    setting_up,
    tracing,
)
from inventory.service.delivery_lines import Arrival, Delivery
from inventory.service.group import Group
from inventory.service.group_posting import Taken
from inventory.service.lots import UseBy
from inventory.service.moving import Part, Slip
from inventory.service.practice import Practice
from inventory.service.tracing import Filter
from inventory.service.verifying import verify
from inventory.store.engine import Store, open_store
from tests.clinic import FAR, Clinic
from tests.service.catalogue_samples import BY, LIGHT, SUPPLIER, TODAY, box, new_clock
from tests.stores import NewStores

SOON = TODAY + timedelta(days=50)
LITTLE = 40  # courses


def a_practice(store: Store) -> None:
    """Build a practice that has what it needs, bought from a supplier."""
    clinic = Clinic.stocked(store)
    catalogue.add_supplier(clinic.practice, SUPPLIER, by=BY)
    catalogue.save_supply(clinic.practice, box("LIGHT-A"), by=BY)


def receive(clinic: Clinic, lot: str, units: int, use_by: date = SOON, item: str = "LIGHT-A") -> int:
    """Receive sealed units at 30.00 each; returns the stock number."""
    line = Arrival(item=item, units=units, lot=lot, use_by=UseBy.on(use_by), pack_cents=6000, pack_of=2)
    delivery = Delivery(supplier=SUPPLIER.name, lines=(line,), place="store room")
    receiving.receive(clinic.practice, delivery, by=BY, request_key=clinic.key())
    return newest(clinic).lines[0].line.holding_id


def newest(clinic: Clinic) -> tracing.Entry:
    return tracing.history(clinic.practice, Filter())[0]


@pytest.fixture
def quiet(new_stores: NewStores) -> Iterator[Clinic]:
    """Give a practice without visits, with six cartridges that end soon."""
    yield from opened(new_stores, "QUIET")


@pytest.fixture
def busy(new_stores: NewStores) -> Iterator[Clinic]:
    """Give a practice with many visits a week."""
    for clinic in opened(new_stores, "BUSY"):
        setting_up.change_settings(clinic.practice, {"expected_weekly": {"final_stock_tray": 20}}, by=BY)
        yield clinic


def opened(new_stores: NewStores, name: str) -> Iterator[Clinic]:
    with closing(open_store(new_stores.make_from("group", a_practice))) as store:
        clinic = Clinic(Practice(store, new_clock(TODAY)), count(1000))
        setting_up.change_settings(clinic.practice, {"practice_code": name}, by=BY)
        yield clinic


def look(*clinics: Clinic, **options: int) -> Group:
    return group.look([("practice", one.practice) for one in clinics], paths=LITTLE, **options)


def slip(clinic: Clinic, **said: object) -> Slip:
    return Slip(**{"request_key": clinic.key(), "by": BY, **said})  # type: ignore[arg-type]


def test_a_lot_that_ends_unused_here_is_proposed_to_who_uses_it_in_time(quiet: Clinic, busy: Clinic) -> None:
    stack = receive(quiet, "SOON-1", 6)
    found = look(quiet, busy)
    assert found.practices == ("QUIET", "BUSY")
    (lot,) = (one for one in found.expiring if one.lot == "SOON-1")
    assert (lot.practice, lot.qty, lot.lost, lot.lost_cents) == ("QUIET", 30_000, 30_000, 18_000)
    (proposal,) = found.transfers
    assert (proposal.sender, proposal.receiver, proposal.holding_id) == ("QUIET", "BUSY", stack)
    assert 1 <= proposal.units <= 6
    assert proposal.saved_cents == 3000 * proposal.units
    assert 0 < found.gain_cents == proposal.gain_cents <= 18_000
    assert proposal.reference == "G-20270310-1"


def test_stock_and_orders_are_shown_over_all_practices(quiet: Clinic, busy: Clinic) -> None:
    written = ordering.draft(busy.practice, SUPPLIER.name, [ordering.Wanted("LIGHT-A", 2)], by=BY)
    ordering.send(busy.practice, written.number, by=BY)
    found = look(quiet, busy)
    (light,) = (item for item in found.items if item.at[0].item == "LIGHT-A")
    assert [(one.practice, one.usable, one.arriving) for one in light.at] == [
        ("QUIET", 20_000, 0), ("BUSY", 20_000, 20_000),
    ]  # fmt: skip
    assert light.usable == 40_000
    (order,) = found.orders
    assert (order.practice, order.supplier, order.state) == ("BUSY", SUPPLIER.name, OrderState.SENT)


def test_articles_are_the_same_by_their_code_everywhere_or_by_ours_and_only_in_the_same_unit(
    quiet: Clinic, busy: Clinic
) -> None:
    catalogue.add_item(busy.practice, replace(LIGHT, code="OTHER-NAME"), by=BY)
    for clinic, code in ((quiet, "LIGHT-A"), (busy, "OTHER-NAME")):
        catalogue.add_barcode(clinic.practice, "gtin", "09506000134352", item=code, units=1, by=BY)
    same = [[each.item for each in one.at] for one in look(quiet, busy).items]
    assert ["LIGHT-A", "OTHER-NAME"] in same
    assert ["LIGHT-A"] in same  # that of the busy practice has no counterpart any more
    assert ["HEAVY-A", "HEAVY-A"] in same


def test_held_stock_is_not_proposed_and_small_gains_are_left(quiet: Clinic, busy: Clinic) -> None:
    receive(quiet, "SOON-1", 6)
    assert look(quiet, busy, least_cents=18_001).transfers == ()
    lot = newest(quiet).lines[0].line.lot_id
    holding.hold(quiet.practice, lot_id=lot, reason="look at it", by=BY)
    assert look(quiet, busy).transfers == ()


def test_one_practice_alone_has_nobody_to_give_to_and_two_need_names(quiet: Clinic, busy: Clinic) -> None:
    receive(quiet, "SOON-1", 6)
    assert look(quiet).transfers == ()
    with pytest.raises(BadInput, match="called QUIET"):
        look(quiet, quiet)
    with pytest.raises(BadInput, match="No practice"):
        look()


# The two halves


def test_both_halves_are_posted_under_one_reference_and_nothing_is_left_open(quiet: Clinic, busy: Clinic) -> None:
    stack = receive(quiet, "SOON-1", 6)
    sent = group_posting.send(quiet.practice, [Part(stack, 10_000)], "G-1", "BUSY", slip(quiet))
    (half,) = look(quiet, busy).open_halves
    assert (half.reference, half.practice, half.sent, half.items) == ("G-1", "QUIET", True, ("LIGHT-A, lot SOON-1",))
    taken = group_posting.take(busy.practice, [came(2)], "G-1", "QUIET", slip(busy))
    assert look(quiet, busy).open_halves == ()
    assert [line.qty for line in (*sent.lines, *taken.lines)] == [-10_000, 10_000]
    for clinic, kind, words in (
        (quiet, DocumentKind.RETURN, "sent to BUSY"),
        (busy, DocumentKind.RECEIPT, "from QUIET"),
    ):
        told = newest(clinic).document
        assert (told.kind, told.reason, told.proof) == (kind, words, "G-1")
        assert verify(clinic.practice).clean


def came(units: int, **other: object) -> Taken:
    return Taken(**{"item": "light-a", "units": units, "lot": "SOON-1", "use_by": UseBy.on(SOON), **other})  # type: ignore[arg-type]


def test_a_half_that_was_undone_is_open_again_and_can_be_posted_anew(quiet: Clinic, busy: Clinic) -> None:
    stack = receive(quiet, "SOON-1", 6)
    group_posting.send(quiet.practice, [Part(stack, 10_000)], "G-1", "BUSY", slip(quiet))
    taken = group_posting.take(busy.practice, [came(2)], "G-1", "QUIET", slip(busy))
    assert taken.document_id is not None
    correcting.undo(busy.practice, taken.document_id, reason="did not come", by=BY, request_key=busy.key())
    assert [half.practice for half in look(quiet, busy).open_halves] == ["QUIET"]
    group_posting.take(busy.practice, [came(1)], "G-1", "QUIET", slip(busy))
    assert verify(busy.practice).clean


def test_a_form_sent_twice_posts_once_and_a_reference_serves_once(quiet: Clinic, busy: Clinic) -> None:
    stack = receive(quiet, "SOON-1", 6)
    form, receipt = slip(quiet), slip(busy)
    first = group_posting.send(quiet.practice, [Part(stack, 5_000)], "G-1", "BUSY", form)
    assert group_posting.send(quiet.practice, [Part(stack, 5_000)], "G-1", "BUSY", form) == replace(first, again=True)
    taken = group_posting.take(busy.practice, [came(1)], "G-1", "QUIET", receipt)
    assert group_posting.take(busy.practice, [came(1)], "G-1", "QUIET", receipt) == replace(taken, again=True)
    with pytest.raises(NotAllowed, match="G-1 already"):
        group_posting.send(quiet.practice, [Part(stack, 5_000)], "G-1", "BUSY", slip(quiet))
    with pytest.raises(NotAllowed, match="G-1 already"):
        group_posting.take(busy.practice, [came(1)], "G-1", "QUIET", slip(busy))


def test_only_whole_sealed_units_that_may_be_used_are_sent(quiet: Clinic) -> None:
    stack = receive(quiet, "SOON-1", 2)

    def send(*parts: Part, on: date | None = None) -> Callable[[], object]:
        return lambda: group_posting.send(quiet.practice, parts, "G-1", "BUSY", slip(quiet, on=on))

    for deed, error, said in (
        (send(Part(stack, 100)), BadInput, "whole sealed"),
        (send(Part(stack, 15_000)), StockChanged, "less is there"),
        (send(Part(stack), Part(stack)), BadInput, "twice"),
        (send(), BadInput, "Nothing is named"),
        (send(Part(9999)), NotFound, "no holding"),
        (send(Part(stack), on=TODAY + timedelta(days=1)), BadInput, "still to come"),
        (send(Part(stack), on=TODAY - timedelta(days=1)), BadInput, "first received"),
    ):
        with pytest.raises(error, match=said):
            deed()
    lot = newest(quiet).lines[0].line.lot_id
    holding.hold(quiet.practice, lot_id=lot, reason="look at it", by=BY)
    with pytest.raises(NotAllowed, match="may not be used"):
        send(Part(stack))()


def test_what_is_taken_is_an_article_known_here_in_units_and_in_date(busy: Clinic) -> None:
    def take(*taken: Taken) -> Callable[[], object]:
        return lambda: group_posting.take(busy.practice, taken, "G-1", "QUIET", slip(busy))

    past = UseBy.on(TODAY - timedelta(days=1))
    for deed, error, said in (
        (take(came(1, item="NOBODY")), NotFound, "no item"),
        (take(came(0)), BadInput, "units"),
        (take(came(1, use_by=UseBy.on(date(1900, 1, 1)))), BadInput, "use-by"),
        (take(came(1, place="attic")), NotFound, "no place"),
        (take(came(1, lot="")), BadInput, "lot"),
        (take(), BadInput, "Nothing is named"),
        (take(came(1, use_by=past)), NeedsConfirmation, "has passed"),
    ):
        with pytest.raises(error, match=said):
            deed()
    tips = group_posting.take(busy.practice, [came(5, item="TIP-1")], "G-2", "QUIET", slip(busy))
    assert tips.lines[0].lot_number == "no lot"


def test_a_recalled_lot_goes_on_hold_as_soon_as_it_is_taken(busy: Clinic) -> None:
    first = group_posting.take(busy.practice, [came(1)], "G-1", "QUIET", slip(busy))
    holding.hold(busy.practice, lot_id=first.lines[0].lot_id, reason="recall", by=BY, recall="FSN 1")
    again = group_posting.take(busy.practice, [came(1)], "G-2", "QUIET", slip(busy))
    assert again.lines[0].lot_id == first.lines[0].lot_id
    assert look(busy).items


def test_a_group_may_mix_both_databases(new_stores: NewStores) -> None:
    with ExitStack() as stack:
        clinics = [stack.enter_context(closing(open_store(new_stores.make_from("group", a_practice)))) for _ in "ab"]
        practices = [(name, Practice(store, new_clock(TODAY))) for name, store in zip("ab", clinics, strict=True)]
        assert group.look(practices, paths=LITTLE).practices == ("a", "b")
    assert FAR > SOON
