"""The questions people ask: each is answered by a command, on the demo practice, and stands in the README."""

import re
import shlex
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

from inventory.domain.vocabulary import Arch, DocumentKind, VisitState
from inventory.service import laying_out, opening, stock_views, tracing, visits
from inventory.service.tracing import Filter
from tests.architecture.project import ROOT
from tests.clinic import Clinic
from tests.demos import DemoOn, copy_of
from tests.tui.at_work import SMALL, at_work, press, screen
from tests.tui.commands import run
from tui import modes, questions
from tui.commands import base

A_WEDNESDAY = date(2026, 11, 25)
ASKED = [one for asked in questions.USERS.values() for one in asked]
TO_FILL_IN = re.compile(r"[A-Z]{2,}(?:-[A-Z0-9]+)*")


def known(database: Path, folder: Path) -> dict[str, str]:
    """What each word in capitals stands for, taken from the practice itself."""
    practice = opening.open_practice(str(database), today=A_WEDNESDAY)
    with closing(practice.store):
        visit = next(
            card
            for card in visits.upcoming(practice)
            if card.state is VisitState.PLANNED and card.on >= A_WEDNESDAY and card.case_kind == "final_stock_tray"
        )
        lines = laying_out.form(practice, visit.visit_id).lines
        wash = next(line for line in lines if line.step == "wash" and line.arch is Arch.MAXILLARY)
        lot = stock_views.lots(practice, item_id=wash.item_id).lines[-1]
        done = visits.between(practice, A_WEDNESDAY - timedelta(days=30), A_WEDNESDAY, state=VisitState.DONE)[-1]
        (use,) = tracing.history(practice, Filter(kind=DocumentKind.USE), limit=1)
    line = f"{lot.item_code}; packs=1; lot=%s; use-by=2029-05-31"
    return {
        "VISIT": str(visit.visit_id), "STEP": "wash/upper", "LOT": lot.lot_number, "ITEM": lot.item_code,
        "CASE-REF": done.case_ref, "ENTRY": str(use.document.document_id), "ADHESIVE": "ADH-S", "BITE": "BITE-F",
        "PLACE": "operatory 1", "FOLDER": str(folder), "TEXT": "wrong case", "SUPPLIER": "Supplier North",
        "LINE": line % "A1", "LINE-2": f"{line % 'A2'}; damaged=1",
    }  # fmt: skip


def test_every_question_is_answered_by_its_command_on_the_demo_practice(demo_on: DemoOn, tmp_path: Path) -> None:
    database = copy_of(demo_on(A_WEDNESDAY), tmp_path)
    words = known(database, tmp_path / "backups")
    for command in dict.fromkeys(one.command for one in ASKED):
        typed = [TO_FILL_IN.sub(lambda found: words[found[0]], word) for word in shlex.split(command)]
        ran = run("--database", database, "--today", A_WEDNESDAY, "--by", "AK", *typed)
        assert ran.status in (base.OK, base.ACT), (command, ran.err)
        assert ran.lines, command
        assert not ran.err, (command, ran.err)


def test_every_question_stands_in_the_readme_with_its_screen_and_its_command() -> None:
    assert "\n".join(questions.table()) in (ROOT / "README.md").read_text()
    places = {mode.title for mode in modes.MODES} | {"Book out", "Receive", "any screen"}
    for one in ASKED:
        assert one.words.endswith("?")
        assert one.screen.startswith(("(by command", *places)), one


def test_questions_are_found_by_a_word() -> None:
    ran = run("questions", "laboratory")
    assert ran.lines == [
        "Asked by the assistant",
        "  What goes in the laboratory bag? Screen: Visits, l. Command: laboratory list",
    ]
    assert run("questions", "nothing like it").lines == ["No question holds that."]
    assert len(run("questions", "--json").data["questions"]) == len(ASKED)


async def test_the_questions_are_a_key_away_from_every_screen(clinic: Clinic) -> None:
    async with at_work(clinic.practice, size=SMALL) as pilot:
        await press(pilot, "f3")
        assert "What must I order today, how much, from whom and why?" in screen(pilot)
        await press(pilot, "escape", "3", "r")
        assert "Impressions since" in screen(pilot)
