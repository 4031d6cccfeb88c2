"""Labels by command: what one says, what its article is, and scans wherever a lot number is taken."""

import shutil
from pathlib import Path

import pytest

from tests.little_practice import IN_DATE
from tests.tui.commands import stocked
from tests.tui.test_commands_reading import Ask
from tui.commands import base

BOX = "09506000134352"
LIGHT_1 = f"]d201{BOX}17{IN_DATE:%y%m%d}10LIGHT-1"


@pytest.fixture(scope="module")
def stocked_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return stocked(tmp_path_factory.mktemp("scanning"))


@pytest.fixture
def ask(stocked_file: Path, tmp_path: Path) -> Ask:
    return Ask(str(shutil.copy(stocked_file, tmp_path / "practice.db")))


def test_what_a_code_stands_for_is_said_once_and_then_every_scan_knows_it(ask: Ask) -> None:
    assert ask("scan", LIGHT_1).status == base.ACT
    assert "nobody has said yet which one it is" in ask("scan", LIGHT_1).out
    said = ask("package", LIGHT_1, "light", "4", "--by", "AB")
    assert said.lines == [f"{BOX} stands for 4 units of LIGHT."]
    scanned = ask("scan", LIGHT_1)
    assert scanned.status == base.OK
    assert f"GTIN {BOX}, lot LIGHT-1, use by {IN_DATE}" in scanned.lines[0]
    assert scanned.lines[1] == "  Item: LIGHT Light, 4 units"
    assert "LIGHT Light, lot LIGHT-1" in scanned.lines[2]
    assert f"gtin {BOX}, LIGHT Light, 4 units" in ask("packages", "--item", "light").out
    other = ask("package", BOX, "heavy", "4", "--by", "AB")
    assert other.status == base.BAD
    assert "4 units of Light so far" in other.err
    assert ask("package", BOX, "heavy", "4", "--by", "AB", "--yes").status == base.OK


def test_a_scan_stands_in_for_a_lot_number(ask: Ask) -> None:
    ask("package", LIGHT_1, "light", "4", "--by", "AB")
    assert ask("trace", "lot", LIGHT_1, "--json").data["lot"] == "LIGHT-1"
    assert "lot LIGHT-1" in ask("history", "--lot", LIGHT_1).out
    opened = ask("open", f"01{BOX}10LIGHT-1", "--by", "AB")
    assert opened.status == base.OK, opened.err
    assert "could be stock" in ask("discard", LIGHT_1, "--by", "AB", "--reason", "dented").err  # sealed, or opened
    assert "No lot has the number" in ask("trace", "lot", f"01{BOX}10NOBODY").err


def test_labels_from_a_scanner_come_line_by_line_and_a_bad_one_stops_none(ask: Ask) -> None:
    ask("package", BOX, "light", "1", "--by", "AB")
    typed = f"{BOX[1:]}\r\n17{IN_DATE:%y%m%d}10LIGHT-1\n01{BOX[:-1]}310X\nHEAVY-1\n"
    ran = ask("scan", "--json", typed=typed)
    assert ran.status == base.BAD
    assert "character 16" in ran.err
    assert [scan["lot"] for scan in ran.data["scans"]] == ["", "LIGHT-1", "HEAVY-1"]
    assert ran.data["scans"][1]["item"] == "LIGHT"  # the second code goes with the first


def test_one_label_that_cannot_be_read_says_where_and_what_to_do(ask: Ask) -> None:
    ran = ask("scan", f"01{BOX}17271399")
    assert ran.status == base.BAD
    assert "character 19" in ran.err
    assert "by hand" in ran.err


def test_shelf_labels_are_written_to_a_new_file_only(ask: Ask, tmp_path: Path) -> None:
    file = tmp_path / "labels.pdf"
    ran = ask("labels", "--out", file, "--item", "heavy", "--paper", "letter", "--skip", "29")
    assert ran.lines == [f"2 labels written to {file}."]
    made = file.read_bytes()
    assert made.startswith(b"%PDF")
    again = ask("labels", "--out", file)
    assert again.status == base.BAD
    assert "already" in again.err
    assert file.read_bytes() == made
    assert "can't be written" in ask("labels", "--out", tmp_path / "nowhere" / "labels.pdf").err
