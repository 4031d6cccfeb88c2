"""What people ask in passing: what goes with an item, how much was taken again, and where a question is answered."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from tui import questions, retake_words
from tui.commands import asking_shapes as shapes
from tui.commands import base, words

if TYPE_CHECKING:
    from inventory.service.goes_with import GoesWith
    from inventory.service.stock_views import ItemLine


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``fits``, ``retakes`` and ``questions``."""
    fits = commands.add_parser(
        "fits", parents=[common], help="what goes with an item, and what may take its place",
        description="Tips and adhesives for a material, materials for them; articles named for the same steps.",
    )  # fmt: skip
    fits.add_argument("item", metavar="ITEM", help="code of the item")
    base.reading(fits)
    fits.set_defaults(run=_fits)
    retakes = commands.add_parser(
        "retakes", parents=[common], help="retakes by arch with their cost, and the lots with most of them",
        description="An impression counts as taken again when a further attempt at its step and arch follows it.",
    )  # fmt: skip
    retakes.add_argument("--since", metavar="DAY", help="first day; a year ago")
    base.reading(retakes)
    retakes.set_defaults(run=_retakes)
    asked = commands.add_parser(
        "questions", parents=[common], help="questions, each with the screen and the command that answers it",
        description="What stands in capitals is to be filled in.",
    )  # fmt: skip
    asked.add_argument("part", metavar="WORD", nargs="?", default="", help="only questions that hold this")
    base.reading(asked)
    asked.set_defaults(run=_questions)


def _fits(context: base.Context) -> int:
    from inventory.service import goes_with  # noqa: PLC0415

    found = goes_with.goes_with(context.practice, context.args.item)
    context.show(shapes.GOES_WITH, found, _fits_told(found))
    return base.OK


def _fits_told(found: "GoesWith") -> Iterator[str]:
    yield _item(found.item)
    yield from words.titled("Goes with it", map(_item, found.fits), "Nothing is said to go with it.")
    yield from words.titled("May take its place", map(_item, found.instead), "Nothing is named to take its place.")
    if found.like:
        yield from words.titled("Of the same body, but not named to take its place", map(_item, found.like), "")


def _item(line: "ItemLine") -> str:
    return f"{line.code}, {line.name}: {line.amount} usable"


def _retakes(context: base.Context) -> int:
    from inventory.service import retakes  # noqa: PLC0415

    found = retakes.retakes(context.practice, context.day(context.args.since, "--since"))
    context.show(shapes.RETAKES, found, retake_words.told(found))
    return base.OK


def _questions(context: base.Context) -> int:
    found = list(questions.told(context.args.part))
    data = [
        {"user": user, "question": one.words, "screen": one.screen, "command": one.command}
        for user, asked in found
        for one in asked
    ]
    lines = [line for user, asked in found for line in (f"Asked by {user}", *map(_question, asked))]
    context.show(shapes.QUESTIONS, {"questions": data}, lines or ["No question holds that."])
    return base.OK


def _question(one: questions.Question) -> str:
    return f"  {one.words} Screen: {one.screen}. Command: {one.command}"
