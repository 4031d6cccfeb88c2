"""A scanner at the screens: receiving by scans alone, the cartridge in the dispenser, and where a lot is."""

from datetime import timedelta
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from textual.pilot import Pilot

from inventory.errors import StoreUnreachable
from inventory.service import catalogue, holding, labels
from tests.clinic import FAR, Clinic
from tests.service.catalogue_samples import BY, SUPPLIER, box
from tests.tui.at_work import at_work, enter, line_with, press, rest, screen
from tests.tui.seeing import type_raw
from tui.widgets.safe_input import SCAN_GAP

BOX, UNIT = "09506000134352", "09521234543213"
OF_THE_LOT = f"]d201{UNIT}1728063010LIGHT-A-1"


@pytest.fixture
def buying(clinic: Clinic) -> Clinic:
    """The clinic with a supplier of light body in boxes of two; the code of the single cartridge is known."""
    catalogue.add_supplier(clinic.practice, SUPPLIER, by=BY)
    catalogue.save_supply(clinic.practice, box("LIGHT-A"), by=BY)
    labels.remember_article(clinic.practice, "gtin", UNIT, "LIGHT-A", 1, by=BY)
    return clinic


async def scan(pilot: Pilot[Any], *texts: str, end: str = "\r") -> None:
    """Scan labels back to back, as fast as the terminal takes them."""
    type_raw(pilot.app, "".join(text + end for text in texts))
    await pilot.pause(2 * SCAN_GAP)
    await rest(pilot)


async def test_a_delivery_comes_in_by_scans_alone_and_an_article_is_asked_about_once(buying: Clinic) -> None:
    before = buying.left("LIGHT-A")
    boxed = [f"01{BOX}17280500\x1d10B7"] * 3
    single = [f"91LIGHT-A\x1d10U{number}" for number in range(46)]  # shelf labels of our own are short
    async with at_work(buying.practice) as pilot:
        await press(pilot, "5", "r")
        await scan(pilot, boxed[0], single[0])
        assert "Which item is this?" in screen(pilot)
        assert f"GTIN {BOX}" in screen(pilot)
        await enter(pilot, "light body a")
        await press(pilot, "enter")
        await press(pilot, "backspace", "2", "enter")
        await scan(pilot, *boxed[1:], *single[1:], "10CUT\x1d1799", *single[:2])  # 50 at full speed
        assert "3 packs of 2  B7" in line_with(pilot, "packs")
        assert "2028-05 end" in line_with(pilot, "packs")
        assert "Label not used" in screen(pilot)  # the one that was cut off
        await press(pilot, "f2", "enter", "y")
        assert "is in stock (entry" in screen(pilot)
    assert buying.left("LIGHT-A") == before + (3 * 2 + 46 + 2) * 5000
    assert [(one.code, one.units) for one in labels.packages(buying.practice)] == [(BOX, 2), (UNIT, 1)]


async def test_a_doubtful_label_is_asked_about_and_a_tab_ends_it_too(buying: Clinic) -> None:
    async with at_work(buying.practice) as pilot:
        await press(pilot, "5", "r")
        await scan(pilot, f"01{UNIT}10L717280531", end="\t")  # the separator before 17 was lost
        assert "Was it read rightly?" in screen(pilot)
        await press(pilot, "n")
        assert "Line of the delivery" in screen(pilot)  # to be put right by hand
        await press(pilot, "escape", "y")
        await scan(pilot, f"01{UNIT}10L7\x1d17280531", end="\t")
        assert "L7" in line_with(pilot, "1 unit")
        with patch.object(labels, "find", side_effect=StoreUnreachable("The disk is full.")):
            await scan(pilot, f"01{UNIT}10L9")
        await scan(pilot, f"01{UNIT}10L9")
        assert "2 units" in line_with(pilot, "L9")  # what could not be looked up was kept
        await press(pilot, "f3")
        await scan(pilot, f"01{UNIT}1728053110L8")  # into a line while it is typed: it fills the fields
        await press(pilot, "f2")
        assert "2028-05-31" in line_with(pilot, "L8")


async def test_the_scanned_cartridge_is_booked_out_and_a_held_one_only_with_a_reason(buying: Clinic) -> None:
    lot = labels.find(buying.practice, OF_THE_LOT).lots[0]
    visit = buying.plan()
    async with at_work(buying.practice) as pilot:
        await press(pilot, "1", "enter")
        assert f"Book out {visit.case_ref}" in screen(pilot)
        await scan(pilot, OF_THE_LOT)
        assert "read" in line_with(pilot, "Wash  ")
        holding.hold(buying.practice, lot_id=lot.lot_id, reason="smells", by=BY)
        await press(pilot, "escape", "y", "enter")
        await scan(pilot, OF_THE_LOT)
        assert "Was it really used?" in screen(pilot)
        await press(pilot, "y", "f2", "enter", "y")
        await enter(pilot, "nothing else there")
        await press(pilot, "enter")
        assert "booked out" in screen(pilot).casefold()


async def test_a_scan_picks_the_lot_where_several_are_offered(buying: Clinic) -> None:
    buying.lot("LIGHT-A", "LIGHT-B-2", 1, use_by=FAR + timedelta(days=90))
    buying.plan()
    async with at_work(buying.practice) as pilot:
        await press(pilot, "1", "enter")
        await pilot.press(*["down"] * 6)
        await press(pilot, "l")
        assert "Which lot? Wash upper" in screen(pilot)
        await scan(pilot, f"01{UNIT}")
        assert "It does not say which lot it is." in " ".join(screen(pilot).replace("▌", " ").split())
        await scan(pilot, f"01{UNIT}10LIGHT-B-2")
        assert "Which lot?" not in screen(pilot)
        assert "LIGHT-B-2" in line_with(pilot, "Wash  ")


async def test_a_scan_where_no_label_is_asked_for_leads_to_its_lot_and_to_its_count(
    buying: Clinic, tmp_path: Path
) -> None:
    buying.lot("LIGHT-A", "LIGHT-B-2", 1)
    async with at_work(buying.practice) as pilot:
        await press(pilot, "5")
        await scan(pilot, OF_THE_LOT)
        assert "Light body A, fast" in screen(pilot)
        assert "LIGHT-A-1" in screen(pilot)
        assert "This line" in screen(pilot)
        await press(pilot, "c")
        await scan(pilot, f"01{UNIT}10LIGHT-B-2")  # nothing was typed: on to the next lot
        await press(pilot, "c")
        assert "Light body A, fast, lot LIGHT-B-2" in screen(pilot)
        await enter(pilot, "3")
        await scan(pilot, OF_THE_LOT)  # something is typed: the form stays as it is
        assert "saved yet: save it or leave it" in " ".join(screen(pilot).replace("▌", " ").split())
        await press(pilot, "enter")
        await enter(pilot, "two more stood behind")
        await press(pilot, "enter")
        assert buying.left("LIGHT-A") == (4 + 3) * 5000
        await press(pilot, "l", "ctrl+u")
        await enter(pilot, str(tmp_path))
        await press(pilot, "f2")
        assert "2 labels written" in screen(pilot)
        assert (tmp_path / "labels LIGHT-A.pdf").read_bytes().startswith(b"%PDF")
        pilot.app.clear_notifications()  # nobody is as fast: messages of four seconds would cover one another
        await press(pilot, "6")
        await scan(pilot, f"01{UNIT}10LIGHT-B-2")
        assert "lot LIGHT-B-2 of Light body A, fast: all of them" in screen(pilot)
        await scan(pilot, f"01{UNIT[:-1]}410X")
        assert "character 16" in screen(pilot)
