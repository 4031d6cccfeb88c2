"""The record of a case into a file: PDF for the patient's file and the laboratory, or text."""

from pathlib import Path

from inventory.errors import BadInput
from inventory.service import case_record
from inventory.service.practice import Practice
from tui import workers
from tui.dialogs.ask import AskDialog
from tui.screens.base import StockScreen
from tui.widgets.fields import text_field


def write(screen: StockScreen, case_ref: str, visit_id: int) -> None:
    """Ask for a file's name and write the record of a visit there."""
    practice = screen.practice
    safe = "".join(sign if sign.isalnum() or sign in "-_." else "_" for sign in case_ref)
    name = str(Path.home() / f"record {safe} visit {visit_id}.pdf")
    path = text_field("File", text=name, hint=f"ends in .{' or .'.join(case_record.FORMATS)}", id="file")
    path.add_class("-wide")

    def taken() -> Path:
        written = Path(path.text).expanduser()
        if written.suffix.removeprefix(".").lower() not in case_record.FORMATS:
            raise BadInput(f"file: the name ends in none of .{', .'.join(case_record.FORMATS)}.")
        return written

    def answered(file: Path | None) -> None:
        if file is not None:
            workers.run(
                screen,
                lambda: _write(practice, case_ref, visit_id, file),
                lambda _: screen.notify(f"Written to {file}.", markup=False, timeout=8),
                name="record-file",
                busy="Writing the record",
            )

    question = "One page for the patient's file and the laboratory: the case reference, no name."
    screen.app.push_screen(
        AskDialog(f"Write the record of {case_ref}", [path], taken, question=question, yes="Write"), answered
    )


def _write(practice: Practice, case_ref: str, visit_id: int, file: Path) -> None:
    """Write the record; runs in a thread. A file that is there already is not written over."""
    content = case_record.written(practice, case_ref, file.suffix.removeprefix(".").lower(), visit_id=visit_id)
    try:
        with file.open("xb") as out:
            out.write(content)
    except OSError as error:
        raise BadInput(f"{file} can't be written: {error.strerror}.", "Name a file that is new.") from None
