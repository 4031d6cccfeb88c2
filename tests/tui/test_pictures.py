"""Pictures drawn in text: one cell a sign, nothing cut at 80 columns, and everything told in sentences as well."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from rich.cells import cell_len

from inventory.domain.levels import Level
from inventory.domain.vocabulary import Arch, BaseUnit
from inventory.domain.why import Term, derive
from inventory.service.fitted_sizes import FittedRun, FittedSize, FittedSizes
from inventory.service.forecast import Arrival, ItemAhead
from inventory.service.shelf_timeline import LotBar, LotEnd, Timeline
from inventory.service.weekly_use import Week, WeeklyUse
from tui.pictures import shelf_bars, size_bars, stock_course, week_bars
from tui.pictures.canvas import Days, fit

TODAY = date(2027, 3, 1)
WIDTHS = (78, 118)


def after(days: int) -> date:
    return TODAY + timedelta(days=days)


def level(week: int, low: int, median: int, high: int) -> Level:
    return Level(after(7 * week), low, median, high)


AHEAD = ItemAhead(
    TODAY, "LIGHT", "Light body", BaseUnit.CML, 84, after(84), 0, (), 0, (), 40_000, 20_000, 0, 0,
    (after(40), after(50), None), (),
    (level(0, 40_000, 40_000, 40_000), level(2, 20_000, 25_000, 30_000), level(4, 5_000, 10_000, 18_000),
     level(5, 20_000, 28_000, 36_000), level(8, 0, 0, 9_000), level(9, 0, 0, 0)),
    (Arrival(after(35), 20_000),), 15_000, 5000, derive("use", [Term("use", 0, "cml")], "use", "cml"),
)  # fmt: skip


def bar(lot: str, last: int | None, used_up: int | None, end: LotEnd, lost: int = 0) -> LotBar:
    return LotBar(
        1, "LIGHT", "Light body", BaseUnit.CML, 5000, 1, lot, 10_000, None if last is None else after(last),
        None if used_up is None else after(used_up), lost, 6000, 3000 if lost else 0, end,
    )  # fmt: skip


SHELF = Timeline(
    TODAY, "LIGHT",
    (bar("OLD", -3, None, LotEnd.EXPIRED), bar("SOON", 45, None, LotEnd.EXPIRES, 5000),
     bar("HELD", 80, None, LotEnd.HELD), bar("FAR", 170, 90, LotEnd.USED_UP),
     bar("FURTHER", 1500, None, LotEnd.LASTS), bar("no lot", None, 100, LotEnd.USED_UP)),
)  # fmt: skip

WEEKS = WeeklyUse(
    TODAY, "LIGHT", "Light body", BaseUnit.CML, 5000,
    tuple(Week(TODAY - timedelta(weeks=25 - n), 400 * (n % 5), 800 if n == 9 else 0) for n in range(26)),
)  # fmt: skip

SIZES = FittedSizes(
    TODAY, date(2025, 3, 3),
    (FittedRun("Line 1", Arch.MAXILLARY, (FittedSize("S", 5, 230_000, 12, 1), FittedSize("XL", 15, 770_000, 4, 0))),
     FittedRun("Line 2", Arch.MANDIBULAR, (FittedSize("M", 0, 1_000_000, 0, 0),))),
)  # fmt: skip


@pytest.mark.parametrize("width", WIDTHS)
def test_every_picture_keeps_within_its_columns_and_every_sign_is_one_cell_wide(width: int) -> None:
    drawn = [
        *stock_course.draw(AHEAD, width), *stock_course.legend(AHEAD), *shelf_bars.draw(SHELF, width),
        *shelf_bars.legend(SHELF), *week_bars.draw(WEEKS, width), *week_bars.legend(WEEKS),
        *size_bars.draw(SIZES, width), *size_bars.legend(SIZES),
    ]  # fmt: skip
    assert max(map(cell_len, drawn)) <= width
    assert all(cell_len(sign) == 1 for sign in "".join(drawn))


def test_the_course_goes_down_to_the_reorder_point_up_by_a_delivery_and_ends() -> None:
    assert stock_course.draw(AHEAD, 42, 8) == [
        "units of 50 mL",
        "    8.0┤━━━░",
        "       ┤  ░━━░░░           ░░",
        "       ┤    ░━━━░░░        ━░░░",
        "    5.0┤      ░░━━░░░░     ░━━░░░",
        "       ┤--------░░━━━░░░░░░░░░━━░░░░------",
        "       ┤          ░░░━━━━━━   ░░━━░░░░",
        "    2.0┤             ░░░░░░     ░░━━░░░░",
        "       ┤                           ░━━xxxx",
        "      0└────────────────┬───────────────┬─",
        "                        Apr",
        "                          ▵",
    ]


def test_a_lot_is_full_until_it_is_used_up_and_ends_on_its_last_day() -> None:
    lines = {line.split()[0]: line for line in shelf_bars.draw(SHELF, 78) if line.strip()}
    assert "! past its last day" in lines["OLD"]
    assert "! on hold or recalled" in lines["HELD"]
    assert "█!" in lines["SOON"]
    assert "░" not in lines["SOON"]
    assert "█░" in lines["FAR"]
    assert "░│" in lines["FAR"]
    assert "█»" in lines["FURTHER"]
    assert lines["LIGHT"].endswith("no date")
    assert shelf_bars.draw(replace(SHELF, lots=()), 78) == ["No lot stands on the shelf."]


def test_the_weeks_stand_side_by_side_with_their_mean() -> None:
    assert week_bars.draw(WEEKS, 62, 6) == [
        "units of 50 mL",
        "    0.5┤                  ░",
        "       ┤                  ░",
        "       ┤        █         █         █         █         █",
        "    0.2┤      █ █       █ █       █ █       █ █       █ █",
        "       ┤----█-█-█-----█-█-█-----█-█-█-----█-█-█-----█-█-█---",
        "       ┤  █ █ █ █   █ █ █ █   █ █ █ █   █ █ █ █   █ █ █ █",
        "      0└┬───────┬───────┬─────────┬───────┬───────┬───────┬─",
        "        Sep     Oct     Nov       Dec     Jan     Feb     Mar",
    ]


def test_sizes_have_bars_as_long_as_their_share() -> None:
    lines = size_bars.draw(SIZES, 78)
    assert lines[0] == "Line 1, upper: 20 fitted, 16 there"
    small, large = lines[1:3]
    assert small.count("█") * 3 == pytest.approx(large.count("█"), abs=2)
    assert small.count("░") > large.count("░")
    assert size_bars.draw(FittedSizes(TODAY, TODAY, ())) == ["There is no tray line yet."]


def test_what_is_drawn_is_told_in_sentences_too() -> None:
    course = " ".join(stock_course.tell(AHEAD))
    assert "ordered at or under 3.0 units (150 mL)" in course
    assert f"is reached about {after(28).isoformat()}" in course
    assert f"on {after(40).isoformat()} in 10 of 100 courses" in course
    assert "not within sight in 90 of 100 courses" in course
    assert f"On order: 4.0 units (200 mL), expected {after(35).isoformat()}." in course
    sums, shelf = list(shelf_bars.tell(SHELF))[:5], list(shelf_bars.tell(SHELF))[5:]
    assert sums[0] == "Last day within 30 days: 0 lots, worth 0.00; expected to be left of it: 0.00."
    assert sums[1] == "Last day within 60 days: 1 lot, worth 60.00; expected to be left of it: 30.00."
    assert sums[4] == "Lasts beyond what is foreseen: 1 lot, worth 60.00; expected to be left of it: 0.00."
    left = "50 mL of it will be left then, worth 30.00."
    assert shelf[1] == f"Light body, lot SOON, 100 mL: last day {after(45).isoformat()}; {left}"
    assert shelf[3].endswith("80 days to spare.")
    assert shelf[5].startswith("Light body, no lot, 100 mL: used up about")
    weeks = list(week_bars.tell(WEEKS))
    assert len(weeks) == 2 + 26
    assert weeks[-1].startswith(f"Week of {TODAY.isoformat()}, under way:")
    sizes = list(size_bars.tell(SIZES))
    assert sizes[1].endswith("1 more away; held more than its share.")
    assert sizes[2].endswith("held less than its share.")


def test_columns_stand_for_days() -> None:
    days = Days(date(2026, 11, 15), 120, 60)
    assert [days.column(days.day(column)) for column in range(60)] == list(range(60))
    ticks, names = days.axis()
    assert names.split() == ["Dec", "2027", "Feb", "Mar"]
    assert [at for at, sign in enumerate(ticks) if sign == "┬"] == [days.column(day) for day in (
        date(2026, 12, 1), date(2027, 1, 1), date(2027, 2, 1), date(2027, 3, 1))]  # fmt: skip


def test_names_of_any_script_are_cut_by_cells() -> None:
    assert fit("印模材料", 5) == "印模…"
    assert fit("印模", 6) == "印模  "
    assert fit("Lo\u0308ffel", 6) == "Lo\u0308ffel"
