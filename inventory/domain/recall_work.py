"""What is left to do for a recall notice, in the order in which it matters.

First nothing of it may be in reach, then whoever was treated with it is told, then the sender gets an answer, then what
was set aside goes back or is destroyed. A notice is closed when nothing of this is left.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from inventory.domain.vocabulary import NoticeClass

CLASS_WORDS = {
    NoticeClass.I: "class I: may cause serious harm or death",
    NoticeClass.II: "class II: harm that passes, or serious harm unlikely",
    NoticeClass.III: "class III: harm not likely",
    NoticeClass.NONE: "no class given",
}
"""The classes in short; whoever classified a notice decides what it means (21 CFR 7.3(m), read in the source)."""


@dataclass(frozen=True, slots=True)
class Outstanding:
    """What of a notice is not settled, each thing in words.

    Attributes:
        to_find: stock that still stands where it stood, by lot and place.
        set_aside: stock that was set aside and is still in the house.
        cases: references of cases whose patients nobody told or decided not to tell.
        answer_by: the day by which an answer is asked for; None where none is asked for, or it was given.
    """

    to_find: tuple[str, ...] = ()
    set_aside: tuple[str, ...] = ()
    cases: tuple[str, ...] = ()
    answer_by: date | None = None

    @property
    def left(self) -> tuple[str, ...]:
        """What to do, most urgent first, one sentence each; empty where the notice can be closed."""
        told = []
        if self.to_find:
            told.append(f"Find and set aside: {few(self.to_find)}.")
        if self.cases:
            told.append(f"Tell, or note why not: {few(tuple(f'case {case}' for case in self.cases))}.")
        if self.answer_by is not None:
            told.append(f"Answer the notice by {self.answer_by.isoformat()}, and note the proof.")
        if self.set_aside:
            told.append(f"Return or destroy, with proof: {few(self.set_aside)}.")
        return tuple(told)

    @property
    def counts(self) -> str:
        """How much is left of each, in words; what there is none of is left out."""
        told = (
            (len(self.to_find), "to find"), (len(self.set_aside), "set aside"),
            (len(self.cases), "case to tell" if len(self.cases) == 1 else "cases to tell"),
        )  # fmt: skip
        words = [f"{count} {what}" for count, what in told if count]
        if self.answer_by is not None:
            words.append(f"answer by {self.answer_by.isoformat()}")
        return ", ".join(words) or "everything is settled"

    @property
    def next_step(self) -> str:
        """What to do next."""
        return self.left[0] if self.left else "Close it: everything is settled."


def few(words: Sequence[str], most: int = 3) -> str:
    """The first of some words, and how many more there are."""
    more = len(words) - most
    return f"{'; '.join(words[:most])}{f'; and {more} more' if more > 0 else ''}"
