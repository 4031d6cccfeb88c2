"""Commands about what is ahead: plain lines, and what they refuse."""

import shutil
from datetime import timedelta
from pathlib import Path

import pytest

from tests.little_practice import TODAY
from tests.tui.commands import Ran, run, stocked
from tui.commands import base


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("ahead")
    return str(shutil.copy(stocked(folder), folder / "practice.db"))


@pytest.fixture
def ask(database: str) -> "Ask":
    return Ask(database)


class Ask:
    """Gives commands that only read to the stocked practice on its day."""

    def __init__(self, database: str) -> None:
        self.database = database

    def __call__(self, *arguments: object) -> Ran:
        return run("--database", self.database, "--today", TODAY, *arguments)


def test_every_booked_visit_has_its_answer_and_its_chance(ask: Ask) -> None:
    ran = ask("ready")
    assert ran.status == base.OK
    assert ran.lines[0] == "3 booked visits, 0 short"
    assert ran.lines[1].endswith(": ready")
    assert ran.lines[2].endswith("ready; lower tray size unknown: 95 of 100")
    why = ask("ready", "--why", "4")
    assert "chance that a fitting tray is there, after the visits before it" in why.out
    assert ask("ready", "--why", "99").status == base.BAD


def test_what_is_short_is_something_to_act_on(database: str, tmp_path: Path) -> None:
    copy = shutil.copy(database, tmp_path / "practice.db")
    on = ("--database", copy, "--today", TODAY)
    run(*on, "visits", "plan", "C-9", "tomorrow", "final_stock_tray", "--upper-size", "S", "--by", "AB")
    for number in range(5):
        run(*on, "visits", "plan", f"C-1{number}", "tomorrow", "preliminary", "--upper-size", "S", "--by", "AB")
    ran = run(*on, "ready")
    assert ran.status == base.ACT
    assert "short of Tray upper S (1 pcs), no supplier is set" in ran.out


def test_which_tray_to_buy_next_is_said_with_what_it_brings(ask: Ask) -> None:
    ran = ask("buy-trays", "--visits", "6", "--months", "1")
    assert ran.lines[0].startswith("Line 1: next 6 visits, 3 of them booked: ")
    assert " buy " in ran.lines[1]
    assert any(line.startswith("  lower XL, 0 available, one more makes it") for line in ran.lines)
    assert any("Line 1, upper S: 5 trays, 0.00, never fitted" in line for line in ran.lines)
    assert "  try-in, lower: 4.8 of 100 (0 of 1 seen; begun with 5 of 100 as if 20 seen)" in ran.lines
    assert ask("buy-trays", "--visits", "99").status == base.BAD


def test_a_forecast_says_where_each_figure_comes_from(ask: Ask) -> None:
    ran = ask("forecast", "light")
    assert ran.lines[0] == f"LIGHT, Light: the next 84 days, until {TODAY + timedelta(days=84)}"
    assert "+ booked visits" in ran.out
    assert "no history yet: one a week is believed" in ran.out
    assert any(line.startswith("Runs out: 20") for line in ran.lines)
    assert any("lot LIGHT-1" in line and "used up in time with" in line for line in ran.lines)
    assert "No lot is usable." in ask("forecast", "adhesive").lines


def test_what_if_says_what_fails_first_and_what_changes(ask: Ask) -> None:
    ran = ask("what-if", "--supplier", "supplier north", "--late", "14")
    assert ran.lines[0] == "What if: Supplier North 14 days late"
    assert ran.lines[1].startswith("Nothing fails that is ordered today; Light comes nearest, with ")
    more = ask("what-if", "--more", "final_stock_tray=8", "--within", "14")
    assert any(line.startswith("  LIGHT, Light: runs out") for line in more.lines)
    assert more.lines[2].startswith("Booked visits short until 2026-03-30: 0, before 0; of 8 added ")
    pack = ask("what-if", "--pack", "light=8@99.50")
    assert pack.lines[0] == "What if: Light in packs of 8 for 99.50"
    assert any("price of a unit 12.44, before 15.00" in line for line in pack.lines)


@pytest.mark.parametrize(
    "wrong",
    [
        (),
        ("--late", "3"),
        ("--supplier", "Nobody", "--late", "3"),
        ("--more", "reline"),
        ("--more", "reline=few"),
        ("--pack", "light=8@lots"),
        ("--pack", "heavy=8"),
    ],
)
def test_what_can_not_be_asked_is_one_line_on_standard_error(ask: Ask, wrong: tuple[str, ...]) -> None:
    ran = ask("what-if", *wrong)
    assert (ran.status, ran.out) == (base.BAD, "")
    assert len(ran.err.splitlines()) == 1


def test_a_short_dated_offer_is_priced(ask: Ask) -> None:
    ran = ask("short-dated", "light", "5", "in 30 days")
    assert ran.lines[0].startswith("LIGHT, Light: 5 packs from Supplier North, use by 2026-04-01, here on 2026-03-05")
    assert ran.lines[1].startswith("Worth taking at ")
    assert ask("short-dated", "light", "5", "yesterday").status == base.BAD
