"""Labels in use: what a code stands for is said once, lots are found by it, and a scan saves typing."""

from collections.abc import Iterator
from datetime import date, timedelta

import pypdfium2 as pdfium  # type: ignore[import-untyped]  # it has no types
import pytest
import zxingcpp
from sqlmodel import select

from inventory.domain.labels.reading import read_label
from inventory.domain.vocabulary import Arch, LateReason, UseByReading
from inventory.errors import BadInput, NeedsConfirmation, NotFound
from inventory.service import booking, catalogue, filling_in, holding, labels, shelf_labels
from inventory.service.filling import Filling
from inventory.service.labels import Scanned
from inventory.service.lots import UseBy
from inventory.store.engine import Store, open_store
from inventory.store.tables import Change
from tests.clinic import Clinic
from tests.little_practice import IN_DATE, TODAY, LittlePractice

BOX, UNIT = "09506000134352", "09521234543213"
LIGHT_1 = f"01{BOX}17{IN_DATE:%y%m%d}10LIGHT-1"


@pytest.fixture(scope="module")
def little(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LittlePractice]:
    """A practice that these tests only read: light body in boxes of 4, an opened rest of it, one lot past its date."""
    store = open_store(str(tmp_path_factory.mktemp("labels") / "practice.db"))
    practice = LittlePractice(store)
    practice.full_shelves()
    practice.stock("LIGHT", "LIGHT-OLD", 1, use_by=TODAY - timedelta(days=1))
    practice.stock("LIGHT", "LIGHT-LATER", 1, use_by=IN_DATE + timedelta(days=90))
    practice.stock("LIGHT-2", "LIGHT-1", 2)  # another article whose maker gave the same number
    labels.remember_article(practice.practice, "gtin", BOX, "LIGHT", 4, by="AB")
    labels.remember_article(practice.practice, "hibc", "A123BJC5D6E71", "TRAY-UPPER-L", 1, by="AB")
    yield practice
    store.close()


@pytest.fixture(scope="module")
def filling(little: LittlePractice) -> Filling:
    return filling_in.begin(little.practice, little.visit("C-1"))


@pytest.fixture
def own(store: Store) -> LittlePractice:
    return LittlePractice(store)


def find(little: LittlePractice, text: str) -> Scanned:
    return labels.find(little.practice, text)


def test_a_label_leads_to_its_item_its_units_and_its_lot(little: LittlePractice) -> None:
    scanned = find(little, f"]d2{LIGHT_1}")
    assert scanned.item is not None
    assert (scanned.item.code, scanned.item.units) == ("LIGHT", 4)
    assert [(lot.item_code, lot.number, lot.on_hand) for lot in scanned.lots] == [("LIGHT", "LIGHT-1", 6 * 5000)]
    assert scanned.use_by == UseBy.on(IN_DATE)
    assert scanned.warnings == ()


def test_a_lot_number_typed_by_hand_is_every_lot_of_that_number(little: LittlePractice) -> None:
    scanned = find(little, "light-1")
    assert {lot.item_code for lot in scanned.lots} == {"LIGHT", "LIGHT-2"}
    assert scanned.label is None


def test_a_label_of_an_article_nobody_has_named_yet_asks_which_it_is(little: LittlePractice) -> None:
    scanned = find(little, f"01{UNIT}10LIGHT-1")
    assert scanned.unknown
    assert scanned.lots == ()  # another article's lot of this number is no answer
    with pytest.raises(BadInput, match="no item"):
        labels.count_in((), scanned)


def test_a_label_without_a_lot_shows_what_is_there_of_its_item(little: LittlePractice) -> None:
    scanned = find(little, "+A123BJC5D6E71G")
    assert [lot.number for lot in scanned.lots] == ["TRAY-UPPER-L-1"]


def test_the_second_code_of_a_package_goes_with_the_first(little: LittlePractice) -> None:
    first = read_label(BOX, TODAY)
    scanned = labels.find(little.practice, f"17{IN_DATE:%y%m%d}10LIGHT-1", first=first)
    assert scanned.item is not None
    assert [lot.item_code for lot in scanned.lots] == ["LIGHT"]


def test_another_date_than_the_books_is_said(little: LittlePractice) -> None:
    scanned = find(little, f"01{BOX}1799123110LIGHT-1")
    assert scanned.lots == ()
    assert any("another use-by date" in warning for warning in scanned.warnings)


def test_what_speaks_against_a_lot_is_said_with_it(little: LittlePractice) -> None:
    (past,) = find(little, f"01{BOX}10LIGHT-OLD").warnings
    assert "past its last day of use" in past
    (later,) = find(little, f"01{BOX}10LIGHT-LATER").warnings
    assert "LIGHT-1" in later
    assert "goes first" in later


def test_what_is_no_label_and_no_lot_says_both(little: LittlePractice) -> None:
    with pytest.raises(NotFound, match=r"No lot in the book has the number 'LIGTH-1'.*character 1"):
        find(little, "LIGTH-1")
    with pytest.raises(BadInput, match="character 16"):
        find(little, f"01{BOX[:-1]}3\x1d10LIGHT-1")


def test_digits_that_may_be_two_things_are_the_article_unless_they_follow_one(own: LittlePractice) -> None:
    asked = find(own, "17770101")
    assert asked.unknown
    assert asked.questions
    first = read_label(BOX, TODAY)
    assert labels.find(own.practice, "17770101", first=first).use_by == UseBy.on(date(1977, 1, 1))
    labels.remember_article(own.practice, "gtin", "17770101", "LIGHT", 1, by="AB")
    scanned = find(own, "17770101")
    assert scanned.item is not None
    assert scanned.questions == ()


def test_what_a_code_stands_for_is_asked_once_and_logged(own: LittlePractice) -> None:
    labels.remember_article(own.practice, "gtin", BOX, "LIGHT", 4, by="AB")
    labels.remember_article(own.practice, "gtin", BOX, "LIGHT", 4, by="AB")
    with pytest.raises(NeedsConfirmation, match="4 units of Light so far"):
        labels.remember_article(own.practice, "gtin", BOX, "HEAVY", 4, by="AB")
    labels.remember_article(own.practice, "gtin", BOX, "HEAVY", 2, by="AB", confirmed=True)
    scanned = find(own, BOX)
    assert scanned.item is not None
    assert (scanned.item.code, scanned.item.units) == ("HEAVY", 2)
    with own.practice.reading() as desk:
        logged = [row.new for row in desk.session.exec(select(Change).where(Change.subject == "barcode"))]
    assert len(logged) == 2


def test_a_shelf_label_of_our_own_names_its_item_by_code(little: LittlePractice) -> None:
    scanned = find(little, "91LIGHT\x1d10LIGHT-1")
    assert scanned.item is not None
    assert [lot.item_code for lot in scanned.lots] == ["LIGHT"]


# Shelf labels


def scanned_from(pdf: bytes) -> list[str]:
    """What a scanner reads from the printed first page."""
    page = pdfium.PdfDocument(pdf)[0].render(scale=300 / 72)
    return [code.text for code in zxingcpp.read_barcodes(page.to_numpy())]


@pytest.mark.parametrize("paper", shelf_labels.PAPERS)
def test_a_printed_shelf_label_is_scanned_and_leads_to_its_lot(own: LittlePractice, paper: str) -> None:
    labels.remember_article(own.practice, "gtin", UNIT, "LIGHT", 1, by="AB")
    own.stock("LIGHT", "LIGHT-1", 2)
    own.stock("BITE", "häuslich 7", 1)  # GS1 has no sign for all of its letters: it is named by its number in the book
    own.stock("TIP", "no lot", 50, use_by=None)
    wanted = shelf_labels.shelf_labels(own.practice, everything=True)
    assert [label.code for label in shelf_labels.shelf_labels(own.practice)] == [
        label.code for label in wanted if "https" not in label.code
    ]
    made = shelf_labels.printed(own.practice, wanted, paper=paper, skip=1)
    found = [find(own, text) for text in scanned_from(made)]
    assert len(found) == len(wanted) == 3
    assert {(scanned.lots[0].item_code, scanned.lots[0].number) for scanned in found} == {
        ("LIGHT", "LIGHT-1"), ("BITE", "häuslich 7"), ("TIP", "no lot"),
    }  # fmt: skip


# Receiving


def test_scanning_the_same_box_again_is_one_more(little: LittlePractice) -> None:
    box = find(little, LIGHT_1)
    lines, at, new = labels.count_in((), box, packs=(4,))
    assert (lines[0].packs, lines[0].units, at, new) == (1, 0, 0, True)
    lines, at, new = labels.count_in(lines, box, packs=(4,))
    assert (lines[0].packs, at, new) == (2, 0, False)
    loose, _, _ = labels.count_in((), box)  # the supplier sells no such pack: its units
    assert (loose[0].packs, loose[0].units) == (0, 4)
    assert loose[0].use_by == UseBy.on(IN_DATE)


def test_a_package_with_two_codes_is_one_package(little: LittlePractice) -> None:
    lines, _, _ = labels.count_in((), find(little, BOX), packs=(4,))
    lines, _, _ = labels.count_in(lines, find(little, BOX), packs=(4,))
    second = labels.find(little.practice, f"17{IN_DATE:%y%m%d}10B7", first=read_label(BOX, TODAY))
    lines, at, new = labels.count_in(lines, second, packs=(4,))
    assert [(line.lot, line.packs) for line in lines] == [("", 1), ("B7", 1)]
    lines, at, new = labels.count_in(lines, second, packs=(4,))
    assert [(line.lot, line.packs) for line in lines] == [("B7", 2)]
    assert (at, new) == (0, False)


def test_another_lot_or_another_date_is_a_line_of_its_own(little: LittlePractice) -> None:
    lines, _, _ = labels.count_in((), find(little, LIGHT_1))
    for text in (f"01{BOX}10B7", f"01{BOX}17{IN_DATE:%y%m}0010LIGHT-9"):
        lines, _, _ = labels.count_in(lines, find(little, text))
    assert [(line.lot, line.use_by.reading if line.use_by else None) for line in lines] == [
        ("LIGHT-1", UseByReading.DAY), ("B7", None), ("LIGHT-9", UseByReading.MONTH),
    ]  # fmt: skip


# Booking out


def read_lots(filling: Filling) -> dict[str, str]:
    return {line.name: line.lot_number for line in filling.lines if line.confirmed}


def test_the_scanned_cartridge_is_the_one_that_its_lines_came_from(little: LittlePractice, filling: Filling) -> None:
    said = labels.read_on(filling, find(little, f"01{BOX}10LIGHT-LATER"))
    assert read_lots(said) == {"Wash upper": "LIGHT-LATER", "Wash lower": "LIGHT-LATER"}
    again = labels.read_on(said, find(little, f"01{BOX}10LIGHT-LATER"))
    assert read_lots(again) == read_lots(said)
    with pytest.raises(BadInput, match="read before"):
        labels.read_on(said, find(little, LIGHT_1))
    assert any("should go first" in doubt for doubt in filling_in.doubts(said))


def test_a_lot_that_may_not_be_used_is_taken_only_when_it_really_was(little: LittlePractice, filling: Filling) -> None:
    old = find(little, f"01{BOX}10LIGHT-OLD")
    with pytest.raises(NeedsConfirmation, match="past its last day of use"):
        labels.read_on(filling, old)
    assert read_lots(labels.read_on(filling, old, confirmed=True))["Wash upper"] == "LIGHT-OLD"


def test_the_scanned_tray_is_the_size_that_fitted_and_its_lot_is_read_only_with_a_lot(
    little: LittlePractice, filling: Filling
) -> None:
    for text, confirmed in (("+A123BJC5D6E71G", False), ("(91)TRAY-UPPER-L(10)TRAY-UPPER-L-1", True)):
        said = labels.read_on(filling, find(little, text))
        tray = next(line for line in said.lines if line.is_tray and line.form.arch is Arch.MAXILLARY)
        assert tray.article is not None
        assert (tray.article.code, tray.confirmed) == ("TRAY-UPPER-L", confirmed)


def test_a_code_without_a_lot_confirms_none(little: LittlePractice, filling: Filling) -> None:
    with pytest.raises(BadInput, match="names no lot"):
        labels.read_on(filling, find(little, BOX))
    tips = labels.read_on(filling, find(little, "(91)TIP"))  # kept without lots
    assert {line.article.code for line in tips.lines if line.confirmed and line.article} == {"TIP"}


@pytest.mark.parametrize(
    ("text", "why"), [(f"01{BOX}10NEW", "is not in an operatory"), (f"01{UNIT}", "Nobody has said")]
)
def test_a_scan_that_no_stock_answers_to_is_said(little: LittlePractice, filling: Filling, text: str, why: str) -> None:
    with pytest.raises(NotFound, match=why):
        labels.read_on(filling, find(little, text))


def test_a_held_lot_that_was_scanned_and_used_is_booked_with_its_reason(clinic: Clinic) -> None:
    practice = clinic.practice
    catalogue.add_barcode(practice, "gtin", UNIT, item="LIGHT-A", units=1, by="AB")
    scanned = labels.find(practice, f"01{UNIT}10LIGHT-A-1")
    assert scanned.warnings == ()
    holding.hold(practice, lot_id=scanned.lots[0].lot_id, reason="smells", by="AB")
    scanned = labels.find(practice, f"01{UNIT}10LIGHT-A-1")
    assert scanned.lots[0].late is LateReason.HELD
    said = filling_in.begin(practice, clinic.plan().visit_id)
    request = filling_in.book_out(labels.read_on(said, scanned, confirmed=True))
    with pytest.raises(NeedsConfirmation):
        booking.book_out(practice, request, by="AB", request_key="k1")
    booked = booking.book_out(practice, request, by="AB", request_key="k1", confirmed=True, reason="nothing else there")
    late = {(lot.lot_number, lot.late_reason, lot.lot_confirmed) for lot in booked.lots if lot.late_reason}
    assert late == {("LIGHT-A-1", LateReason.HELD, True)}
