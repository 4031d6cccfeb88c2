"""Stock on screen: every item with what is usable of it, narrowed while one types, and the way to its lots."""

import csv
import io
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from inventory.domain.vocabulary import BaseUnit
from inventory.service import catalogue, holding, importing
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, SUPPLIER, TODAY
from tests.tui.at_work import LARGE, at_work, enter, line_with, press, screen
from tui.screens.item_form import item_row
from tui.widgets.fields import Field
from tui.widgets.table import ListTable


async def test_every_item_says_what_is_usable_and_the_gravest_of_the_rest(clinic: Clinic) -> None:
    clinic.lot("LIGHT-A", "OLD", 2, use_by=TODAY - timedelta(days=3))
    held = clinic.lot("BITE", "HELD", 1)
    holding.hold(clinic.practice, lot_id=held, reason="leaking", by=BY)
    recalled = clinic.lot("POWDER", "RECALLED", 1)
    holding.hold(clinic.practice, lot_id=recalled, reason="notice of the maker", by=BY, recall="N-77")
    clinic.lot("HEAVY-A", "SOON", 1, use_by=TODAY + timedelta(days=20))
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5")
        assert "✗ 100 mL expired" in line_with(pilot, "LIGHT-A")
        assert "✗ 50 mL on hold" in line_with(pilot, "BITE")
        assert "▵ 50 mL expires soon" in line_with(pilot, "HEAVY-A")
        assert "recalled" in line_with(pilot, "POWDER")
        assert "worth EUR" in screen(pilot)


async def test_typing_part_of_a_name_narrows_the_list_and_enter_goes_to_it(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5", "slash")
        await enter(pilot, "heavy")
        assert "LIGHT-A" not in screen(pilot)
        await press(pilot, "enter", "enter")
        assert "HEAVY-A-1" in screen(pilot)
        assert "✓ in date" in line_with(pilot, "HEAVY-A-1")


async def test_a_line_of_the_week_leads_to_its_lot(clinic: Clinic) -> None:
    lot = clinic.lot("POWDER", "SOON-1", 2, use_by=TODAY + timedelta(days=20))
    async with at_work(clinic.practice, size=LARGE) as pilot:
        await press(pilot, "4")
        table = pilot.app.screen.query_one("#lines", ListTable)
        table.select(next(alert for alert in table.keys if alert.lot_id == lot))
        await press(pilot, "enter")
        assert pilot.app.current_mode == "stock"
        assert "expires soon" in line_with(pilot, "SOON-1")
        await press(pilot, "3", "5", "escape")  # the lots stand there still, and lead back to all items
        assert "part of a name or code" in screen(pilot)


async def test_an_item_typed_in_says_at_its_field_what_is_wrong_and_is_saved_once_it_is_right(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5", "n")
        await enter(pilot, "NEW-1")
        await press(pilot, "enter")
        await enter(pilot, "New [bag]")
        await press(pilot, "enter")
        await enter(pilot, "accessory")
        await press(pilot, "enter")
        await enter(pilot, "mL")
        await press(pilot, "enter", "f2")
        assert "How much one unit holds is missing" in " ".join(screen(pilot).split())
        await enter(pilot, "10")
        await press(pilot, "f2", "enter")
        assert "New [bag]" in line_with(pilot, "NEW-1")
    draft = catalogue.item(clinic.practice, "NEW-1").draft
    assert (draft.base, draft.unit_qty, draft.has_lots) == (BaseUnit.CML, 1000, True)


async def test_an_items_form_saved_with_another_name_changes_nothing_else(clinic: Clinic) -> None:
    before = catalogue.item(clinic.practice, "HEAVY-A").draft
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5", "slash")
        await enter(pilot, "heavy")
        await press(pilot, "enter", "e", "shift+tab", "tab")
        pilot.app.screen.query_one("#name", Field).focus_input()
        await press(pilot, "end", "ctrl+u")
        await enter(pilot, "Heavy body B")
        await press(pilot, "f2", "enter")
    assert catalogue.item(clinic.practice, "HEAVY-A").draft == replace(before, name="Heavy body B")


def test_an_item_as_a_row_of_a_file_is_the_same_item(clinic: Clinic) -> None:
    drafts = [catalogue.item(clinic.practice, line.code).draft for line in catalogue.items(clinic.practice)]
    written = io.StringIO()
    rows = [item_row(draft) for draft in drafts]
    writer = csv.DictWriter(written, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    importing.import_file(clinic.practice, "items", written.getvalue().encode(), by=BY, update=True)
    assert [catalogue.item(clinic.practice, draft.code).draft for draft in drafts] == drafts


async def test_opening_stock_is_typed_in_and_stands_on_the_shelf(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5", "slash")
        await enter(pilot, "powder")
        await press(pilot, "enter", "o")
        for text in ("store room", "P-7", "2028-05", "3"):
            await enter(pilot, text)
            await press(pilot, "enter")
        await press(pilot, "f2", "enter")
        assert "1500 g" in line_with(pilot, "POWDER")
    assert clinic.left("POWDER", "store room") == 3 * 50_000


async def test_how_an_item_is_bought_is_typed_in_with_what_else_is_in_the_pack(clinic: Clinic) -> None:
    catalogue.add_supplier(clinic.practice, SUPPLIER, by=BY)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5", "slash")
        await enter(pilot, "light")
        await press(pilot, "enter", "p")
        for text in (SUPPLIER.name, "N-9", "2", "38.50", "", "", "TIP-1:6"):
            if text:
                await enter(pilot, text)
            await press(pilot, "enter")
        await press(pilot, "f2", "enter")
    (supply,) = catalogue.item(clinic.practice, "LIGHT-A").supplies
    assert (supply.pack_cents, supply.contents) == (3850, (("TIP-1", 6),))


async def test_a_tip_is_put_on_a_material_and_taken_off_again(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5", "slash")
        await enter(pilot, "TIP-1")
        await press(pilot, "enter", "t")
        assert "✓ fits  Light body A, fast (LIGHT-A)" in screen(pilot)
        await enter(pilot, "LIGHT-A")
        await press(pilot, "enter")
        assert "-     Light body A, fast (LIGHT-A)" in screen(pilot)
        assert "LIGHT-A" not in catalogue.item(clinic.practice, "TIP-1").fits


async def test_a_file_with_faults_names_each_row_and_column_and_is_taken_in_once_it_is_right(
    clinic: Clinic, tmp_path: Path
) -> None:
    file = tmp_path / "suppliers.csv"
    file.write_text("name,lead_days\nSupplier East,soon\n,3\n")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5", "i")
        await enter(pilot, "suppliers")
        await press(pilot, "enter")
        await enter(pilot, str(file))
        await press(pilot, "f2")
        assert "lead_days" in line_with(pilot, "  2  ")
        assert "name" in line_with(pilot, "  3  ")
        file.write_text("name,lead_days\nSupplier East,3\n")
        await press(pilot, "f2")
        assert "1 row of suppliers: 1 new, 0 changed." in screen(pilot)
        await press(pilot, "enter")
    assert [card.draft.name for card in catalogue.suppliers(clinic.practice)] == ["Supplier East"]


async def test_a_file_that_is_not_there_is_said_beside_its_path(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5", "i")
        await enter(pilot, "visits")
        await press(pilot, "enter")
        await enter(pilot, "/nowhere.csv")
        await press(pilot, "f2")
        assert "It can't be read" in screen(pilot)
