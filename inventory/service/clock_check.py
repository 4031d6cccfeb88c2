"""Is this workstation's clock behind the book? Postings go on in their order, but their days would be wrong.

Entries carry the day and the instant that a workstation's clock gives. Where the newest entry is of a later day than
today, either this clock is behind or the one that posted it was ahead; no program can say which, so a person is told,
and nothing is refused.
"""

from inventory.service.practice import Desk, Practice
from inventory.store.queries import checks


def caution(desk: Desk) -> str:
    """What to say about the clock; empty where it agrees with the book, or a day was chosen on purpose."""
    newest = None if desk.clock.day else checks.newest_entry(desk.session)
    if newest is None or newest.astimezone(desk.zone).date() <= desk.today:
        return ""
    return (
        f"This computer's clock says {desk.today.isoformat()}, but the newest entry is of "
        f"{newest.astimezone(desk.zone).date().isoformat()}: check the clock before anything is posted."
    )


def caution_of(practice: Practice) -> str:
    """The same, in a look of its own."""
    with practice.reading() as desk:
        return caution(desk)
