"""By command: to the laboratory and back, an operatory topped up, expired stock off the shelf, the trail as files."""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.tui.commands import Ran, run, stocked
from tui.commands import base

Ask = Callable[..., Ran]


@pytest.fixture
def ask(tmp_path: Path) -> Ask:
    """Give commands on a practice with a parcel sent, a level of two at the first operatory, and one lot expired."""
    store = stocked(tmp_path)
    return lambda *words: run("--database", store, "--today", "2026-03-02", "--by", "AB", *words)


def test_a_rejected_parcel_is_answered_its_remake_planned_and_its_record_printed(ask: Ask, tmp_path: Path) -> None:
    assert ask("laboratory", "list").lines[1].startswith("  visit 1, case C-0, sent, sent 2026-03-02")
    assert "note" in ask("laboratory", "answer", "1", "rejected").err
    answered = ask("laboratory", "answer", "1", "rejected", "--note", "torn", "--remake", "2026-03-09")
    assert answered.lines[-1] == "Planned: visit 5 of case C-0 on 2026-03-09."
    assert ask("laboratory", "take-back", "1", "--reason", "another case").lines[0].startswith("Taken back: visit 1")
    another = ask("laboratory", "pack", "1", "models", "--taken", "9:00")
    assert (another.status, "another one" in another.err) == (base.BAD, True)
    assert "names no time" in ask("laboratory", "sent", "1", "post", "--at", "2026-03-02").err
    kinds = ask("laboratory", "ships", "reline", "--set", "denture", "bite").lines
    assert kinds == ["reline, Reline impression in the denture: denture; bite"]
    assert ask("case-record", "visit:1").lines[0] == "Record of case C-0"
    assert ask("case-record", "C-0", "--pdf", tmp_path / "r.pdf").status == base.OK
    assert (tmp_path / "r.pdf").read_bytes().startswith(b"%PDF")
    assert "can't be written" in ask("case-record", "C-0", "--pdf", tmp_path / "r.pdf").err


def test_an_operatory_is_topped_up_once_and_what_lacks_is_said(ask: Ask) -> None:
    assert ask("level", "operatory 1", "heavy", "9").lines == ["Heavy (HEAVY) at operatory 1 is topped up to 9."]
    planned = ask("top-up", "operatory 1", "--dry-run")
    assert planned.lines[0] == "To carry to operatory 1:"
    assert "Lacking: Heavy (HEAVY)" in planned.out
    first = ask("top-up", "operatory 1", "--request-key", "k1")
    again = ask("top-up", "operatory 1", "--request-key", "k1")
    assert (first.status, first.lines[0].startswith("Carried to operatory 1: entry ")) == (base.ACT, True)
    assert again.lines[0] == f"{first.lines[0]} (posted before; nothing more was posted)"
    assert ask("places").lines[1].startswith("operatory 1 (chair)")
    assert "Level: Light (LIGHT): 2 of 2 there" in ask("places", "Operatory 1").lines


def test_expired_stock_is_taken_off_the_shelf(ask: Ask) -> None:
    listed = ask("expired")
    assert (listed.status, listed.lines[0]) == (base.ACT, "store room:")
    number = listed.lines[1].split(",")[0].removeprefix("  stock ")
    taken = ask("expired", "take-off", "store room", "--discard", f"{number}=1", "--proof", "bag 7")
    assert taken.lines[0].startswith("Taken off at store room: entry ")
    assert ask("expired").lines == ["Nothing stands expired."]
    assert "Nothing stands expired there" in ask("expired", "take-off", "store room", "--not-there", "all").err
    assert "proof: bag 7" in ask("history", "--kind", "discard").lines[0]


def test_the_trail_is_written_as_csv_once(ask: Ask, tmp_path: Path) -> None:
    file = tmp_path / "trail.csv"
    assert ask("history", "--csv", file).lines == [f"Written to {file}."]
    with file.open(newline="") as opened:
        assert {row["kind"] for row in csv.DictReader(opened)} >= {"receipt", "use", "opening"}
    assert "can't be written" in ask("history", "--csv", file).err
    assert ask("history", "--changes", "--case", "C-0", "--csv", "-").lines[0].startswith("change,at,by,subject,name")
    assert "Leave them out" in ask("history", "--changes", "--kind", "use").err
    assert ask("history", "--lot", "LIGHT-0").lines[1].startswith("2026-03-02 AB: received 50 mL into operatory 1")
