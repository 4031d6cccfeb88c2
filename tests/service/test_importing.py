"""A practice's own files: each fault with its row and column; all or nothing, or the right rows and the others back."""

import csv
import io
from collections.abc import Iterator
from contextlib import closing
from datetime import date
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import SQLModel, func, select

from inventory.domain.catalogue import TrayLine
from inventory.domain.cells import unmarked
from inventory.domain.vocabulary import Arch, ItemKind, Role, UseByReading, Viscosity, VisitState, WayOfUse
from inventory.domain.words import STANDING
from inventory.errors import BadInput, NotAllowed, NotFound, RowErrors
from inventory.service import catalogue, import_stock, receiving, setting_up
from inventory.service.importing import KINDS, Imported, import_file, rejected_csv, template
from inventory.service.practice import Practice
from inventory.service.receiving import Arrival, Delivery
from inventory.store.engine import open_store
from inventory.store.queries.stock import Stand, stands
from inventory.store.tables import (
    Change,
    Document,
    Holding,
    Item,
    Lot,
    Movement,
    Person,
    Place,
    Purchase,
    PurchaseLine,
    Supplier,
    Supply,
    TraySize,
    Visit,
)
from tests.service.catalogue_samples import BY, SUPPLIER, box, stocked_practice

ITEMS = "code,name,kind,unit,content,viscosity\n"
STOCK = "item,place,lot,use_by,units,opened_on,left\n"
VISITS = "case_ref,on,case_kind,arches,upper_size\n"


@pytest.fixture
def practice(stocked: Practice) -> Practice:
    return stocked


def load(practice: Practice, kind: str, text: str, **options: Any) -> Imported:
    return import_file(practice, kind, text.encode(), by=BY, **options)


def faults(practice: Practice, kind: str, text: str, **options: Any) -> list[tuple[int, str]]:
    """Row and column of every fault; the file must be refused."""
    with pytest.raises(RowErrors) as refused:
        load(practice, kind, text, **options)
    return [(fault.row, fault.column) for fault in refused.value.errors]


def on_shelf(practice: Practice) -> list[Stand]:
    with practice.reading() as desk:
        return stands(desk.session)


def planned(practice: Practice) -> list[tuple[str, date, str | None, str | None]]:
    with practice.reading() as desk:
        rows = desk.session.exec(select(Visit).order_by("id"))
        return [(row.case_ref, row.on, row.upper_size, row.lower_size) for row in rows]


# the file itself


@pytest.mark.parametrize(
    ("data", "name"),
    [
        ("code,name,kind,content,viscosity\nX-1,W\u00e4sche,impression,50,3\n".encode(), "W\u00e4sche"),
        ("code,name,kind,content,viscosity\nX-1,W\u00e4sche,impression,50,3\n".encode("utf-8-sig"), "W\u00e4sche"),
        ("Code;Name;Kind;Content;Viscosity\r\nX-1;W\u00e4sche;impression;50,0;3\r\n".encode("cp1252"), "W\u00e4sche"),
        (b'code\tname\tkind\tcontent\tviscosity\rx-1\t"a, b; c"\tImpression\t50.0\tLIGHT\r', "a, b; c"),
        (
            b'# remark, with commas\n\n"code","name","kind","content","viscosity"\n"X-1","=1+1","impression","50","3"',
            "=1+1",
        ),
    ],
)
def test_files_as_other_programs_write_them_are_read(practice: Practice, data: bytes, name: str) -> None:
    result = import_file(practice, "items", data, by=BY)
    assert (result.rows, result.added) == (1, 1)
    draft = catalogue.item(practice, "X-1").draft
    assert (draft.name, draft.unit_qty, draft.viscosity) == (name, 5000, Viscosity.LIGHT)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "no header"),
        (b"# only a remark\n", "no header"),
        (b"code,name,kind\n", "no rows"),
        ("code,name".encode("utf-16"), "UTF-16"),
        (b"code,name,kind\n\x81\x8d", "not text"),
        (b'code,name,kind\nX,"unfinished,tip\n', "quotation marks"),
    ],
)
def test_what_is_no_table_is_refused_in_words(practice: Practice, data: bytes, said: str) -> None:
    with pytest.raises(BadInput, match=said):
        import_file(practice, "items", data, by=BY)


def test_a_wrong_header_is_said_column_by_column(practice: Practice) -> None:
    assert faults(practice, "items", "code,colour,kind,kind\nX,blue,tip,tip\n") == [
        (1, "name"), (1, "colour"), (1, "kind"),
    ]  # fmt: skip


def test_rows_are_counted_as_a_spreadsheet_shows_them(practice: Practice) -> None:
    text = f'# remark\n\n{ITEMS}X-1,"two\nlines",tip,,,\n\nX-2,,tip,,,\n'
    assert faults(practice, "items", text) == [(6, "name")]


def test_there_are_no_files_of_other_kinds(practice: Practice) -> None:
    with pytest.raises(NotFound, match="opening_stock"):
        load(practice, "patients", "name\nx\n")
    with pytest.raises(NotFound):
        import_file(practice, "items", b"code,name,kind\nX,x,tip\n", by="ZZ")


@pytest.mark.parametrize("kind", list(KINDS))
def test_a_template_explains_every_column_and_can_be_filled_in(practice: Practice, kind: str) -> None:
    text = template(kind)
    rows = list(csv.reader(io.StringIO(text)))
    assert rows[len(KINDS[kind].columns) + 1] == list(KINDS[kind].names)
    with pytest.raises(BadInput, match="no rows"):
        load(practice, kind, text)  # its example is a remark


EXAMPLES = ["people", "places", "suppliers", "items", "supplies", "fits", "opening-stock", "orders", "visits"]


def test_the_examples_of_the_templates_can_be_imported_one_after_the_other(newly_set_up: Practice) -> None:
    practice = newly_set_up
    load(practice, "items", "code,name,kind\nTIP-1,Mixing tip,tip\n")
    for kind in EXAMPLES:
        text = template(kind)
        last = text.splitlines()[-1]
        assert load(practice, kind, text + last.replace("# ", "", 1)).added == 1


# all or nothing


def test_all_faults_are_said_and_nothing_is_taken_in(practice: Practice) -> None:
    text = (
        f"{ITEMS}X-1,Right,impression,mL,50,3\n"
        "two words,,impression,mL,50,9\n"
        "X-3,Wrong unit,bite,g,50,\n"
        "X-1,Twice,tip,,,\n"
        "LIGHT-A,Known,impression,mL,50,3\n"
        "X-6,No type,impression,mL,,\n"
        "X-7,Extra,tip,,,,more\n"
    )
    assert faults(practice, "items", text) == [
        (3, "name"), (3, "code"), (3, "viscosity"), (4, "unit"), (5, "code"), (6, "code"), (7, "content"),
        (7, "viscosity"), (8, ""),
    ]  # fmt: skip
    assert len(catalogue.items(practice)) == 6


def test_the_right_rows_alone_are_taken_in_where_that_is_asked_for(practice: Practice) -> None:
    result = load(practice, "items", f"{ITEMS}X-1,Right,tip,,,\nX-2,Wrong,tip,mL,50,\n", partial=True)
    assert (result.rows, result.added, [one.row for one in result.rejected]) == (2, 1, [3])
    assert catalogue.item(practice, "X-1").draft.kind is ItemKind.TIP
    with pytest.raises(NotFound):
        catalogue.item(practice, "X-2")


def test_rejected_rows_come_back_as_a_file_that_can_be_corrected_and_imported(practice: Practice) -> None:
    text = 'code;name;kind;unit;content\nX-1;Right;tip;;\nX-2;"Semi; colon";tip;mL;50\n'
    written = rejected_csv(load(practice, "items", text, partial=True))
    header, row = csv.reader(io.StringIO(written, newline=""), delimiter=";")
    assert header == ["code", "name", "kind", "unit", "content", "fault"]
    assert row[:5] == ["X-2", "Semi; colon", "tip", "mL", "50"]
    assert row[5].startswith("unit: a tip is counted in pieces")
    assert load(practice, "items", written.replace(";mL;50", ";piece;1")).added == 1


def test_no_cell_of_a_rejected_row_is_lost(practice: Practice) -> None:
    text = 'code,name,kind\nX-1,"ends\rin two",tip,more,and more\nX-2,short\n'
    written = rejected_csv(load(practice, "items", text, partial=True))
    _, *rows = csv.reader(io.StringIO(written, newline=""))
    assert [(*row[:3], *row[4:]) for row in rows] == [
        ("X-1", "ends\rin two", "tip", "more", "and more"), ("X-2", "short", ""),
    ]  # fmt: skip


def test_no_spreadsheet_finds_a_formula_in_rejected_rows_and_corrected_they_come_in_as_they_were(
    practice: Practice,
) -> None:
    text = "code,name,kind,unit,content\nX-1,=1+1,tip,mL,50\nX-2,'quoted',tip,mL,50\n"
    written = rejected_csv(load(practice, "items", text, partial=True))
    assert [row[1] for row in csv.reader(io.StringIO(written, newline=""))] == ["name", "'=1+1", "''quoted'"]
    assert load(practice, "items", written.replace("mL,50", "piece,1")).added == 2
    assert [catalogue.item(practice, code).draft.name for code in ("X-1", "X-2")] == ["=1+1", "'quoted'"]


def test_a_trial_run_counts_everything_and_keeps_nothing(practice: Practice) -> None:
    result = load(practice, "items", f"{ITEMS}X-1,Right,impression,mL,50,3\n", dry_run=True)
    assert (result.added, result.dry_run) == (1, True)
    assert "No mixing tip fits X-1" in result.warnings[0]
    assert len(catalogue.items(practice)) == 6


# kinds of files


def test_people_come_by_initials(practice: Practice) -> None:
    assert load(practice, "people", "initials,role\nef,dentist\n").added == 1
    assert ("EF", Role.DENTIST) in [(one.initials, one.role) for one in setting_up.practice_state(practice).people]
    assert faults(practice, "people", "initials,role\nA. Example,dentist\nEF,assistant\nGH,owner\n") == [
        (2, "initials"), (3, "initials"), (4, "role"),
    ]  # fmt: skip
    assert load(practice, "people", "initials,role\nEF,manager\n", update=True).updated == 1


def test_a_place_with_stock_keeps_its_role_and_a_store_room_stays(practice: Practice) -> None:
    load(practice, "places", "name,role\nAttic,set aside\n")
    load(practice, "opening_stock", f"{STOCK}BAG,attic,,none,5,,\n")
    assert faults(practice, "places", "name,role\nattic,store\n", update=True) == [(2, "role")]
    with pytest.raises(NotAllowed, match="store room"):
        load(practice, "places", "name,role\nStore room,chair\n", update=True)


def test_suppliers_come_with_their_terms(practice: Practice) -> None:
    text = 'name,lead_days,order_weekdays,minimum,fee,free_from\nSouth,2,Thu mon,50,9.00,"150,00"\n'
    load(practice, "suppliers", text)
    draft = next(one.draft for one in catalogue.suppliers(practice) if one.draft.name == "South")
    assert (draft.order_weekdays, draft.minimum_cents, draft.fee_cents, draft.free_from_cents) == (
        (1, 4),
        5000,
        900,
        15_000,
    )
    assert faults(practice, "suppliers", "name,lead_days,order_weekdays,fee\nX,soon,noday,1.005\nsouth,1,,\n") == [
        (2, "lead_days"), (2, "order_weekdays"), (2, "fee"), (3, "name"),
    ]  # fmt: skip


def test_tray_sizes_come_in_their_order(practice: Practice) -> None:
    text = "line,arch,size\nLine 2,upper,1\nLine 2,upper,2\nLine 2,lower,1\nLine 1,lower,XXL\n"
    assert load(practice, "tray_sizes", text).added == 4
    assert catalogue.tray_lines(practice) == (
        TrayLine("Line 1", ("S", "M", "L", "XL"), ("S", "M", "L", "XL", "XXL")),
        TrayLine("Line 2", ("1", "2"), ("1",)),
    )
    assert faults(practice, "tray_sizes", text) == [(row, "size") for row in (2, 3, 4, 5)]


def test_trays_tips_and_accessories_come_with_what_is_usual_for_them(practice: Practice) -> None:
    text = (
        "code,name,kind,tray_line,arch,tray_size,tip_volume,steps,way_of_use\n"
        "T1-LS,Tray,tray,Line 1,lower,S,,,\nTIP-2,Tip,tip,,,,0.75,,\nWAX,Wax,accessory,,,,,,\n"
        "PIN,Recording parts,accessory,,,,,jaw_relation,step\n"
    )
    load(practice, "items", text)
    drafts = {code: catalogue.item(practice, code).draft for code in ("T1-LS", "TIP-2", "WAX", "PIN")}
    assert [one.way_of_use for one in drafts.values()] == [
        WayOfUse.VISIT, WayOfUse.STEP, WayOfUse.COUNT, WayOfUse.STEP,
    ]  # fmt: skip
    assert (drafts["T1-LS"].arch, drafts["TIP-2"].tip_volume_qty) == (Arch.MANDIBULAR, 75)
    assert drafts["PIN"].steps == ("jaw_relation",)


def test_an_update_changes_the_columns_it_has_and_leaves_the_others(practice: Practice) -> None:
    before = catalogue.item(practice, "LIGHT-A").draft
    text = "code,name,kind,min,max\nLIGHT-A,Light body A,impression,2,6\n"
    assert faults(practice, "items", text) == [(2, "code")]
    result = load(practice, "items", text, update=True)
    after = catalogue.item(practice, "LIGHT-A").draft
    assert (result.added, result.updated) == (0, 1)
    assert (after.name, after.min_units, after.max_units) == ("Light body A", 2, 6)
    assert (after.viscosity, after.unit_qty, after.family) == (before.viscosity, before.unit_qty, before.family)
    with practice.reading() as desk:
        log = select(Change.field).where(Change.subject_id == "LIGHT-A", Change.reason == "import")
        assert set(desk.session.exec(log)) == {"name", "min_units", "max_units"}


def test_packs_come_with_their_further_articles_and_prices(practice: Practice) -> None:
    text = (
        "item,supplier,catalogue_no,units_per_pack,price,contents,breaks\n"
        "light-a,supplier north,N-1,2,38.50,TIP-1:6 BAG:1,5:36.00\n"
    )
    load(practice, "supplies", text)
    supply = catalogue.item(practice, "LIGHT-A").supplies[0]
    assert (supply.contents, supply.breaks) == ((("TIP-1", 6), ("BAG", 1)), ((5, 3600),))
    assert faults(practice, "supplies", text) == [(2, "valid_from")]
    assert load(practice, "supplies", text.replace("38.50", "39.90"), update=True).updated == 1
    assert [one.pack_cents for one in catalogue.supplies(practice)] == [3990]
    wrong = "item,supplier,catalogue_no,units_per_pack,price,contents,breaks\nX,Y,,0,-1,TIP-1,a:1\n"
    assert {column for _, column in faults(practice, "supplies", wrong)} == {
        "item", "supplier", "catalogue_no", "units_per_pack", "price", "contents", "breaks",
    }  # fmt: skip


def test_fits_add_to_what_fits_already(practice: Practice) -> None:
    catalogue.set_fits(practice, "TIP-1", ["LIGHT-A"], by=BY)
    assert load(practice, "fits", "fitting,material\ntip-1,heavy-a\nTIP-1,LIGHT-A\n").added == 1
    assert catalogue.item(practice, "TIP-1").fits == ("LIGHT-A", "HEAVY-A")
    assert faults(practice, "fits", "fitting,material\nLIGHT-A,HEAVY-A\nTIP-1,BAG\nTIP-9,X\n") == [
        (2, "fitting"), (3, "material"), (4, "fitting"), (4, "material"),
    ]  # fmt: skip


# opening stock


def test_opening_stock_is_stock_found_sealed_and_opened(practice: Practice) -> None:
    text = (
        f"{STOCK}LIGHT-A,store room,L7,2028-05,4,,\nLIGHT-A,operatory 1,L7,2028-05,,2027-03-01,4t\n"
        "LIGHT-A,operatory 1,L7,2028-05,,2027-03-02,20\nBAG,store room,,,100,,\nHEAVY-A,store room,,?,2,,\n"
    )
    assert load(practice, "opening-stock", text).added == 5
    rows = on_shelf(practice)
    assert [(row.on_hand, row.opened_on) for row in rows if row.lot_number == "L7"] == [
        (20_000, None), (2000, date(2027, 3, 1)), (2000, date(2027, 3, 2)),
    ]  # fmt: skip
    assert {row.use_by_read for row in rows if row.lot_number == "L7"} == {UseByReading.MONTH}
    assert [row.on_hand for row in rows if row.lot_number == STANDING] == [100]
    house = next(row for row in rows if row.number_is_ours and row.lot_number != STANDING)
    assert house.lot_number.startswith("S-")
    assert house.use_by_read is UseByReading.NOT_READ
    with practice.reading() as desk:
        kinds = set(desk.session.exec(select(Movement.kind)))
        assert kinds == {"count"}


def test_the_same_opening_stock_is_never_found_twice(practice: Practice) -> None:
    text = f"{STOCK}LIGHT-A,store room,L7,2028-05-31,4,,\nHEAVY-A,store room,,,2,,\nBAG,store room,,,10,,\n"
    load(practice, "opening_stock", text)
    assert faults(practice, "opening_stock", text) == [(2, "lot"), (3, "lot"), (4, "lot")]
    assert faults(practice, "opening_stock", text, update=True) == [(2, "lot"), (3, "lot"), (4, "lot")]
    assert load(practice, "opening_stock", text.replace("store room", "operatory 1")).added == 3


def test_stock_that_was_delivered_is_not_opened_again(practice: Practice) -> None:
    delivery = Delivery(supplier=SUPPLIER.name, lines=(Arrival(item="BAG", units=5),))
    receiving.receive(practice, delivery, by=BY, request_key="k1")
    assert faults(practice, "opening_stock", f"{STOCK}BAG,store room,,,10,,\n") == [(2, "lot")]


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("NOTHING,store room,L,none,1,,", "item"),
        ("LIGHT-A,attic,L,none,1,,", "place"),
        ("LIGHT-A,store room,L,03/28,1,,", "use_by"),
        ("LIGHT-A,store room,L,none,,,", "units"),
        ("LIGHT-A,store room,L,none,1.5,,", "units"),
        ("LIGHT-A,store room,L,none,1,2027-03-01,20", "units"),
        ("LIGHT-A,store room,L,none,,2027-03-11,20", "opened_on"),
        ("LIGHT-A,store room,L,none,,,20", "opened_on"),
        ("LIGHT-A,store room,L,none,,2027-03-01,", "left"),
        ("LIGHT-A,store room,L,none,,2027-03-01,51", "left"),
        ("LIGHT-A,store room,L,none,,2027-03-01,20 g", "left"),
        ("LIGHT-A,store room,L\u200b7,none,1,,", "lot"),
    ],
)
def test_stock_that_can_not_be_is_said(practice: Practice, row: str, column: str) -> None:
    assert column in {one for _, one in faults(practice, "opening_stock", f"{STOCK}{row}\n")}
    assert on_shelf(practice) == []


def test_stock_past_its_date_is_taken_in_with_a_warning(practice: Practice) -> None:
    result = load(practice, "opening_stock", f"{STOCK}LIGHT-A,store room,L7,2027-03-09,4,,\n")
    assert result.warnings == ("row 2: the use-by date 2027-03-09 has passed.",)


def test_sealed_stock_of_a_known_lot_counts_by_what_its_units_hold(practice: Practice) -> None:
    load(practice, "opening_stock", f"{STOCK}LIGHT-A,store room,L7,none,1,,\n")
    load(practice, "items", "code,name,kind,content\nLIGHT-A,Light body A,impression,75\n", update=True)
    load(practice, "opening_stock", f"{STOCK}LIGHT-A,operatory 1,L7,none,1,,\n")
    assert [row.on_hand for row in on_shelf(practice)] == [5000, 5000]


# visits


def test_booked_visits_carry_over_a_known_tray_size(practice: Practice) -> None:
    text = f"{VISITS}C-1,2027-03-18,final_stock_tray,both,m\nC-1,2027-04-18,final_stock_tray,upper,\n"
    assert load(practice, "visits", text).added == 2
    assert planned(practice)[0] == ("C-1", date(2027, 3, 18), "M", None)
    load(practice, "visits", f"{VISITS}C-1,2027-05-18,preliminary,both,\nC-1,2027-05-19,reline,both,\n")
    assert planned(practice)[2:] == [("C-1", date(2027, 5, 18), "M", None), ("C-1", date(2027, 5, 19), None, None)]


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("Jane Example,2027-03-18,reline,both,", "case_ref"),
        ("C-1,2027-03,reline,both,", "on"),
        ("C-1,2027-03-18,nothing,both,", "case_kind"),
        ("C-1,2027-03-18,reline,left,", "arches"),
        ("C-1,2027-03-18,reline,both,M", "upper_size"),
        ("C-1,2027-03-18,final_stock_tray,both,XXL", "upper_size"),
    ],
)
def test_a_visit_that_can_not_be_is_said(practice: Practice, row: str, column: str) -> None:
    assert faults(practice, "visits", f"{VISITS}{row}\n") == [(2, column)]
    assert planned(practice) == []


def test_a_visit_read_twice_is_noticed_and_changed_only_where_asked(practice: Practice) -> None:
    text = f"{VISITS}C-1,2027-03-18,final_stock_tray,both,M\n"
    load(practice, "visits", text)
    assert faults(practice, "visits", text + text.splitlines()[1]) == [(2, "case_ref"), (3, "case_ref")]
    assert load(practice, "visits", text.replace(",M", ",L"), update=True).updated == 1
    assert [size for _, _, size, _ in planned(practice)] == ["L"]
    with practice.writing() as desk:
        desk.session.exec(select(Visit)).one().state = VisitState.DONE
    assert faults(practice, "visits", text, update=True) == [(2, "case_ref")]


# any file at all

TABLES: tuple[type[SQLModel], ...] = (
    Change, Document, Holding, Item, Lot, Movement, Person, Place, Purchase, PurchaseLine, Supplier,
    Supply, TraySize, Visit,
)  # fmt: skip
RIGHT = {
    "people": "initials,role\nEF,dentist\nGH,assistant\n",
    "places": "name,role\nattic,set aside\n",
    "suppliers": "name,lead_days,order_weekdays,fee\nSouth,2,mon,9.00\n",
    "tray_sizes": "line,arch,size\nLine 2,upper,1\nLine 2,lower,1\n",
    "items": f"{ITEMS}X-1,Light,impression,mL,50,3\nX-2,Tip,tip,,,\n",
    "supplies": "item,supplier,catalogue_no,units_per_pack,price,contents\nLIGHT-A,Supplier North,N-1,2,3.50,TIP-1:6\n",
    "fits": "fitting,material\nTIP-1,LIGHT-A\nTIP-1,HEAVY-A\n",
    "opening_stock": f"{STOCK}LIGHT-A,store room,L7,2028-05,4,,\nLIGHT-A,operatory 1,L7,2028-05,,2027-03-01,4t\n",
    "orders": "order,supplier,sent_on,item,packs\nP1,Supplier North,8.3.2027,TIP-1,3\n,Supplier North,8.3.2027,TIP-1,4",
    "visits": f"{VISITS}C-1,2027-03-18,final_stock_tray,both,M\nC-2,2027-03-19,reline,lower,\n",
}
ODD = [
    "", '"', ",", ";", "\n", "\r", "\t", "#", "# ", "\x00", "\x1d", "\u202e", "=1+1", "1e999999999", "-1", "9" * 40,
    "nan", "[/b]", "0000-00-00", "9999-12-31", "29.2.2027", "in 9999 years", "\U0001f9b7", "yes", "no", "upper",
]  # fmt: skip


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Practice]:
    path = tmp_path_factory.mktemp("import") / "practice.db"
    with closing(open_store(str(path))) as opened:
        practice = stocked_practice(opened)
        catalogue.save_supply(practice, box("TIP-1"), by=BY)
        yield practice


def everything(practice: Practice) -> list[int]:
    with practice.reading() as desk:
        return [desk.session.exec(select(func.count()).select_from(table)).one() for table in TABLES]


def either_all_or_nothing(practice: Practice, kind: str, data: bytes, *, partial: bool, update: bool) -> None:
    """Either an import (tried only, so that the next example finds the same practice) or faults in words."""
    before = everything(practice)
    try:
        result = import_file(practice, kind, data, by=BY, partial=partial, update=update, dry_run=True)
    except BadInput:
        pass
    else:
        assert result.added + result.updated + len(result.rejected) <= result.rows
        assert partial or not result.rejected
        written = csv.reader(io.StringIO(rejected_csv(result), newline=""), delimiter=result.delimiter)
        assert [list(map(unmarked, row[: len(result.header)])) for row in list(written)[1:]] == [
            list(one.cells[: len(result.header)]) for one in result.rejected
        ]
    assert everything(practice) == before


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    kind=st.sampled_from(sorted(RIGHT)),
    edits=st.lists(st.tuples(st.integers(0, 400), st.integers(0, 8), st.sampled_from(ODD)), min_size=1, max_size=4),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
    options=st.tuples(st.booleans(), st.booleans()),
)
def test_a_damaged_file_is_taken_in_or_refused_in_words(
    trial: Practice,
    kind: str,
    edits: list[tuple[int, int, str]],
    encoding: str,
    options: tuple[bool, bool],
) -> None:
    text = RIGHT[kind]
    for place, cut, put in edits:
        at = place % (len(text) + 1)
        text = text[:at] + put + text[at + cut :]
    either_all_or_nothing(trial, kind, text.encode(encoding), partial=options[0], update=options[1])


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    kind=st.sampled_from(sorted(RIGHT)),
    rows=st.lists(st.lists(st.sampled_from(ODD) | st.text(max_size=12), min_size=3, max_size=7), max_size=4),
    partial=st.booleans(),
)
def test_any_cells_under_a_right_header_are_taken_in_or_refused_in_words(
    trial: Practice, kind: str, rows: list[list[str]], partial: bool
) -> None:
    written = io.StringIO()
    csv.writer(written).writerows([RIGHT[kind].splitlines()[0].split(","), *rows])
    data = written.getvalue().encode("utf-8", "surrogatepass")
    either_all_or_nothing(trial, kind, data, partial=partial, update=False)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(kind=st.sampled_from(sorted(RIGHT)), data=st.binary(max_size=200))
def test_any_bytes_are_taken_in_or_refused_in_words(trial: Practice, kind: str, data: bytes) -> None:
    either_all_or_nothing(trial, kind, data, partial=False, update=True)


@pytest.mark.parametrize("kind", sorted(RIGHT))
def test_the_right_files_that_are_damaged_above_are_right(trial: Practice, kind: str) -> None:
    rows = len(RIGHT[kind].splitlines()) - 1
    assert load(trial, kind, RIGHT[kind], dry_run=True).added == rows


def test_a_failure_in_the_middle_of_an_import_leaves_nothing(practice: Practice, monkeypatch: Any) -> None:
    def broken(*_: object) -> None:
        raise OSError("disk full")

    text = f"{STOCK}LIGHT-A,store room,L7,2028-05,4,,\n"
    before = everything(practice)
    monkeypatch.setattr(import_stock, "post", broken)
    with pytest.raises(OSError, match="disk full"):
        load(practice, "opening_stock", text)
    assert everything(practice) == before
    monkeypatch.undo()
    assert load(practice, "opening_stock", text).added == 1
