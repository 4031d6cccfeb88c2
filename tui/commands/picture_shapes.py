"""What ``--json`` prints of what pictures show; written as in `shapes`."""

from tui.commands.shaping import Part, Shape

SHELF: Shape = {
    "today": "date",
    "lots": [
        {
            "item_id": "int",
            "item": "text: code",
            "name": "text",
            "unit=base": "word: cml, cg or piece",
            "unit_qty": "qty: content of a sealed unit",
            "lot_id": "int",
            "lot": "text: lot number",
            "qty": "qty: at places from which it is used",
            "last_day": "date?: last on which anything of it may be used",
            "used_up": "date?: mean use has taken all of it",
            "lost": "qty: expected to be left on its last day",
            "cents": "cents: what it cost",
            "lost_cents": "cents: of it for what will be left",
            "end": "word: how it ends",
        }
    ],
}
WEEKLY_USE: Shape = {
    "today": "date",
    "item": "text: code",
    "name": "text",
    "unit=base": "word: cml, cg or piece",
    "unit_qty": "qty: content of a sealed unit",
    "mean": "qty: used in a full week",
    "weeks": [{"begins": "date: a Monday; the last week is under way", "used": "qty", "lost": "qty: or discarded"}],
}
FITTED: Shape = {
    "today": "date",
    "since": "date",
    "runs": [
        {
            "line": "text: tray line",
            "arch": "word: maxillary or mandibular",
            "sizes": [
                {
                    "size": "text",
                    "fitted": "int: trays",
                    "expected_ppm": "int: share in a million of the next ones",
                    "available": "int: trays",
                    "away": "int: trays that come back",
                }
            ],
        }
    ],
}

SHAPES: dict[str, Part] = {"shelf": SHELF, "weekly-use": WEEKLY_USE, "fitted": FITTED}
