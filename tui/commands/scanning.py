"""What a label says, which of our lots it is, and what the code of a package stands for."""

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from inventory.errors import BadInput
from tui.commands import base, scan_shapes, words

if TYPE_CHECKING:
    from inventory.domain.labels.label import Label
    from inventory.service.labels import Scanned, ScannedLot

KINDS = {
    "gs1": "GS1 elements", "gs1_printed": "GS1 elements as printed", "digital_link": "GS1 Digital Link",
    "article": "article number", "hibc_primary": "HIBC", "hibc_secondary": "HIBC, second code",
    "hibc": "HIBC",
}  # fmt: skip


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``scan``, ``package``, ``packages`` and ``labels``."""
    scan = commands.add_parser(
        "scan", parents=[common], help="what a label says, which item it is, which of our lots",
        description="Reads labels as a scanner types them: GS1 (also printed, and as a Digital Link), HIBC, EAN and "
        "UPC; also lot numbers typed by hand. Without TEXT one label a line from standard input. Ends with 1 where a "
        "label names an article that nobody has named yet, asks something, or is of a lot not to be used.",
    )  # fmt: skip
    scan.add_argument(
        "text", metavar="TEXT", nargs="*", help="a label; a package's second code stands behind its first"
    )
    base.reading(scan)
    scan.set_defaults(run=_scan)
    package = commands.add_parser(
        "package", parents=[common], help="say once what the code of a package stands for",
        description="A maker's number says nothing until the practice has said which item it is and how many units "
        "one such package holds; a box and a single unit have different codes. It is kept and logged.",
    )  # fmt: skip
    package.add_argument("text", metavar="TEXT", help="the label, as a scanner types it, or the code alone")
    package.add_argument("item", metavar="CODE", help="the item's code")
    package.add_argument("units", metavar="UNITS", type=base.a_number, help="units of the item in one such package")
    base.writing(package)
    package.set_defaults(run=_package)
    listing = commands.add_parser("packages", parents=[common], help="what codes of packages stand for")
    listing.add_argument("--item", metavar="CODE", default="", help="only this item's")
    base.reading(listing)
    listing.set_defaults(run=_packages)
    sheet = commands.add_parser(
        "labels", parents=[common], help="shelf labels as PDF, for what carries no code of its own",
        description="One label for each lot at each place whose number is ours or whose item has no package code, "
        "with a 2-D code that every label field reads.",
    )  # fmt: skip
    sheet.add_argument(
        "--out", metavar="FILE", required=True, help="the PDF file to write; a file there is not touched"
    )
    sheet.add_argument(
        "--paper", choices=("a4", "letter"), default="a4", help="24 labels on A4 (default), 30 on letter"
    )
    sheet.add_argument(
        "--item", metavar="CODE", default="", help="only this item's lots, whatever their packages carry"
    )
    sheet.add_argument("--place", metavar="NAME", default="", help="only what stands there")
    sheet.add_argument("--all", action="store_true", help="also lots whose packages can be scanned")
    sheet.add_argument("--skip", metavar="N", type=base.a_number, default=0, help="labels of the first sheet used up")
    sheet.set_defaults(run=_labels)


def _scan(context: base.Context) -> int:
    texts = context.args.text or [line.rstrip("\r\n") for line in sys.stdin if line.strip()]
    if len(texts) == 1:
        found, unread = _found(context, texts, complain=False), 0
    else:
        found = _found(context, texts)
        unread = len(texts) - len(found)
    context.show(scan_shapes.SCANS, {"scans": found}, (line for scanned in found for line in _told(scanned)))
    if unread:
        return base.BAD
    return base.ACT if any(_to_act_on(scanned) for scanned in found) else base.OK


def _found(context: base.Context, texts: Sequence[str], *, complain: bool = True) -> list["Scanned"]:
    """What each label means; of several those that can be read, and a complaint of each other one."""
    found: list[Scanned] = []
    before: Label | None = None
    for text in texts:
        try:
            scanned = _with_or_alone(context, text, before)
        except BadInput as wrong:
            if not complain:
                raise
            base.complain_of(wrong)
            before = None
            continue
        found.append(scanned)
        before = scanned.label if scanned.label and scanned.label.code and not scanned.label.lot else None
    return found


def _with_or_alone(context: base.Context, text: str, before: "Label | None") -> "Scanned":
    """The label together with the code before it, where the two are of one package."""
    from inventory.service import labels  # noqa: PLC0415

    try:
        return labels.find(context.practice, text, first=before)
    except BadInput:
        if before is None:
            raise
        return labels.find(context.practice, text)


def _to_act_on(scanned: "Scanned") -> bool:
    return scanned.unknown or bool(scanned.questions) or any(lot.late for lot in scanned.lots if scanned.lot_number)


def _told(scanned: "Scanned") -> Iterator[str]:
    label = scanned.label
    if label is None:
        yield f"Lot number {scanned.lot_number}"
    else:
        named = {"gtin": "GTIN", "hibc": "article", "own": "our own code"}.get(label.scheme, "")
        dated = words.use_by(label.use_by, label.use_by_read) if label.use_by else None
        if dated and label.best_before:
            dated = dated.replace("use by", "best before")
        yield words.facts(
            KINDS[label.kind.value], f"{named} {label.code}" if named else None,
            f"lot {label.lot}" if label.lot else None, dated,
            f"made on {label.made_on.isoformat()}" if label.made_on else None,
            f"serial number {label.serial}" if label.serial else None,
            f"count {label.count}" if label.count is not None else None,
        )  # fmt: skip
    if scanned.item:
        yield f"  Item: {scanned.item.code} {scanned.item.name}, {base.number_of(scanned.item.units, 'unit')}"
    elif scanned.unknown:
        yield "  Item: nobody has said yet which one it is; say it with 'package'"
    yield from (f"  {_lot(lot)}" for lot in scanned.lots)
    if not scanned.lots and (scanned.item or not scanned.unknown):
        yield "  No such lot is in the book."
    yield from (f"  Mind: {text}" for text in (*scanned.questions, *scanned.warnings))


def _lot(lot: "ScannedLot") -> str:
    there = words.on_hand(lot.on_hand, lot.unit_qty, lot.unit_name, lot.base) if lot.on_hand else "nothing left"
    return words.facts(
        f"lot:{lot.lot_id} {lot.item_code} {lot.item_name}", words.lot(lot.number, lot.use_by, lot.use_by_read), there,
        " and ".join(lot.places), words.late(lot.late),
    )  # fmt: skip


def _package(context: base.Context) -> int:
    from inventory.domain.labels.reading import read_label  # noqa: PLC0415
    from inventory.service import labels  # noqa: PLC0415

    args = context.args
    label = read_label(args.text, context.today)
    code = label.code or label.gtin_instead or ""
    if not code:
        raise BadInput("This label names no article.", "Scan the package's other code.")
    card = labels.remember_article(
        context.practice, label.scheme or "gtin", code, args.item, args.units, by=context.by, confirmed=args.yes
    )
    base.say(f"{card.code} stands for {base.number_of(card.units, 'unit')} of {args.item.strip().upper()}.")
    return base.OK


def _packages(context: base.Context) -> int:
    from inventory.service import labels  # noqa: PLC0415

    found = labels.packages(context.practice, item=context.args.item)
    lines = (
        words.facts(f"{one.scheme} {one.code}", f"{one.item_code} {one.item_name}", base.number_of(one.units, "unit"))
        for one in found
    )
    title = base.number_of(len(found), "code of a package", "codes of packages")
    context.show(
        scan_shapes.PACKAGES, {"packages": found}, words.titled(title, lines, "No codes of packages are known.")
    )
    return base.OK


def _labels(context: base.Context) -> int:
    from inventory.service import shelf_labels  # noqa: PLC0415

    args = context.args
    wanted = shelf_labels.shelf_labels(context.practice, item=args.item, place=args.place, everything=args.all)
    made = shelf_labels.printed(context.practice, wanted, paper=args.paper, skip=args.skip)
    try:
        with Path(args.out).open("xb") as file:
            file.write(made)
    except FileExistsError:
        raise BadInput(f"There is a file {args.out} already.", "Name another one.") from None
    except OSError as wrong:
        raise BadInput(f"{args.out} can't be written: {wrong.strerror}.", "Name another file.") from None
    base.say(f"{base.number_of(len(wanted), 'label')} written to {args.out}.")
    return base.OK
