"""The first start in an empty store: the demo, or one's own practice in a few answers."""

from collections.abc import Iterator
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from inventory import settings
from inventory.service import catalogue, opening, setting_up
from inventory.service.practice import Practice
from inventory.store.engine import open_store
from tests.service.catalogue_samples import TODAY
from tests.tui.at_work import at_work, enter, line_with, practice_on, press, screen
from tui import demo
from tui.screens import first_run


@pytest.fixture
def empty(tmp_path: Path, sqlite_template: Path) -> Iterator[Practice]:
    """A practice that has not been set up."""
    path = tmp_path / "empty.db"
    path.write_bytes(sqlite_template.read_bytes())
    with closing(open_store(f"sqlite:///{path}")) as store:
        yield practice_on(store)


async def test_a_practice_is_begun_with_people_places_trays_and_a_catalogue(empty: Practice) -> None:
    async with at_work(empty, by="") as pilot:
        assert "There is no practice in this store yet." in screen(pilot)
        await press(pilot, "down", "enter")
        await enter(pilot, "ab")
        await press(pilot, "enter", "enter")
        await enter(pilot, "cd, ef")
        await press(pilot, "f2")
        assert "AB (manager), CD (assistant), EF (assistant)" in screen(pilot)
        await press(pilot, "enter")
        assert "Begin the catalogue" in screen(pilot)
        assert "AB" in screen(pilot).splitlines()[0]
        await press(pilot, "enter")  # marks the first
        assert "✓ take" in line_with(pilot, "Heavy body, regular set")
        await press(pilot, "f2", "enter")
        assert line_with(pilot, "HEAVY-R").startswith("HEAVY-R     Heavy body, regular set  0")
        assert "Next: type in what stands on the shelf with o" in screen(pilot)
        assert "o Opening stock" in screen(pilot).splitlines()[-1]
        await press(pilot, "1")
        assert "type in what stands on the shelf" in " ".join(screen(pilot).split())
    state = setting_up.practice_state(empty)
    assert [person.initials for person in state.people] == ["AB", "CD", "EF"]
    assert {place.name for place in state.places} >= {"store room", "operatory 1", "operatory 2", "reprocessing"}
    assert len(catalogue.items(empty)) == 1 + 8


async def test_a_wrong_answer_is_said_beside_its_field_and_nothing_is_set_up(empty: Practice) -> None:
    async with at_work(empty, by="") as pilot:
        await press(pilot, "down", "enter")
        await enter(pilot, "Maria Gross")
        await press(pilot, "tab")
        assert "at most 8 can be kept" in " ".join(screen(pilot).split())
        await press(pilot, "shift+tab", "ctrl+u")
        await enter(pilot, "ab")
        await press(pilot, *["enter"] * 7, "ctrl+u")
        await enter(pilot, "Nowhere")
        await press(pilot, "f2", "enter")
        assert "not a time zone" in " ".join(screen(pilot).split())
    assert not setting_up.is_set_up(empty)


async def test_what_was_typed_is_not_lost_without_a_question(empty: Practice) -> None:
    async with at_work(empty, by="") as pilot:
        await press(pilot, "down", "enter")
        await enter(pilot, "ab")
        await press(pilot, "escape")
        assert "Leave without saving?" in screen(pilot)


async def test_the_demo_is_opened_in_a_store_of_its_own(
    empty: Practice, practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The two years themselves are lived in the tests of the demo; here a small practice stands for them."""
    made: list[date] = []

    def make(day: date, _: object) -> Path:
        made.append(day)
        return Path("demo.db")

    monkeypatch.setattr(first_run, "todays_demo", make)
    monkeypatch.setattr(opening, "open_practice", lambda *_, **__: practice)
    async with at_work(empty, by="") as pilot:
        await press(pilot, "enter")
        assert screen(pilot).splitlines()[0].endswith("demo")
        assert "Weekly check" in screen(pilot)
    assert made == [TODAY]


def test_the_demo_of_other_days_is_removed_and_todays_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "data_folder", lambda: tmp_path)
    for day in ("2027-03-09", "2027-03-10"):
        (tmp_path / f"demo-{day}.db").touch()
    path = demo.todays_demo(TODAY, lambda _: lambda *_: None)
    assert [file.name for file in tmp_path.iterdir()] == [path.name] == ["demo-2027-03-10.db"]
