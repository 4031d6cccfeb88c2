"""Everything that can go wrong in a way a person can act on.

PracticeError                 title, message (what and where), todo (what to do); never shown as a traceback
├── BadInput                  exit 2: what was typed, asked or imported is not valid; nothing was changed
│   ├── NotFound              the thing named does not exist
│   ├── NotAllowed            a rule of the practice or of the ledger forbids it
│   ├── NeedsConfirmation     possible, but only after a person has said yes (and, where asked, why)
│   └── RowErrors             a file with faults, one line for each row and column
├── Conflict                  exit 2: somebody else was faster; look at the new state and decide again
│   ├── StockChanged          another posting took what this one wanted
│   ├── AlreadyDone           the visit was booked, the document reversed, the lot released ... by then
│   └── KeyReused             a request key came again with other content
└── StoreError                exit 3: the program or its store failed
    ├── StoreUnreachable      no such file or server, no permission, disk full, locked for too long
    ├── WrongStore            a file or database that is not one of ours, or damaged
    └── NewerStore            written by a later version of this program
"""

from dataclasses import dataclass


class PracticeError(Exception):
    """An error written for the person who meets it.

    Args:
        message: what is wrong and where.
        todo: what the person can do now.
    """

    title = "Something went wrong"
    exit_status = 3

    def __init__(self, message: str, todo: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.todo = todo

    def __str__(self) -> str:
        return f"{self.message} {self.todo}".strip()


class BadInput(PracticeError):
    """What was typed, asked or imported is not valid; nothing was changed."""

    title = "That does not work"
    exit_status = 2


class NotFound(BadInput):
    """The thing named does not exist."""

    title = "Not found"


class NotAllowed(BadInput):
    """A rule of the practice or of the ledger forbids it."""

    title = "Not allowed"


class NeedsConfirmation(BadInput):
    """Possible, but only after a person has said yes.

    Args:
        message: what would happen and why it is unusual.
        todo: how to confirm.
        reason_needed: whether a written reason must come with the yes.
    """

    title = "Please confirm"

    def __init__(self, message: str, todo: str = "", *, reason_needed: bool = False) -> None:
        super().__init__(message, todo)
        self.reason_needed = reason_needed


@dataclass(frozen=True)
class RowError:
    """One fault of an imported file: 1-based row (the header is row 1), column name, what is wrong."""

    row: int
    column: str
    message: str

    def __str__(self) -> str:
        where = f"row {self.row}" + (f", column {self.column}" if self.column else "")
        return f"{where}: {self.message}"


class RowErrors(BadInput):
    """A file with faults; nothing of it was taken in."""

    title = "The file has faults"

    def __init__(self, errors: tuple[RowError, ...], todo: str = "") -> None:
        super().__init__("\n".join(str(error) for error in errors), todo)
        self.errors = errors


class Conflict(PracticeError):
    """Somebody else was faster."""

    title = "Changed meanwhile"
    exit_status = 2


class StockChanged(Conflict):
    """Another posting took what this one wanted; a new proposal is needed."""


class AlreadyDone(Conflict):
    """The visit was booked, the document reversed or the hold released by then."""

    title = "Already done"


class KeyReused(Conflict):
    """A request key came again with other content."""


class StoreError(PracticeError):
    """The program or its store failed."""

    title = "The store failed"
    exit_status = 3


class StoreUnreachable(StoreError):
    """No such file or server, no permission, disk full, or locked for too long."""

    title = "The store can't be reached"


class WrongStore(StoreError):
    """A file or database that is not one of ours, or a damaged one."""

    title = "Not a usable store"


class NewerStore(StoreError):
    """A store written by a later version of this program."""

    title = "The store is newer than this program"
