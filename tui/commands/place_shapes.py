"""What the commands of places, of expired stock and of the log of changes print with ``--json``."""

from tui.commands.shaping import Part, Shape

CARRIED: Shape = {
    "stock=holding_id": "int: stock number it is taken from",
    "lot=lot_number": "text",
    "from=from_place": "text",
    "use_by": "date?",
    "units": "int",
}
LEVEL: Shape = {
    "item_id": "int",
    "item=code": "text: code",
    "name": "text",
    "level": "int: sealed units that the place is topped up to",
    "there": "int: usable sealed units that stand there",
    "carried": [CARRIED],
    "lacks": "int: units that the store room has not got",
}
PLACE: Shape = {
    "place=name": "text",
    "role": "word: store, chair, set_aside, reprocessing or laboratory",
    "active": "bool",
    "items": "int",
    "lots": "int",
    "blocked": "int: lots on hold, recalled or past their date",
    "levels": "int: items with a level of their own there",
    "below": "int: of these, with less there than that",
    "value_cents": "cents",
}
LOT_THERE: Shape = {
    "lot_id": "int",
    "lot=lot_number": "text",
    "item=item_code": "text: code",
    "name=item_name": "text",
    "unit=base": "word: cml, cg or piece",
    "stock=sealed_id": "int?: stock number of the sealed units",
    "sealed_units": "int",
    "qty": "qty: sealed and opened together",
    "last_day": "date?: earliest last day of use of what is there",
    "state": "word: the gravest of its parts",
}
EXPIRED_LINE: Shape = {
    "stock=holding_id": "int: stock number",
    "lot_id": "int",
    "lot=lot_number": "text",
    "item=item_code": "text: code",
    "name=item_name": "text",
    "unit=base": "word: cml, cg or piece",
    "qty": "qty",
    "opened_on": "date?",
    "last_day": "date: last day of use",
    "opened_too_long": "bool: in date, but open for longer than it keeps",
    "blocked": "word?: held or recalled besides",
}
CHANGES: Shape = {
    "changes": [
        {
            "change=change_id": "int",
            "at": "instant",
            "by": "text: initials; empty for the program itself",
            "subject": "word: item, supply, lot, visit ...",
            "name": "text: as people call it",
            "field": "word",
            "old": "text?",
            "new": "text?",
            "reason": "text",
            "words": "text: the same in words",
        }
    ]
}

SHAPES: dict[str, Part] = {
    "places": {
        "places": [PLACE],
        "lots": [LOT_THERE],  # of the place that is named
        "levels": [LEVEL],
    },
    "top-up": {
        "place": "text",
        "document=document_id": "int?: null where nothing was carried",
        "again": "bool: posted before",
        "levels": [LEVEL],
    },
    "expired": {
        "today": "date",
        "aside": "text?: where it is set aside",
        "stops": [{"place": "text", "lines": [EXPIRED_LINE]}],
    },
    "history --changes": CHANGES,
}
PARTS: dict[str, Part] = {"level": LEVEL}
