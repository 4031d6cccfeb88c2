"""Use and waste by command, as lines, as JSON, and written to files; what to count how often, and what is due."""

from pathlib import Path

from tests.tui.commands import run, stocked, unlike
from tui.commands import base
from tui.commands.use_shapes import CLASSES, USAGE


def test_use_and_waste_of_a_month_are_told_printed_and_written(tmp_path: Path) -> None:
    where = ("--database", stocked(tmp_path), "--today", "2026-03-02")
    told = run(*where, "usage").lines
    assert told[0] == "Use and waste from 2026-03-01 to 2026-03-02, money in EUR"
    # 17 mL of wash and twice 1.15 in tips, at 60.00 for four cartridges of 50 mL
    (light,) = (line.strip() for line in told if line.strip().startswith("LIGHT, "))
    assert "used 17 mL (5.10), purged in tips 2.3 mL (0.69)" in light
    assert "1 visit, " in next(line for line in told if line.startswith("  Final impressions, stock tray"))
    assert run(*where, "usage", "--period", "last-month").lines[-3] == "Nothing moved."

    files = tmp_path / "items.csv", tmp_path / "visits.csv"
    printed = run(*where, "usage", "--json", "--csv", files[0], "--visits-csv", files[1])
    assert unlike(USAGE, printed.data) == []
    assert [file.read_text().partition(",")[0] for file in files] == ["from", "from"]
    again = run(*where, "usage", "--csv", files[0])
    assert (again.status, "is there already" in again.err) == (base.BAD, True)
    both = run(*where, "usage", "--period", "this-year", "--from", "2026-01-01")
    assert "the days are given too" in both.err
    assert "is before" in run(*where, "usage", "--from", "2026-03-02", "--to", "2026-03-01").err


def test_what_to_count_how_often_is_told_with_its_arithmetic_and_judged(tmp_path: Path) -> None:
    where = ("--database", stocked(tmp_path), "--today", "2026-03-02", "--by", "AB")
    told = run(*where, "classes").lines
    (light,) = (line.strip() for line in told if line.strip().startswith("LIGHT, "))
    assert "class A, essential, category I, 5.79 a year, counted every 4 weeks" in light
    printed = run(*where, "classes", "--why", "light", "--json")
    assert unlike(CLASSES, printed.data) == []
    assert "class A and essential: category I" in run(*where, "classes", "--why", "light").out
    assert "No item is due" in run(*where, "classes", "--due").out
    judged = run(*where, "classes", "set", "heavy", "--criticality", "normal", "--every", "1").lines[0]
    assert "class C, normal, category III" in judged
    assert "every 1 week, set for this item" in judged
    later = ("--database", where[1], "--today", "2026-03-10", "--by", "AB")
    due = run(*later, "classes", "list", "--due")
    assert (due.status, "HEAVY" in due.out) == (base.ACT, True)
    assert "every 26 weeks" in run(*where, "classes", "set", "heavy", "--every", "usual").lines[0]
    assert "Nothing is to be set" in run(*where, "classes", "set", "heavy").err
    assert "not a whole number" in run(*where, "classes", "set", "heavy", "--every", "often").err
    assert "no item 'X'" in run(*where, "classes", "--why", "X").err
