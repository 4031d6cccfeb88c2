"""Estimates by command: what was learned and why, and what a person decides of it."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.tui.commands import Ran, run, stocked
from tui.commands import base

Ask = Callable[..., Ran]


@pytest.fixture
def ask(tmp_path: Path) -> Ask:
    """Give commands on a practice in which a visit took 13 mL of wash for an upper, 10 mL being expected."""
    store = stocked(tmp_path)

    def asked(*words: str) -> Ran:
        return run("--database", store, "--today", "2026-03-02", "--by", "AB", *words)

    assert asked("book-out", "C-1", "--use", "wash/upper=14.15").status == base.OK  # a tip's 1.15 mL with it
    return asked


def test_what_is_learned_is_told_with_its_arithmetic_accepted_pinned_and_reset(ask: Ask) -> None:
    told = ask("estimates").lines
    assert told[0] == "Preliminary impressions, stock tray"
    (wash,) = (line.strip() for line in told if "1 amount entered" in line)
    number = wash.partition(".")[0]
    assert wash.startswith(f"{number}. Wash, upper: 10 mL, default, learned 11.")
    assert wash.endswith("from 1 amount entered, accept it or leave it")
    (data,) = ask("estimates", "--why", number, "--json").data["estimates"]
    assert data["current"] == data["default"] == {"qty": 1000, "sd": 200}
    assert 1100 < data["learned"]["qty"] < 1200
    assert "= learned" in ask("estimates", "list", "--why", number).out

    assert ", learned, default 10 mL" in ask("estimates", "accept", number).lines[1]
    assert "in use already" in ask("estimates", "accept", number).err
    assert "reason" in ask("estimates", "pin", number, "9.5").err
    pinned = ask("estimates", "pin", number, "9,5", "--sd", "1", "--reason", "new spacers").lines[1]
    assert pinned.strip().startswith(f"{number}. Wash, upper: 9.5 mL, pinned, default 10 mL, learned")
    assert "a person has pinned it" in ask("estimates", "accept", number).err
    reset = ask("estimates", "reset", number, "--reason", "as before").lines[1]
    assert reset.strip() == f"{number}. Wash, upper: 10 mL, default, nothing learned yet"
    assert "'estimates' lists them" in ask("estimates", "--why", "9999").err
    assert "is not a number" in ask("estimates", "pin", number, "much", "--reason", "x").err
