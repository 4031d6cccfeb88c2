"""The questions that people ask of the stock, each with the screen and the command that answers it.

One table for the help on screen, for the command ``questions`` and for the README; a test gives every command to the
demo practice. Words in capitals stand for what the person fills in.
"""

from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Question:
    """One question; ``screen`` names the place and then the keys to press there."""

    words: str
    screen: str
    command: str


MANAGER = (
    Question("What must I order today, how much, from whom and why?", "Week, o", "orders --proposed"),
    Question("What runs out before the next delivery?", "Week", "week --kind runs_short"),
    Question("What expires in 30, 60, 90 days, and will we use it first?", "Week, b d", "shelf"),
    Question("How much money is that?", "Week, b d", "shelf"),
    Question("What is on order, and what is late?", "Week, o", "orders"),
    Question("Do we hold more than we can use?", "Week, b d", "shelf"),
    Question("What did we waste, and on what?", "Stock, u", "usage --period last-quarter"),
    Question("What was counted against the book?", "Stock, c", "count-round list"),
    Question("Can I stop a count halfway?", "Stock, c: a round stays open", "count-round list"),
    Question("Have the booked visits of two weeks all they need?", "Today", "ready --days 14"),
    Question("Which lots are blocked?", "Stock: state of each item", "items"),
    Question("Had we recalled lots, who got them, is there proof we answered?", "Week, l", "notice list"),
    Question("Which lots have no date or no number yet?", "Week", "week --kind date_not_read"),
    Question("What is really used, beside the estimate?", "Week, e", "estimates"),
    Question("Which prices or packs changed?", "History, c", "history --changes --subject supply"),
    Question("What never moves?", "Week, b d; Trays, n", "buy-trays"),
    Question(
        "If the supplier is two weeks late, what fails first?", "Week, i", "what-if --supplier SUPPLIER --late 14"
    ),
    Question("Can I print it for someone without the program?", "Week, o: the order's sheet", "week"),
    Question("Is the backup good?", "(by command, also from cron)", "backup --to FOLDER"),
    Question("Who changed this, and when?", "History, c", "history --changes"),
    Question("Does the discount pay before expiry?", "(by command)", "short-dated ITEM 3 2028-01"),
)
ASSISTANT = (
    Question("Which visit am I booking?", "Today", "visits"),
    Question("How do I accept what was expected?", "Today, Enter F2 Enter", "book-out VISIT --as-expected --show"),
    Question("Which lot is open at that chair?", "Book out: From", "places PLACE"),
    Question("The cartridge ran out halfway: two lots?", "Book out, a", "book-out VISIT --show --also STEP=2@LOT"),
    Question("We took the lower again?", "Book out, t", "book-out VISIT --show --retake wash/lower"),
    Question("Only the upper was done?", "Book out, o", "book-out VISIT --show --only upper"),
    Question("I scanned a box: a unit or a box?", "Receive", "scan LOT"),
    Question("The code won't read?", "any screen: type the lot number", "scan LOT"),
    Question("Wrong case: how do I undo it?", "History, u", "undo ENTRY --reason TEXT"),
    Question("Another lot or viscosity was used instead?", "Book out, l or w", "book-out VISIT --show --further LOT=2"),
    Question("Which tip fits?", "Stock, t", "fits ITEM"),
    Question("Is what's left enough for the next arch?", "Today, Enter", "lay-out today"),
    Question("A new one must be opened: which lot?", "Stock, Enter: first line", "lots --item ITEM"),
    Question("A tray was tried in and not used?", "Book out, z", "book-out VISIT --show --tried upper=L"),
    Question("Is the adhesive still good?", "Stock, Enter", "lots --item ADHESIVE"),
    Question("A delivery: six boxes, two lots, one damaged?", "Stock, r", "receive SUPPLIER LINE LINE-2 --preview"),
    Question("The same lot number with another date?", "Stock, r: said beside the line", "lots --lot LOT"),
    Question("Did my colleague book it already?", "Today: state", "visits show VISIT"),
    Question("What goes in the laboratory bag?", "Visits, l", "laboratory list"),
    Question("What do I lay out for tomorrow?", "Today: a visit of tomorrow", "lay-out"),
)
DENTIST = (
    Question("How many trays of each size, and which is low?", "Trays", "trays"),
    Question("Is there wash for today's finals with a retake each?", "Trays: Materials", "trays"),
    Question("Is there open bite material in date?", "Stock, Enter", "lots --item BITE"),
    Question("Is fast or regular set in stock?", "Trays: Set", "trays"),
    Question("What replaces the light body?", "Book out, l", "fits ITEM"),
    Question("Which lot was used on this case?", "Visits, Enter", "trace case CASE-REF"),
    Question("Several poor impressions: from one lot?", "Trays, r", "retakes"),
    Question("Do we stock sizes in the proportion we use them?", "Trays, f", "fitted"),
    Question("My retakes, upper against lower, and their cost?", "Trays, r", "retakes"),
    Question("Is there a recall on what I used?", "Week, l", "notice list"),
    Question("Can I start this case, or wait?", "Today: state", "ready"),
    Question("Which visits are booked next month?", "Visits", "ready --days 31"),
)
USERS = {"the manager": MANAGER, "the assistant": ASSISTANT, "the dentist": DENTIST}


def table() -> Iterator[str]:
    """The table as the README has it."""
    yield "| who asks | question | on screen | command |"
    yield "|---|---|---|---|"
    for user, questions in USERS.items():
        for one in questions:
            yield f"| {user} | {one.words} | {one.screen} | `{one.command}` |"


def told(part: str = "") -> Iterator[tuple[str, tuple[Question, ...]]]:
    """The questions of each user that have a part in their words, those without any left out."""
    wanted = part.strip().casefold()
    for user, questions in USERS.items():
        if found := tuple(one for one in questions if wanted in f"{user} {one.words}".casefold()):
            yield user, found


if __name__ == "__main__":
    print("\n".join(table()))
