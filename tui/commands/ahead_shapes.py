"""What ``--json`` prints of what is ahead; written as in `shapes`."""

from tui.commands import asking_shapes, picture_shapes
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

FIGURES: Shape = {
    "runs_out": "date?: null: not within what was looked at",
    "arrives": "date?: an order placed today would be there; null: no supplier",
    "gap_days": "int: days without stock even if ordered today",
    "packs": "int: to order now",
    "cents": "cents: their price",
    "to_expire": "qty: expected to expire of what is there, on order and to be ordered",
    "to_expire_cents": "cents",
    "unit_cents": "cents?: price of a unit",
    "fresh_percent": "int?: one pack, of what is used in a fresh delivery's life",
}
CHANGE: Shape = {
    "item=code": "text: code",
    "name": "text",
    "unit=base": "word: cml, cg or piece",
    "before": FIGURES,
    "after": FIGURES,
}
WHAT_IF: Shape = {
    "today": "date",
    "until": "date: last day of the visits looked at",
    "asked": ["text: what was changed"],
    "fails_first": CHANGE,
    "nearest": CHANGE,
    "changes": [CHANGE],
    "short_before": "int: booked visits short of something",
    "short_after": "int",
    "more": "int: visits added",
    "more_short": "int: of them short",
    "visits": [
        {
            "visit=visit_id": "int",
            "case_ref": "text",
            "on": "date",
            "before": "word: ready, ready if, short of",
            "after": "word",
            "said": ["text: how it stands then"],
        }
    ],
}
FORECAST: Shape = {
    "today=ahead.today": "date",
    "item=ahead.item": "text: code",
    "name=ahead.name": "text",
    "unit=ahead.base": "word: cml, cg or piece; of every amount here",
    "until=ahead.until": "date: use is looked at until then",
    "booked=ahead.booked": "qty: expected use by booked visits",
    "sources=ahead.sources": [
        {
            "name": "text: kind of visit",
            "weekly_thousandths": "int: thousandths of a visit a week",
            "expected": "qty: by further visits of the kind",
            "belief": "text: where the rate comes from",
        }
    ],
    "expected=ahead.expected": "qty",
    "enough=ahead.enough": [{"chance_ppm": "int: in a million", "qty": "qty: suffices with this chance"}],
    "usable=ahead.usable": "qty",
    "arriving=ahead.arriving": "qty: on order",
    "expired=ahead.expired": "qty",
    "held=ahead.held": "qty: on hold",
    "runs_out=ahead.runs_out": ["date?: in 10, 50 and 90 of 100 courses; null: not foreseen"],
    "lost=ahead.lost": "qty: expected to expire",
    "lost_cents=ahead.lost_cents": "cents",
    "lots=ahead.lots": [
        {
            "label": "text: lot, day of opening; or order",
            "place": "text",
            "last_day": "date?: last day of use",
            "qty": "qty",
            "used_up_ppm": "int: chance in a million that nothing of it expires",
            "used_up": "date?: mean use has taken all of it",
            "lost": "qty: expected to expire",
            "lost_cents": "cents",
        }
    ],
    "unit_qty=ahead.unit_qty": "qty: content of a sealed unit",
    "reorder_point=ahead.reorder_point": "qty: at or under this it is ordered",
    "arrivals=ahead.arrivals": [{"on": "date: expected", "qty": "qty"}],
    "course=ahead.course": [
        {
            "day": "date",
            "low": "qty: usable at its beginning, in 10 of 100 courses no more than this",
            "median": "qty: in 50 of 100",
            "high": "qty: in 90 of 100",
        }
    ],
    "why": WHY,
}
SHORT_DATED: Shape = {
    "item=offer.item": "text: code",
    "name=offer.name": "text",
    "packs=offer.packs": "int",
    "units=offer.units": "int",
    "qty=offer.qty": "qty: content in the item's base unit",
    "use_by=offer.use_by": "date",
    "arrives=offer.arrives": "date: it would come",
    "usual_days=offer.usual_days": "int?: life that deliveries usually have",
    "supplier=offer.supplier": "text",
    "full_cents=offer.full_cents": "cents: full price",
    "worth_cents=offer.worth_cents": "cents: worth taking at this or below",
    "discount_ppm=offer.discount_ppm": "int: in a million of the full price",
    "why": WHY,
}

SHAPES: dict[str, Part] = {
    "ready": READY,
    "buy-trays": BUY_TRAYS,
    "forecast": FORECAST,
    "what-if": WHAT_IF,
    "short-dated": SHORT_DATED,
    **picture_shapes.SHAPES,
    **asking_shapes.SHAPES,
}
PARTS: dict[str, Part] = {
    "tray to buy": NEXT_TRAY,
    "item before or after": FIGURES,
    "item that changes": CHANGE,
    **asking_shapes.PARTS,
}
