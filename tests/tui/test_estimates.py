"""What steps take, on screen: learned from counts, a sum in words, and decisions by key with their reason."""

from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest

from inventory.domain.vocabulary import EstimateSource
from inventory.service import setting_up
from inventory.service.practice import Practice
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, NOW, TODAY, new_clock
from tests.service.conftest import copied
from tests.service.test_learning_counts import LAST, UPPER, WEEK, wash, weeks_of_counts
from tests.stores import SqliteFiles
from tests.tui.at_work import at_work, enter, line_with, press, screen


@pytest.fixture
def counting(sqlite_template: Path, tmp_path: Path) -> Iterator[Clinic]:
    """Give a clinic that counted its wash material every week."""
    with copied(SqliteFiles(tmp_path, sqlite_template), "weeks-of-counts", weeks_of_counts) as store:
        yield Clinic(Practice(store, new_clock((NOW + LAST * WEEK).date())), count(1000))


async def test_a_figure_learned_from_counts_is_read_accepted_and_reset(counting: Clinic) -> None:
    day = (TODAY + 3 * WEEK).isoformat()
    async with at_work(counting.practice) as pilot:
        await press(pilot, "4", "e", "ctrl+end", "up")
        assert line_with(pilot, "Wash in the denture, upper").split()[5:7] == ["10", "mL"]
        assert "From 5 stretches between counts with 10 attempts" in screen(pilot)
        await press(pilot, "y")
        assert "instead of 10 mL" in screen(pilot)
        await enter(pilot, "counted for six weeks")
        await press(pilot, "enter")
        assert "accepted" in line_with(pilot, "Wash in the denture, upper")
        setting_up.change_settings(counting.practice, {"practice_changed_on": day}, by=BY)
        pilot.app.clear_notifications()
        await press(pilot, "a")
        assert "Known only together with Wash in the denture, lower: " in screen(pilot)
        await press(pilot, "r")
        await enter(pilot, "as before")
        await press(pilot, "enter")
        pilot.app.clear_notifications()
        await pilot.pause()
        assert "nothing learned yet" in screen(pilot)
    found = wash(counting, UPPER)
    assert (found.current, found.source) == (found.default, EstimateSource.DEFAULT)
