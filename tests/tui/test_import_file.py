"""A file brought in on screen: tried first, faults by row and column, then taken in whole."""

from pathlib import Path

from inventory.service import setting_up
from tests.clinic import Clinic
from tests.service.test_import_mapping import spreadsheet
from tests.tui.at_work import at_work, enter, line_with, press, screen


async def test_a_spreadsheet_of_foreign_columns_is_tried_and_taken_in(clinic: Clinic, tmp_path: Path) -> None:
    (tmp_path / "people.xlsx").write_bytes(spreadsheet(("Initials", "Function", "Room"), ("QX", "dentist", 4)))
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5", "i")
        await enter(pilot, "people")
        await press(pilot, "enter")
        await enter(pilot, str(tmp_path / "people.xlsx"))
        await press(pilot, "f2")
        assert "there is no such column" in line_with(pilot, "Function")
        pilot.app.screen.query_one("#foreign").focus_input()  # type: ignore[attr-defined]
        await enter(pilot, "Function=role, Room=-")
        await press(pilot, "f2")
        assert "Column Function: role" in screen(pilot)
        await press(pilot, "enter")
    assert "QX" in {person.initials for person in setting_up.practice_state(clinic.practice).people}
