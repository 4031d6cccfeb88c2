"""What the commands of use and waste, and of the classes of items, print with ``--json``."""

from inventory.domain.usage import ADDED, Became
from tui.commands.shape_parts import WHY
from tui.commands.shaping import Part, Shape

_TOLD = {
    Became.RECEIVED: "receipts",
    Became.USED: "at first attempts",
    Became.PURGED: "in tips, at first attempts",
    Became.RETAKEN: "further attempts, their purge included",
    Became.LOST: "while working, and rests too small for any step",
    Became.EXPIRED: "discarded on the last day of use or later",
    Became.DISCARDED: "otherwise",
    Became.RETURNED: "to suppliers",
    Became.MISCOUNTED: "corrections by counts, signed as they changed the stock",
}
QUANTITIES: Shape = {heading.value: f"qty: {_TOLD[heading]}" for heading in Became}
MONEY: Shape = {heading.value: f"cents{': signed' if heading in ADDED else ''}" for heading in Became}
USAGE: Shape = {
    "since": "date: first day",
    "until": "date: last day",
    "currency": "text",
    "cents": MONEY,
    "items": [
        {
            "item=code": "text: code",
            "name": "text",
            "kind": "word",
            "unit=base": "word: cml, cg or piece",
            "before": "qty: stock before the first day",
            "after": "qty: stock after the last day",
            "qty": QUANTITIES,
            "cents": MONEY,
            "unpriced": "qty: moved without a known price, not in cents",
        }
    ],
    "kinds": [
        {
            "case_kind": "word: code",
            "name": "text",
            "visits=cost.number": "int: booked out",
            "mean=cost.mean": "cents: materials of a visit",
            "sd=cost.sd": "cents?: standard deviation between visits (null for one)",
            "lowest=cost.lowest": "cents",
            "highest=cost.highest": "cents",
            "total=cost.total": "cents",
            "unpriced": "int: visits that used something without a known price",
        }
    ],
    "beside_cents": "cents: used or lost without a visit",
}
CLASSES: Shape = {
    "today": "date",
    "since": "date: first day of the use looked at",
    "sums": [{"class=value": "word: A, B or C", "items": "int", "cents": "cents: use in a year"}],
    "items": [
        {
            "item=line.code": "text: code",
            "name=line.name": "text",
            "class=line.classed.value": "word: A, B or C, by the value of use",
            "criticality=line.classed.item.criticality": "word: vital, essential or normal",
            "category=line.classed.category": "word: I, II or III, of both together",
            "cents=line.classed.item.cents": "cents: use in a year",
            "share_ppm=line.classed.share_ppm": "int: of all value, in a million",
            "before_ppm=line.classed.before_ppm": "int: of all dearer items, in a million",
            "unpriced=line.unpriced": "qty: used without a known price",
            "weeks=line.classed.weeks": "int: counted every so many weeks",
            "own=line.classed.own": "bool: set for this item",
            "last_counted=line.last_counted": "date?",
            "due_on=line.due_on": "date?: last day for the next count (null: nothing on the shelf)",
            "due": "bool",
            "why": [WHY],
        }
    ],
}
SHAPES: dict[str, Part] = {"usage": USAGE, "classes": CLASSES}
PARTS: dict[str, Part] = {"amounts by what became of them": QUANTITIES, "money by what became of it": MONEY}
