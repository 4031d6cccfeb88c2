"""Shelf labels of an item, as a PDF in a folder that the person names."""

from collections.abc import Iterator
from itertools import count
from pathlib import Path

from inventory.errors import BadInput
from inventory.service import shelf_labels
from inventory.service.practice import Practice
from tui import text as shown
from tui import workers
from tui.dialogs.ask import AskDialog
from tui.screens.base import StockScreen
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import number_field, text_field

MOST_TRIED = 1000


def write(screen: StockScreen, code: str) -> None:
    """Ask for the folder and the sheet, write a label for each lot of the item at each place, and say where."""
    practice = screen.practice
    folder = text_field("Folder", text=str(Path.home()), hint="where the PDF goes", id="folder")
    papers = [(paper, paper) for paper in shelf_labels.PAPERS]
    paper: ChoiceField[str] = ChoiceField("Sheet", papers, chosen=papers[0][0], hint="Down for the list", id="sheet")
    skip = number_field("Used up", text="0", hint="labels gone from the first sheet", id="skip")

    def taken() -> tuple[Path, str, int]:
        return Path(folder.text).expanduser(), paper.value or papers[0][0], skip.value or 0

    def answered(asked: tuple[Path, str, int] | None) -> None:
        if asked is not None:
            workers.run(screen, lambda: _write(practice, code, *asked), told, name="labels", busy="Writing labels")

    def told(written: tuple[Path, int]) -> None:
        path, number = written
        said = f"{shown.count(number, 'label')} written to {path}. Print it at full size."
        screen.notify(shown.clean(said), markup=False, timeout=8)

    question = "One for each lot at each place, with a code that the label fields read."
    screen.app.push_screen(
        AskDialog(f"Shelf labels of {code}", [folder, paper, skip], taken, question=question, yes="Write"), answered
    )


def _write(practice: Practice, code: str, folder: Path, paper: str, skip: int) -> tuple[Path, int]:
    """Write the labels; runs in a thread. A file that is there already is not written over."""
    wanted = shelf_labels.shelf_labels(practice, item=code)
    made = shelf_labels.printed(practice, wanted, paper=paper, skip=skip)
    for path in _names(folder, code):
        try:
            with path.open("xb") as file:
                file.write(made)
        except FileExistsError:
            continue
        except OSError as wrong:
            raise BadInput(f"{path} can't be written: {wrong.strerror}.", "Name another folder.") from None
        return path, len(wanted)
    raise BadInput(f"{folder} is full of labels of {code}.", "Name another folder.")


def _names(folder: Path, code: str) -> Iterator[Path]:
    name = f"labels {code.replace('/', '_')}"
    yield folder / f"{name}.pdf"
    yield from (folder / f"{name} {number}.pdf" for number, _ in zip(count(2), range(MOST_TRIED), strict=False))
