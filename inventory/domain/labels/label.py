"""What a supply label says, whichever of the standards wrote it.

A box carries its article, lot and use-by date in one code or in two, after GS1 or after HIBC; a tray often carries its
article alone. Whatever was scanned, pasted or typed becomes one `Label`, or an error that says where reading stopped.
What reads well and may still be wrong (a lot that swallowed the next field) is a question, to be looked at by a person.
"""

from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from inventory.domain.vocabulary import UseByReading
from inventory.errors import BadInput

BY_HAND = "Scan it again, or type the lot and the date by hand."


class CodeKind(StrEnum):
    """What kind of code a label was read from."""

    GS1 = "gs1"  # element strings as a scanner sends them
    GS1_PRINTED = "gs1_printed"  # the same as printed below the code, in brackets
    DIGITAL_LINK = "digital_link"
    ARTICLE = "article"  # EAN-13, UPC-A, EAN-8 or GTIN-14 alone
    HIBC_PRIMARY = "hibc_primary"
    HIBC_SECONDARY = "hibc_secondary"
    HIBC = "hibc"  # both in one


@dataclass(frozen=True, slots=True)
class Label:
    """What a label says; None where it does not say it.

    ``gtin`` is padded to 14 digits; ``hibc`` is labeler, product and unit of measure; ``own`` is the element of GS1
    that companies use as they like, here for shelf labels, and ``own_lot`` a lot's number in the book. A box and a
    single unit differ in all three. ``use_by_read`` is day, month (the label gives no day: the last of the month was
    taken) or not read; ``best_before`` says that the date is the last of best quality, the only one on the label.
    ``link`` and ``check`` tie the two labels of HIBC together. ``gtin_instead`` is the article that the same digits
    would also name.
    """

    kind: CodeKind
    gtin: str | None = None
    hibc: str | None = None
    own: str | None = None
    own_lot: int | None = None
    lot: str | None = None
    use_by: date | None = None
    use_by_read: UseByReading = UseByReading.NOT_READ
    best_before: bool = False
    made_on: date | None = None
    serial: str | None = None
    variant: str | None = None
    count: int | None = None
    link: str | None = None
    check: str | None = None
    gtin_instead: str | None = None
    questions: tuple[str, ...] = ()

    @property
    def scheme(self) -> str:
        """Whose numbers name the article: ``gtin``, ``hibc``, ``own``, or nothing."""
        return "gtin" if self.gtin else "hibc" if self.hibc else "own" if self.own else ""

    @property
    def code(self) -> str:
        """What names the article and its packaging level within its scheme; empty where nothing does."""
        return self.gtin or self.hibc or self.own or ""


def join(first: Label, second: Label) -> Label:
    """One label of the two codes of a package: the article on the one, lot and date on the other, in either order.

    Raises:
        BadInput: both name an article, they contradict each other, or the link of the second HIBC label names another.
    """
    article, rest = (first, second) if first.code else (second, first)
    if not article.code or (rest.code and rest.code != article.code):
        raise BadInput("These two codes are not of one package.", "Scan the article's code, then its lot and date.")
    if rest.link is not None and rest.link != article.check:
        raise BadInput("The second label belongs to another article: its link does not fit.", "Scan both once more.")
    told = {name: getattr(rest, name) for name in _SAID if getattr(rest, name) is not None}
    if any(getattr(article, name) not in (None, value) for name, value in told.items()):
        raise BadInput("These two codes contradict each other.", BY_HAND)
    if rest.use_by is not None:
        told |= {"use_by_read": rest.use_by_read, "best_before": rest.best_before}
    kind = CodeKind.HIBC if rest.kind is CodeKind.HIBC_SECONDARY else article.kind
    return replace(article, **told, kind=kind, questions=article.questions + rest.questions)


_SAID = ("lot", "use_by", "made_on", "serial", "variant", "count")


def unreadable(why: str, at: int, todo: str = BY_HAND) -> BadInput:
    """The error for a label that can't be read.

    Args:
        why: what is wrong, without a full stop.
        at: where in the text, counted from 0.
        todo: what to do.
    """
    return BadInput(f"The label can't be read, character {at + 1}: {why}.", todo)
