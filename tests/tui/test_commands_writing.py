"""What commands change, each through its service; whole journeys on both stores."""

import shutil
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from inventory.store.engine import open_store
from tests.little_practice import TODAY, LittlePractice
from tests.tui.commands import Ran, run
from tui.commands import base


class Work:
    """A person at a terminal, in a little practice whose shelves are full."""

    def __init__(self, url: str, little: LittlePractice) -> None:
        self.url, self.little = url, little

    def __call__(self, *arguments: object, by: str = "ab") -> Ran:
        return run("--database", self.url, "--today", TODAY, "--by", by, *arguments)

    def done(self, *arguments: object) -> list[str]:
        ran = self(*arguments)
        assert ran.status == base.OK, ran.err
        return ran.lines

    def refused(self, *arguments: object) -> str:
        ran = self(*arguments)
        assert ran.status == base.BAD, ran.out
        assert ran.out == ""
        (line,) = ran.err.splitlines()
        return line

    def data(self, *arguments: object) -> Any:
        return self(*arguments, "--json").data

    def stock(self, lot: str) -> dict[tuple[str, str | None], int]:
        """What is left of a lot, in base units, by place and day of opening."""
        found: dict[tuple[str, str | None], int] = {}
        for line in self.data("lots", "--lot", lot)["lots"]:
            if line["sealed_units"]:
                found[line["place"], None] = line["sealed_units"] * line["unit_qty"]
            found |= {(line["place"], unit["opened_on"]): unit["qty"] for unit in line["opened"]}
        return found


@pytest.fixture(scope="module")
def full_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A little practice with full shelves, made once and copied for each test."""
    path = tmp_path_factory.mktemp("full") / "practice.db"
    with closing(open_store(str(path))) as store:
        LittlePractice(store).full_shelves()
    return path


@pytest.fixture
def work(full_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Work]:
    monkeypatch.chdir(tmp_path)
    path = shutil.copy(full_file, tmp_path / "practice.db")
    with closing(open_store(str(path))) as store:
        yield Work(str(path), LittlePractice.again(store))


@pytest.fixture
def everywhere(store_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Work]:
    """The same on both stores."""
    monkeypatch.chdir(tmp_path)
    with closing(open_store(store_url)) as store:
        little = LittlePractice(store)
        little.full_shelves()
        yield Work(store_url, little)


DAY = TODAY.isoformat()


# Visits


def test_a_visit_is_planned_changed_and_cancelled(work: Work) -> None:
    (planned,) = work.done("visits", "plan", "C-1", "fri", "reline", "--only", "upper", "--place", "operatory 2")
    assert planned.startswith(
        "Planned: visit 1, 2026-03-06, case C-1, Reline impression in the denture, upper, operatory 2"
    )
    (changed,) = work.done("visits", "change", "1", "--on", "in 2 weeks", "--both", "--note", "comes early")
    assert "2026-03-16, case C-1" in changed
    assert "upper and lower" in changed
    assert "reason" in work.refused("visits", "cancel", "1")
    work.done("visits", "cancel", "1", "--reason", "called off")
    assert work.data("visits", "show", "1")["visit"]["state"] == "cancelled"


def test_a_remake_names_the_earlier_visit_and_who_asked_for_it(work: Work) -> None:
    earlier = work.little.visit("C-1")
    (planned,) = work.done(
        "visits", "plan", "C-1", "tomorrow", "final_stock_tray", "--remake-of", earlier, "--asked-by", "laboratory"
    )
    assert f"remake of visit {earlier}" in planned
    assert "upper size M and lower size M" in planned  # carried over


def test_a_name_is_no_case_reference(work: Work) -> None:
    assert "no patient names" in work.refused("visits", "plan", "Somebody", "fri", "reline")


def test_a_visit_is_booked_out_as_expected_and_undone(everywhere: Work) -> None:
    everywhere.little.visit("C-1")
    lines = everywhere.done("book-out", "C-1", "--as-expected")
    assert lines[0] == f"Booked out: visit 1, case C-1, {DAY}"
    assert "  wash upper, Light 11.15 mL, lot LIGHT-1, use by 2027-04-06, lot assumed" in lines
    assert "Visit 1 is planned again." in everywhere.done("undo", "--visit", "1", "--reason", "wrong case")
    assert everywhere.stock("LIGHT-1")["operatory 1", DAY] == 5000  # opened, and full of what was given back


def test_what_was_different_is_said_line_by_line(work: Work) -> None:
    work.little.opened("LIGHT", "LIGHT-0", 1500)
    work.little.visit("C-1")
    lines = work.done(
        "book-out", "1", "--only", "upper", "--retake", "wash/upper", "--use", "load/upper=6t", "--use",
        "wash/upper=left 4@LIGHT-0", "--use", "wash/upper/2=12,5 mL", "--use", "wash/upper/2/tip=2", "--tray",
        "upper=L", "--tried", "upper=M", "--drop", "jaw_relation", "--lot", "HEAVY-1",
    )  # fmt: skip
    told = [line.split(", use by")[0].split(", no use-by")[0].strip() for line in lines[1:-1]]
    assert told == [
        "load upper, Heavy 30 mL, lot HEAVY-1",
        "load upper, Mixing tip 1 pcs, lot TIP-1",
        "wash upper, Light 11 mL, lot LIGHT-0",
        "wash upper, Mixing tip 1 pcs, lot TIP-1",
        "wash upper attempt 2, Light 12.5 mL, lot LIGHT-1",
        "wash upper attempt 2, Mixing tip 2 pcs, lot TIP-1",
        "tray upper, Tray upper L 1 pcs, lot TRAY-UPPER-L-1",
        "tray upper, Tray upper M 1 pcs, lot TRAY-UPPER-M-1",
    ]
    assert [line.endswith("lot confirmed") for line in lines if "HEAVY-1" in line or "LIGHT-0" in line] == [True, True]


def test_a_cartridge_that_ran_out_and_something_unexpected(work: Work) -> None:
    work.little.opened("LIGHT", "LIGHT-0", 900)
    work.little.visit("C-1", "reline", lower=False)
    lines = work.done(
        "book-out", "1", "--use", "wash/upper=9@LIGHT-0", "--also", "wash/upper=4@LIGHT-1", "--further", "TIP-1=3"
    )
    assert [line.split(", use by")[0].split(", no use-by")[0].strip() for line in lines[1:-1]] == [
        "wash upper, Light 9 mL, lot LIGHT-0",
        "wash upper, Light 4 mL, lot LIGHT-1",
        "wash upper, Mixing tip 2 pcs, lot TIP-1",
        "further, Mixing tip 3 pcs, lot TIP-1",
    ]


def test_looking_at_the_form_posts_nothing(work: Work) -> None:
    work.little.visit("C-1")
    before = work.data("verify")["documents"]
    lines = work.done("book-out", "1", "--show", "--use", "wash/upper=40")
    assert any(line.startswith("  wash/upper, Light 40 mL, lot LIGHT-1") for line in lines)
    assert "  wash/upper/tip, Mixing tip 1 pcs, lot TIP-1, no use-by date stated, store room, lot assumed" in lines
    assert work.data("verify")["documents"] == before


def test_nothing_is_booked_by_naming_a_visit_only(work: Work) -> None:
    work.little.visit("C-1")
    assert "--as-expected" in work.refused("book-out", "1")


def test_a_size_that_nobody_said_is_asked_for(work: Work) -> None:
    work.little.visit("C-1", lower_size=None)
    assert "Stock tray lower: its size is not said" in work.refused("book-out", "1", "--as-expected")
    work.done("book-out", "1", "--tray", "lower=S")


def test_a_case_with_two_planned_visits_is_not_guessed(work: Work) -> None:
    work.little.visit("C-1")
    work.little.visit("C-1")
    assert "several planned visits: 1 (2026-03-02), 2 (2026-03-02)" in work.refused("book-out", "C-1", "--as-expected")


def test_a_second_booking_says_who_was_faster(work: Work) -> None:
    work.little.visit("C-1")
    work.done("book-out", "C-1", "--as-expected")
    assert "done already by AB" in work.refused("book-out", "C-1", "--as-expected")


def test_the_same_request_key_posts_once(work: Work) -> None:
    work.little.visit("C-1")
    first = work.data("book-out", "1", "--as-expected", "--request-key", "once")
    again = work.data("book-out", "1", "--as-expected", "--request-key", "once")
    assert (first["again"], again["again"]) == (False, True)
    assert first["documents"] == again["documents"]


def test_a_lot_that_is_not_in_the_book_needs_a_yes(work: Work) -> None:
    work.little.visit("C-1")
    found = ("book-out", "1", "--found", "wash/upper=NEW-1,2028-05")
    refusal = work.refused(*found)
    assert "Repeat it with --yes to confirm" in refusal
    assert "lot NEW-1, use by end of 2028-05, lot confirmed" in "\n".join(work.done(*found, "--yes"))


def test_an_expired_lot_needs_a_yes_and_a_reason(work: Work) -> None:
    work.little.stock("LIGHT", "OLD-1", 1, use_by=TODAY.replace(day=1))
    work.little.visit("C-1")
    used = ("book-out", "1", "--use", "wash/upper=@OLD-1")
    assert "--yes and --reason" in work.refused(*used)
    assert "although past its last day of use" in "\n".join(work.done(*used, "--yes", "--reason", "seen too late"))


@pytest.mark.parametrize(
    ("said", "answer"),
    [
        (["--use", "wash/upper"], "Write LINE=AMOUNT"),
        (["--use", "border/upper=3"], "Its lines are: tray/upper"),
        (["--use", "wash/upper=3@NONE"], "For this line there are: LIGHT-1"),
        (["--use", "wash/upper=much"], "can't be read"),
        (["--use", "wash/upper=51"], "more than one cartridge"),
        (["--also", "wash/upper=3"], "names no lot"),
        (["--further", "NONE=3"], "not in an operatory"),
        (["--tray", "middle=M"], "no arch"),
        (["--tray", "upper=XXL"], "Known are: S, M, L, XL"),
        (["--retake", "border/upper"], "no step"),
        (["--lot", "NONE"], "Check the number"),
        (["--place", "laboratory", "--as-expected"], "no visit takes place"),
        (["--on", "tomorrow", "--as-expected"], "still to come"),
    ],
)
def test_what_can_not_be_is_said_in_one_line(work: Work, said: list[str], answer: str) -> None:
    work.little.visit("C-1")
    assert answer in work.refused("book-out", "1", *said)


# Stock


def test_a_delivery_is_received_with_every_article_of_its_packs(everywhere: Work) -> None:
    everywhere.done("import", "suppliers", write(everywhere, "name,lead_days\nSupplier North,3\n"))
    everywhere.done("import", "supplies", write(everywhere, SUPPLIES))
    lines = everywhere.done(
        "receive", "Supplier North", "LIGHT; packs=1; lot=N1; use-by=2028-05; damaged=1", "+ TIP; lot=T9; use-by=none",
        "--slip", "77",
    )  # fmt: skip
    assert lines[1:] == [
        "  LIGHT Light, lot N1, use by end of 2028-05, 3 units, 1 damaged, not received",
        "  TIP Mixing tip, lot T9, no use-by date stated, 6 units",
    ]
    assert "Slip 77 of Supplier North was received already" in everywhere.refused(
        "receive", "Supplier North", "LIGHT; packs=1; lot=N1; use-by=2028-05", "--slip", "77"
    )
    assert everywhere.data("deliveries", "1")["lines"][0]["lot"] == "N1"
    assert everywhere.done("deliveries")[1].startswith(f"  Delivery 1, {DAY}, Supplier North, slip 77")


SUPPLIES = "item,supplier,catalogue_no,units_per_pack,price,contents\nLIGHT,Supplier North,N-1,4,60.00,TIP:6\n"


def write(work: Work, text: str) -> Path:
    """A file with this text, in the folder of the run."""
    path = Path(str(work.little.key()) + ".csv")
    path.write_text(text, encoding="utf-8")
    return path


def test_a_date_that_has_passed_is_received_only_after_a_yes(work: Work) -> None:
    work.done("import", "suppliers", write(work, "name,lead_days\nSupplier North,3\n"))
    late = ("receive", "Supplier North", "LIGHT; units=1; lot=OLD; use-by=2026-02-01")
    assert "has passed. Look at the label and the slip again, then confirm. Repeat it with --yes" in work.refused(*late)
    work.done(*late, "--yes")


@pytest.mark.parametrize(
    ("line", "answer"),
    [
        ("LIGHT; packs=many", "line 1, packs: 'many' is not a whole number"),
        ("LIGHT; colour=blue", "line 1: 'colour=blue' can't be read"),
        ("LIGHT; units=1; use-by=32/13/2028", "is not a date"),
        ("+ TIP", "has no line before it"),
        ("NOTHING; units=1", "NOTHING"),
    ],
)
def test_a_line_that_can_not_be_received_says_what_is_wrong(work: Work, line: str, answer: str) -> None:
    work.done("import", "suppliers", write(work, "name,lead_days\nSupplier North,3\n"))
    assert answer in work.refused("receive", "Supplier North", line)


def test_stock_is_opened_carried_counted_thrown_away_and_sent_back(everywhere: Work) -> None:
    everywhere.done("open", "LIGHT-1", "--to", "operatory 1")
    everywhere.done("move", "LIGHT-1@store room=2", "HEAVY-1=1", "--to", "operatory 2")
    assert everywhere.stock("LIGHT-1") == {
        ("operatory 1", DAY): 5000,
        ("store room", None): 15_000,
        ("operatory 2", None): 10_000,
    }
    everywhere.done("count", "LIGHT-1@operatory 1", "4t", "--reason", "weighed")
    everywhere.done("count", "LIGHT-1@operatory 2", "1", "--reason", "counted")
    everywhere.done("discard", "LIGHT-1@store room=1", "--reason", "dropped")
    assert "proof" in everywhere.refused("return", "LIGHT-1@store room=1", "--reason", "wrong set")
    everywhere.done("return", "LIGHT-1@store room=1", "--reason", "wrong set", "--proof", "credit note 5")
    everywhere.done("write-off", "LIGHT-1@operatory 1")
    assert everywhere.stock("LIGHT-1") == {("store room", None): 5_000, ("operatory 2", None): 5_000}
    assert everywhere("verify").status == base.OK


def test_a_bottle_is_opened_and_emptied_by_count_alone(work: Work) -> None:
    work.little.stock("ADHESIVE", "A-1", 1)
    work.done("open", "A-1")
    lines = work.done("use-up", "A-1")
    assert "used 10 mL, Tray adhesive" in lines[1]


def test_stock_that_the_book_never_had_somewhere_can_be_counted_there(work: Work) -> None:
    work.done("count", "LIGHT-1@operatory 2", "3", "--reason", "found in a drawer")
    assert work.stock("LIGHT-1")["operatory 2", None] == 15_000
    assert work.done("count", "LIGHT-1@operatory 2", "3", "--reason", "again") == [
        "The book was right; nothing was posted."
    ]


def test_a_number_that_could_be_two_things_is_not_guessed(work: Work) -> None:
    work.done("move", "LIGHT-1=2", "--to", "operatory 1")
    refusal = work.refused("discard", "LIGHT-1", "--reason", "dropped")
    assert "'LIGHT-1' could be stock" in refusal
    assert "store room" in refusal
    assert "operatory 1" in refusal


def test_a_lot_is_held_released_and_its_date_put_right(everywhere: Work) -> None:
    everywhere.done("hold", "light-1", "--reason", "sets slowly")
    assert everywhere.data("lots", "--lot", "LIGHT-1")["lots"][0]["why_held"] == ["sets slowly"]
    assert "--yes and --reason" in everywhere.refused("open", "LIGHT-1")
    everywhere.done("release", "LIGHT-1", "--reason", "tested")
    everywhere.done("amend", "LIGHT-1", "--use-by", "2027-06", "--reason", "misread")
    assert everywhere.data("lots", "--lot", "LIGHT-1")["lots"][0]["use_by"] == "2027-06-30"


def test_two_items_with_the_same_lot_number_are_told_apart_by_their_code(work: Work) -> None:
    work.little.stock("BITE", "SAME", 1)
    work.done("import", "suppliers", write(work, "name,lead_days\nSupplier North,3\n"))
    work.done("receive", "Supplier North", "LIGHT; units=1; lot=SAME; use-by=none")
    refusal = work.refused("hold", "SAME", "--reason", "doubtful")
    assert "is LIGHT Light" in refusal
    assert "is BITE Bite" in refusal
    work.done("hold", "SAME", "--item", "BITE", "--reason", "doubtful")


def test_a_posting_is_undone_by_its_number_once(work: Work) -> None:
    first = work.done("discard", "LIGHT-1=1", "--reason", "dropped")[0]
    number = first.removeprefix("Discarded: entry ")
    assert work.done("undo", number, "--reason", "it was whole")[0] == f"Undone: entry {number}"
    assert "undone already" in work.refused("undo", number, "--reason", "again")
    assert "Name what to undo" in work.refused("undo", "--reason", "nothing named")


def test_who_does_it_has_to_be_known(work: Work) -> None:
    assert (
        "Nobody here has the initials 'ZZ'"
        in run("hold", "LIGHT-1", "--reason", "x", "--database", work.url, "--by", "ZZ").err
    )
    assert "Give your initials (--by" in run("hold", "LIGHT-1", "--reason", "x", "--database", work.url).err


# Files


def test_a_file_is_taken_in_whole_or_not_at_all(work: Work) -> None:
    people = write(work, "initials,role\nXY,assistant\n,assistant\nZZ,wizard\n")
    ran = work("import", "people", people)
    assert ran.status == base.BAD
    assert len(ran.err.splitlines()) == 3  # a line for each fault, then what to do
    assert "row 3, column initials" in ran.err
    assert "row 4, column role" in ran.err
    assert not any(person["initials"] == "XY" for person in work.data("settings")["people"])


def test_the_right_rows_are_taken_in_and_the_others_given_back(work: Work) -> None:
    people = write(work, "initials,role\nXY,assistant\nZZ,wizard\n")
    lines = work.done("import", "people", people, "--partial", "rejected.csv")
    assert lines[0] == "Imported: 2 rows of people, 1 added, 0 changed, 1 rejected"
    given_back = Path("rejected.csv").read_text()
    assert "ZZ,wizard" in given_back
    Path("rejected.csv").write_text(given_back.replace("wizard", "dentist"))
    work.done("import", "people", "rejected.csv")
    assert {person["initials"] for person in work.data("settings")["people"]} >= {"XY", "ZZ"}


def test_no_file_of_a_person_is_written_over(work: Work) -> None:
    people = write(work, "initials,role\nXY,assistant\n")
    assert "can't be written" in work.refused("import", "people", people, "--partial", people)
    assert people.read_text() == "initials,role\nXY,assistant\n"
    assert "can't be read" in work.refused("import", "people", "nowhere.csv")


def test_a_trial_run_keeps_nothing(work: Work) -> None:
    people = write(work, "initials,role\nXY,assistant\n")
    assert work.done("import", "people", people, "--dry-run")[0].startswith(
        "Would be imported: 1 row of people, 1 added"
    )
    assert not any(person["initials"] == "XY" for person in work.data("settings")["people"])


def test_a_template_is_a_file_to_start_from(work: Work) -> None:
    assert any(line.startswith("initials,role") for line in work.done("import", "template", "people"))
    assert "Known are: people, places" in work.refused("import", "template", "nothing")


# The practice


def test_settings_people_and_places_are_changed(work: Work) -> None:
    assert work.done("settings", "set", "day_first", "no") == ["day_first: false"]
    assert work.done("settings", "set", "horizon_days", "21") == ["horizon_days: 21"]
    assert "horizon_days" in work.refused("settings", "set", "horizon_days", "soon")
    assert work.done("settings", "person", "xy", "--role", "dentist") == ["Person XY, dentist"]
    assert work.done("settings", "place", "operatory 9") == ["Place operatory 9, chair"]
    assert work.done("settings", "place", "operatory 9", "--out") == ["Place operatory 9, chair, not in use any more"]
