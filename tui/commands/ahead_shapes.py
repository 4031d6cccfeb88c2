"""What ``--json`` prints of what is ahead; written as in `shapes`."""

from tui.commands.shape_parts import WHY
from tui.commands.shaping import Part, Shape

READY: Shape = {
    "visits": [
        {
            "visit=visit.visit_id": "int: its number",
            "case_ref=visit.case_ref": "text",
            "on=visit.on": "date",
            "case_kind_name=visit.case_kind_name": "text",
            "place=visit.place": "text?",
            "answer=visit.answer": "word: ready, ready if, short of",
            "waits_for=visit.waits_for": [
                {
                    "order": "text: number of the order, or back: trays on their way back",
                    "item_id": "int",
                    "qty": "qty: in the item's base unit",
                    "arrives": "date",
                }
            ],
            "lacks=visit.lacks": [
                {
                    "item_id": "int?: null where no article is known",
                    "name": "text",
                    "qty": "qty",
                    "unit=base": "word: cml, cg or piece",
                    "supplier": "text: empty where none is set",
                    "order_by": "date?: last day of ordering for it to be there",
                    "too_late": "bool: that day is past",
                }
            ],
            "chances=visit.chances": [
                {"arch": "word: maxillary or mandibular", "percent": "int: chance that a fitting tray is there"}
            ],
            "words=visit.said": ["text: the same in words"],
            "why": [WHY],
        }
    ]
}
NEXT_TRAY: Shape = {
    "arch": "word: maxillary or mandibular",
    "size": "text",
    "item=item_code": "text: code; empty where no article has the size",
    "available": "int: before it is bought",
    "chance_ppm": "int: in a million, that all visits can be fitted with one more",
}
BUY_TRAYS: Shape = {
    "today": "date",
    "target_percent": "int",
    "lines": [
        {
            "line": "text: tray line",
            "visits": "int: looked at",
            "booked": "int: of them in the calendar",
            "reusable": "bool: its trays come back",
            "chance_ppm": "int: in a million, that all can be fitted",
            "sizes": [NEXT_TRAY],
            "to_target": [NEXT_TRAY],
        }
    ],
    "idle_since": "date",
    "idle_cents": "cents: in sizes not used since",
    "idle": [
        {
            "line": "text",
            "arch": "word",
            "size": "text",
            "trays": "int",
            "cents": "cents: what they cost",
            "last_fitted": "date?: null: never",
        }
    ],
    "rates": [
        {
            "name": "word: try-in or retake",
            "arch": "word",
            "prior_ppm": "int: believed before, in a million",
            "weight": "int: of so many trays",
            "seen": "int",
            "chances": "int: trays they were seen among",
            "rate_ppm": "int: learned, in a million",
        }
    ],
}

SHAPES: dict[str, Part] = {"ready": READY, "buy-trays": BUY_TRAYS}
PARTS: dict[str, Part] = {"tray to buy": NEXT_TRAY}
