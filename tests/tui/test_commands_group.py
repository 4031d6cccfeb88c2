"""Several practices looked at by command, and a transfer carried through by the very commands it proposes."""

from contextlib import closing
from itertools import count
from pathlib import Path

import pytest

from inventory.service import setting_up
from inventory.service.practice import Practice
from inventory.store.engine import open_store
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, TODAY, new_clock
from tests.service.test_group import a_practice, receive
from tests.stores import SqliteFiles
from tests.tui.commands import Ran, run, unlike
from tui.commands import group_shapes


@pytest.fixture
def group(tmp_path: Path, sqlite_template: Path) -> list[str]:
    """Give the addresses of a quiet practice with stock that ends soon, and of a busy one."""
    files = SqliteFiles(tmp_path, sqlite_template)
    made = []
    for name, weekly in (("quiet", {}), ("busy", {"final_stock_tray": 20})):
        made.append(files.make_from("group", a_practice))
        with closing(open_store(made[-1])) as store:
            clinic = Clinic(Practice(store, new_clock(TODAY)), count(1000))
            setting_up.change_settings(clinic.practice, {"practice_code": name, "expected_weekly": weekly}, by=BY)
            if not weekly:
                receive(clinic, "SOON-1", 6)
    return made


def show(*words: object) -> Ran:
    return run("group", "show", *words, "--today", TODAY)


def test_a_transfer_is_proposed_and_both_practices_post_what_the_proposal_says(
    group: list[str], tmp_path: Path
) -> None:
    listed = tmp_path / "practices.txt"
    listed.write_text("# ours\n" + "\n".join(group))
    shown = show("--list", listed, "--json")
    assert (shown.status, shown.err, unlike(group_shapes.GROUP, shown.data)) == (1, "", [])
    halves = [
        line.strip().partition(": impression-stock ") for line in show(*group).lines if ": impression-stock" in line
    ]
    assert [where for where, _, _ in halves] == ["at QUIET", "at BUSY"]
    for store, (_, _, command), open_halves in zip(group, halves, (1, 0), strict=True):
        posted = run(*command.split(), "--database", store, "--by", BY, "--today", TODAY)
        assert posted.status == 0, posted.err
        assert len(show(*group, "--json").data["open_halves"]) == open_halves
        assert run("verify", "--database", store).status == 0
    assert "G-20270310-1" in run("history", "--database", group[0], "--today", TODAY).out


def test_a_half_alone_is_told_and_nothing_worth_the_way_is_no_reason_to_act(group: list[str]) -> None:
    assert show(*group, "--least", "1000").status == 0
    send = ("group", "send", "SOON-1=1", "--to", "BUSY", "--ref", "G-1", "--database", group[0], "--today", TODAY)
    assert run(*send, "--by", BY).status == 0
    told = show(*group, "--least", "1000")
    assert told.status == 1
    assert told.lines[-1].strip().endswith("LIGHT-A, lot SOON-1, not taken anywhere")
    assert run(*send, "--by", BY).err.count("already") == 1


def test_stores_that_can_not_be_read_are_said_so(group: list[str], tmp_path: Path) -> None:
    for words in ((), ("--list", tmp_path / "none.txt"), (*group, tmp_path / "none.db"), (group[0], group[0])):
        assert show(*words).status in {2, 3}
