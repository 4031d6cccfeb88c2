"""Orders by command: from what is proposed to what was received, with the sheet that the supplier reads."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.tui.commands import Ran, run, stocked
from tui.commands import base

Ask = Callable[..., Ran]


@pytest.fixture
def ask(tmp_path: Path) -> Ask:
    """Give commands on a practice that has a draft for two boxes of light body."""
    store = stocked(tmp_path)
    return lambda *words: run("--database", store, "--today", "2026-03-02", "--by", "MN", *words)


def test_a_draft_is_changed_printed_sent_received_and_the_rest_given_up(ask: Ask, tmp_path: Path) -> None:
    assert ask("order", "change", "o-0001", "light=3").lines[1] == "  LIGHT, Light: 3 packs of 4, 180.00"
    sheet = ask("order", "sheet", "O-0001").out
    assert sheet.startswith("Order O-0001 (draft)\nTo: Supplier North\n")
    assert sheet.splitlines()[6].split() == ["N-1", "Light", "3", "4", "x", "cartridge", "60.00", "180.00"]
    for name in ("o.csv", "o.txt", "o.pdf"):
        assert ask("order", "sheet", "O-0001", "--out", tmp_path / name).status == base.OK
    assert (tmp_path / "o.csv").read_text().splitlines()[1] == "O-0001,N-1,Light,3,4,cartridge,60.00,180.00,EUR"
    assert (tmp_path / "o.pdf").read_bytes().startswith(b"%PDF")
    assert "new" in ask("order", "sheet", "O-0001", "--out", tmp_path / "o.csv").err  # nobody's file is written over
    assert "can't be written as 'doc'" in ask("order", "sheet", "O-0001", "--out", "o.doc").err

    sent = ask("order", "send", "O-0001", "--expected", "2026-03-09").lines
    assert "sent 2026-03-02, expected 2026-03-09" in sent[0]
    received = ask("receive", "Supplier North", "LIGHT; packs=2; lot=N1; use-by=2028-05", "--order", "O-0001")
    assert received.lines[-1] == "Mind: Still to come of order O-0001: 1 x LIGHT."
    late = ask("week", "--kind", "order-overdue", "--today", "2026-03-20")
    assert late.lines[1].startswith("2. order overdue: Order O-0001, Supplier North, 11 days late")
    given_up = ask("order", "give-up", "O-0001", "light", "--reason", "out of stock")
    assert given_up.lines[0].startswith("Order O-0001, Supplier North: received")
    assert ask("orders", "--state", "received", "--json").data["orders"][0]["lines"][0]["open_units"] == 0
    assert ask("order", "cancel", "O-0001", "--reason", "again").status == base.BAD


def test_what_is_proposed_becomes_a_draft_once(ask: Ask) -> None:
    assert (
        "There is a draft for Supplier North already: O-0001" in ask("order", "draft", "Supplier North", "LIGHT=1").err
    )
    second = ask("order", "draft", "Supplier North", "LIGHT=1", "--yes")
    assert second.lines[0].startswith("Order O-0002, Supplier North: draft")
    assert ask("orders").lines[0].startswith("Order O-0002")
    proposed = ask("orders", "--proposed", "--json").data["orders"]
    wanted = ask("order", "draft", "Supplier North", "--yes")
    if proposed:
        packs = {line["item"]: line["packs"] for line in proposed[0]["lines"]}
        made = ask("orders", "O-0003", "--json").data["orders"][0]
        assert {line["item"]: line["packs"] for line in made["lines"]} == packs
    else:
        assert "Nothing is ordered" in wanted.err
    assert "Write ITEM=PACKS" in ask("order", "change", "O-0001", "light").err
