"""Rounds of counting by command: from the sheet to the approval; a blind sheet tells no amount in any of its forms."""

from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pypdfium2 as pdfium  # type: ignore[import-untyped]  # it has no types
import pytest

from tests.tui.commands import Ran, run, stocked, unlike
from tui.commands import base, shapes

Ask = Callable[..., Ran]
MANY = 4711  # an amount that stands nowhere else


@pytest.fixture
def ask(tmp_path: Path) -> Ask:
    """Give commands on a practice whose book has 4711 mixing tips in the store room."""
    store = stocked(tmp_path)

    def ask(*words: object) -> Ran:
        return run("--database", store, "--today", "2026-03-02", "--by", "MN", *words)

    lots = ask("lots", "--json").data["lots"]
    stock = next(lot["stock"] for lot in lots if lot["item"] == "TIP" and lot["place"] == "store room")
    assert ask("count", stock, MANY, "--reason", "a big box").status == base.OK
    return ask


def printed(ask: Ask, number: int, folder: Path) -> dict[str, str]:
    """Return the sheet of a round in each of its forms."""
    forms = {"text": ask("count-round", "sheet", number).out, "json": ask("count-round", "sheet", number, "--json").out}
    for ending in ("txt", "csv", "pdf"):
        path = folder / f"sheet-{number}.{ending}"
        assert ask("count-round", "sheet", number, "--out", path).status == base.OK
        forms[ending] = "" if ending == "pdf" else path.read_text()
    with closing(pdfium.PdfDocument(folder / f"sheet-{number}.pdf")) as document:
        forms["pdf"] = "\n".join(page.get_textpage().get_text_range() for page in document)
    return forms


def test_a_blind_sheet_tells_no_expected_amount_in_any_form(ask: Ask, tmp_path: Path) -> None:
    ask("count-round", "start", "--kind", "tip")
    blind = printed(ask, 1, tmp_path)
    assert all("Mixing tip" in form or "TIP" in form for form in blind.values())
    assert not [name for name, form in blind.items() if str(MANY) in form or "Book" in form]
    assert {line["expected_qty"] for line in ask("count-round", "sheet", 1, "--json").data["lines"]} == {None}
    assert str(MANY) not in ask("count-round", "list").out + ask("count-round", "list", "--json").out
    ask("count-round", "drop", 1, "--reason", "only looked")
    ask("count-round", "start", "--kind", "tip", "--open-book")
    told = printed(ask, 2, tmp_path)
    assert all(str(MANY) in form for form in told.values())


def test_a_round_is_read_reviewed_and_approved_once(ask: Ask) -> None:
    begun = ask("count-round", "start", "--item", "light", "--place", "store room").lines
    assert begun[0] == "Round 1: open, LIGHT at store room, blind, begun 2026-03-02 by MN, 0 lines read"
    assert "Round 1 counts some of the same stock" in ask("count-round", "start").err
    sheet = ask("count-round", "sheet", 1, "--json").data
    assert not unlike(shapes.SHAPES["count-round sheet"], sheet)
    first, *rest = [line["line"] for line in sheet["lines"]]
    assert ask("count-round", "record", 1).status == base.BAD
    assert "can't be read" in ask("count-round", "record", 1, f"{first}=many").err
    assert "has no time" in ask("count-round", "record", 1, f"{first}=1", "--at", "fri").err
    ask("count-round", "record", 1, f"{first}=9")
    ask("count-round", "record", 1, "--take-back", first)
    assert ask("count-round", "record", 1, f"{first}=2").lines[0].endswith("read 2")
    what = ("LIGHT", "4t", "--place", "store room", "--lot", "X-9", "--use-by", "2028-05", "--opened", "2026-03-01")
    found = ask("count-round", "found", 1, *what)
    assert found.lines[0].endswith("lot X-9, store room, opened 2026-03-01, read 4 tenths, 20 mL")
    review = ask("count-round", "review", 1, "--json")
    assert review.status == base.ACT
    assert not unlike(shapes.SHAPES["count-round review"], review.data)
    assert review.data["unread"] == rest
    assert ask("count-round", "record", 1, "--rest-is-gone").lines == [f"Nothing there: {', '.join(rest)}."]
    told = ask("count-round", "review", 1).lines
    assert any(line.startswith("  line ") and "+20 mL" in line for line in told)
    assert "reason" in ask("count-round", "approve", 1).err
    said = ("count-round", "approve", 1, "--reason", "miscounted", "--request-key", "k")
    done = ask(*said)
    assert done.lines[0].startswith("Round 1 approved: entry ")
    assert ask(*said).lines[0].endswith("(approved before; nothing more was posted)")
    rounds = ask("count-round", "list", "--json").data
    assert not unlike(shapes.SHAPES["count-round"], rounds)
    assert rounds["rounds"][0]["state"] == "approved"
    assert ask("verify").status == base.OK
