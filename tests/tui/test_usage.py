"""Use and waste on screen: the chart of each line, the visits, another period, in words, and as files."""

from pathlib import Path

from inventory.service import catalogue
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, SUPPLIER, box
from tests.tui.at_work import at_work, enter, line_with, press, screen


def files(folder: Path) -> list[Path]:
    return list(folder.glob("use and waste*"))


async def test_a_manager_reads_where_the_money_went_and_takes_it_along(clinic: Clinic, tmp_path: Path) -> None:
    catalogue.add_supplier(clinic.practice, SUPPLIER, by=BY)
    catalogue.save_supply(clinic.practice, box("HEAVY-A"), by=BY)  # 0.30 a mL
    clinic.book(clinic.plan("C-1"))
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5", "u")
        # 42 mL of load, 1.15 of each arch in tip and purge
        assert "EUR 13.29 went, 95 of 100 at a first attempt" in screen(pilot)
        assert line_with(pilot, "│ purged in tips").split()[-4:] == ["0.69", "5", "%", "│"]
        await press(pilot, "down")
        assert "42 mL  12.60  95 %" in line_with(pilot, "│ used")
        await press(pilot, "v")
        assert line_with(pilot, "Final impressions, stock").endswith("13.29 │")
        await press(pilot, "w")
        assert "Use and waste from 2027-03-01 to 2027-03-10" in screen(pilot)
        await press(pilot, "escape", "c")
        await press(pilot, "ctrl+u")
        await enter(pilot, str(tmp_path))
        await press(pilot, "enter")
        assert sorted(path.name.partition(", ")[2] for path in files(tmp_path)) == ["items.csv", "visits.csv"]
        await press(pilot, "v", "p", "down", "enter")
        assert "2027-02-01 to 2027-02-28" in screen(pilot)
        assert "Nothing moved in this period." in screen(pilot)
