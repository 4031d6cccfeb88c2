"""Recall notices by command, from the letter to the file: what is held, set aside, told, answered, returned, closed."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.tui.commands import Ran, run, stocked, unlike
from tui.commands import base
from tui.commands.shapes import SHAPES

Ask = Callable[..., Ran]


@pytest.fixture
def ask(tmp_path: Path) -> Ask:
    """Give commands on a practice that used lot HEAVY-1 for case C-0 and has five cartridges of it left."""
    store = stocked(tmp_path)
    return lambda *words: run("--database", store, "--today", "2026-03-02", "--by", "MN", *words)


def test_a_recall_is_worked_off_by_command_and_printed_for_the_file(ask: Ask, tmp_path: Path) -> None:
    entered = ask(
        "notice", "enter", "FSN 7", "item=heavy; lot=HEAVY-1; to=HEAVY-9", "--class", "II", "--answer-by", "2026-03-09"
    )
    assert entered.lines[0] == (
        "Recall notice FSN 7 of 2026-03-02, class II: harm that passes, or serious harm unlikely: open"
    )
    assert "already" in ask("notice", "enter", "fsn 7", "item=heavy").err
    shown = ask("notice", "show", "fsn 7", "--json")
    assert shown.status == base.ACT
    assert unlike(SHAPES["notice show"], shown.data) == []
    (lot,) = shown.data["lots"]
    assert (lot["lot"], lot["named"], len(lot["stock"])) == ("HEAVY-1", 2, 2)  # a sealed stack, one opened
    assert [case["case_ref"] for case in shown.data["cases"]] == ["C-0"]
    assert "Repeat it with --yes and --reason TEXT" in ask("release", "HEAVY-1", "--reason", "why not").err
    assert ask("week").lines[1].startswith("1. notice open: Recall FSN 7, class II, 2 to find")

    sealed, opened = sorted(lot["stock"], key=lambda stock: stock["opened_on"] is not None)
    assert "can't be closed yet. Find and set aside: " in ask("notice", "close", "FSN 7").err
    assert ask("notice", "found", "FSN 7", sealed["stock"]).status == base.OK
    missing = ask("notice", "missing", "FSN 7", opened["stock"])
    assert missing.lines[0].startswith("Missing: entry")
    assert ask("notice", "told", "FSN 7", "c-0", "--status", "not-needed", "--note", "remade").status == base.OK
    assert ask("notice", "answer", "FSN 7", "--proof", "e-mail of 10:14").status == base.OK
    assert "proof" in ask("notice", "returned", "FSN 7", "HEAVY-1").err
    assert ask("notice", "returned", "FSN 7", "HEAVY-1=1", "--proof", "credit note 3").status == base.OK
    assert ask("notice", "destroyed", "FSN 7", "HEAVY-1", "--proof", "certificate 4").status == base.OK
    assert ask("notice", "close", "FSN 7").lines[-1] == "Nothing is left to do."
    assert ask("notice", "list").lines[0].endswith("closed, 1 lot, 1 case, everything is settled")
    for name in ("n.pdf", "n.csv"):
        assert ask("notice", "print", "FSN 7", "--out", tmp_path / name).status == base.OK
    assert (tmp_path / "n.pdf").read_bytes().startswith(b"%PDF")
    assert "credit note 3" in (tmp_path / "n.csv").read_text()
    assert "can't be written as 'doc'" in ask("notice", "print", "FSN 7", "--out", "n.doc").err


def test_what_a_notice_names_is_corrected_by_command(ask: Ask) -> None:
    entered = ask("notice", "enter", "N-2", "code=ZZ-1", "item=powder; lot=POWDER-1; since=2026-01-01")
    assert "Mind: code ZZ-1, every lot: the code is not in the catalogue; no lot is held for it." in entered.lines
    assert "withdraw N" in ask("notice", "scope", "N-2").err
    line = ask("notice", "show", "N-2", "--json").data["lines"][1]["line"]
    assert "reason" in ask("notice", "scope", "N-2", "--withdraw", line).err
    withdrawn = ask("notice", "scope", "N-2", "--withdraw", line, "--reason", "misread")
    assert "The practice has no lot of it." in withdrawn.lines
    assert "lot POWDER-1" in ask("notice", "scope", "N-2", "lot=powder-1").out
    assert "class I: " in ask("notice", "change", "N-2", "--class", "I", "--reason", "classified").lines[0]
    assert "can't be read" in ask("notice", "scope", "N-2", "lots=powder-1").err
    assert ask("notice", "close", "N-0").status == ask("notice", "show", "N-9").status == base.BAD
    assert ask("notice", "reopen", "N-0", "--reason", "more came").lines[0].endswith(": open")


def test_a_number_alone_is_traced_as_a_lot_or_a_case(ask: Ask) -> None:
    assert ask("trace", "heavy-1").lines[0].startswith("Heavy, lot HEAVY-1")
    assert ask("trace", "c-0").out == ask("trace", "case", "C-0").out
    assert ask("trace", "--json", "heavy-1").data["case_ref"] is None
    assert "No lot and no case is called 'lot-x'" in ask("trace", "lot-x").err
