"""What ``--json`` prints: the shape of each reading command, and the parts that several have in common.

Words for simple values, with what they mean behind a colon: text, word (of a closed set), int, qty (a whole number in
the unit that stands beside it), cents, bool, date (ISO 8601), instant (ISO 8601 with offset), any. A ``?`` behind the
word: null where it does not apply.
"""

from tui.commands import (
    ahead_shapes,
    calendar_shapes,
    count_shapes,
    estimate_shapes,
    group_shapes,
    keeping_shapes,
    laboratory_shapes,
    notice_shapes,
    order_shapes,
    place_shapes,
    trace_shapes,
    use_shapes,
)
from tui.commands.scan_shapes import PACKAGES, SCANS
from tui.commands.shape_parts import TERM, WHY
from tui.commands.shaping import Part, Shape, document

WEEK_LINE: Shape = {
    "number": "int: its place in the list, for --why",
    "kind": "word: notice_open, recalled, expired, opened_too_long, visit_not_ready, not_sent, visit_not_booked, "
    "order_overdue, runs_short, will_expire, date_not_read, rest_of_no_use, on_hold, count_due",
    "subject=line.subject": "text: item, case reference, or order",
    "where=line.where": "text: lot and place, the visit's day, or the supplier",
    "what=line.what": "text: what is the matter",
    "todo=line.todo": "text: what to do",
    "due=line.due": "date?: the day that matters",
    "item_id=line.item_id": "int?",
    "lot_id=line.lot_id": "int?",
    "stock=line.holding_id": "int?: stock number, as commands take it",
    "visit=line.visit_id": "int?",
    "order=line.order": "text: the order's number; empty where it is about none",
    "notice=line.notice": "text: the recall notice's reference; empty where it is about none",
    "qty=line.qty": "qty: concerned",
    "unit=line.base": "word: cml (0.01 mL), cg (0.01 g) or piece",
    "cents=line.cents": "cents: money concerned",
    "why": [WHY],
}
WEEK: Shape = {"today": "date", "lines": [WEEK_LINE], "orders": [order_shapes.PROPOSED]}

VISIT_CARD: Shape = {
    "visit=visit_id": "int: its number",
    "case_ref": "text: case reference, never a name",
    "on": "date",
    "case_kind": "word: the kind's code",
    "case_kind_name": "text",
    "upper": "bool",
    "lower": "bool",
    "upper_size": "text?: tray size, where known",
    "lower_size": "text?",
    "place": "text?",
    "state": "word: planned, done or cancelled",
    "remake_of": "int?: the earlier visit",
    "remake_asked_by": "word?: chair or laboratory",
    "note": "text",
    "booked_by": "text?: initials",
    "booked_at": "instant?",
}
VISITS: Shape = {"visits": [VISIT_CARD]}

FORM_LINE: Shape = {
    "step": "word: code of the step",
    "arch": "word?: maxillary or mandibular",
    "attempt": "int: 1, or 2, 3 ... for retakes",
    "kind": "word: impression, bite, tray, tip or accessory",
    "item_id": "int?: null where no article or size is known",
    "item": "text",
    "qty": "qty: expected, tip volume and purge included",
    "purge_qty": "qty: the part that stays in the tip or is purged",
    "missing": "qty: what can't be served",
    "unit=base": "word: cml, cg or piece",
    "stock=holding_id": "int?: stock number",
    "lot=lot_number": "text",
    "use_by": "date?",
    "use_by_read": "word: day, month, none_stated or not_read",
    "last_day": "date?: last day of use, opened life included",
    "place": "text",
    "opens": "bool: a sealed unit is opened for it",
    "substitute": "bool: stands in for the first choice",
}
EXPECTED: Shape = {"place": "text", "lines": [FORM_LINE], "warnings": ["text"]}
USED_LOT: Shape = {
    "item": "text",
    "lot=lot_number": "text",
    "use_by": "date?",
    "use_by_read": "word: day, month, none_stated or not_read",
    "qty": "qty",
    "unit=base": "word: cml, cg or piece",
    "arch": "word?: maxillary or mandibular",
    "step": "word?",
    "attempt": "int",
    "lot_confirmed": "bool: read or scanned, else assumed",
    "late_reason": "word?: expired, held or recalled, where it was used all the same",
}
VISIT: Shape = {
    "visit": VISIT_CARD,
    "expected": EXPECTED,
    "used": [USED_LOT],
    "trays": [
        {"arch": "word", "item": "text", "outcome": "word: fitted, laid_out_unused, tried_reprocess, tried_thrown"}
    ],
    "entries": [
        {"document=document_id": "int", "at": "instant", "by": "text: initials", "what": "text", "reason": "text"}
    ],
}
LAY_OUT: Shape = {
    "visits": [{"visit": VISIT_CARD, "place": "text", "lines": [FORM_LINE], "warnings": ["text"]}],
}

FORM: Shape = {
    "visit=filling.form.visit": VISIT_CARD,
    "place=filling.form.place": "text",
    "lines=filling.lines": [
        {
            "step=form.step": "word",
            "arch=form.arch": "word?: maxillary or mandibular",
            "attempt=form.attempt": "int",
            "item=article.name": "text?: null where no article or size is known",
            "expected_qty=form.qty": "qty",
            "qty": "qty: used, tip volume and purge included",
            "purge_qty": "qty",
            "left": "qty?: what its unit holds after all lines",
            "unit=base": "word: cml, cg or piece",
            "stock=lot.holding_id": "int?: stock number",
            "lot=lot_number": "text",
            "lot_confirmed=confirmed": "bool",
            "opens=fresh": "int: which freshly opened unit of the lot; 0: none",
            "dropped": "bool: was not done",
        }
    ],
    "questions": ["text: to be answered before it can be booked"],
    "doubts": ["text: unusual but possible"],
}
BOOKED: Shape = {
    "visit": VISIT_CARD,
    "documents": ["int: number in the history"],
    "used=lots": [USED_LOT],
    "warnings": ["text"],
    "again": "bool: it had been posted before, nothing more was posted",
}

RECEIVED_LINE: Shape = {
    "item_id": "int",
    "item": "text: code",
    "name": "text",
    "lot_id": "int?: null for a new lot that is not received yet",
    "lot": "text: empty where a house number will be drawn",
    "number_is_ours": "bool: a house number",
    "use_by": "date?",
    "use_by_read": "word: day, month, none_stated or not_read",
    "units": "int: sealed units or pieces put in stock",
    "damaged_units": "int: came damaged, not received",
}
RECEIVED: Shape = {
    "delivery=delivery_id": "int",
    "document=document_id": "int: number in the history",
    "supplier": "text",
    "received_on": "date",
    "slip_no": "text?",
    "order": "text?: number of the order it came for",
    "lines": [RECEIVED_LINE],
    "warnings": ["text"],
    "again": "bool: it had been posted before, nothing more was posted",
}
PREVIEW: Shape = {"lines": [RECEIVED_LINE], "warnings": ["text"], "asks": ["text: will need --yes"]}
DELIVERIES: Shape = {
    "deliveries": [
        {
            "delivery=delivery_id": "int",
            "supplier": "text",
            "received_on": "date",
            "slip_no": "text?",
            "by": "text: initials",
            "undone": "bool",
        }
    ]
}

MOVEMENT: Shape = {
    "kind=line.kind": "word: receipt, opening, use, purge, waste, discard, count, transfer or return",
    "qty=line.qty": "qty: signed",
    "unit=line.base": "word: cml, cg or piece",
    "item=line.item_code": "text: code",
    "item_name=line.item_name": "text",
    "lot_id=line.lot_id": "int",
    "lot=line.lot_number": "text",
    "stock=line.holding_id": "int: stock number",
    "place=line.place": "text",
    "opened_on=line.opened_on": "date?",
    "arch=line.arch": "word?: maxillary or mandibular",
    "step=line.step": "word?",
    "attempt=line.attempt": "int?",
    "lot_confirmed=line.lot_confirmed": "bool",
    "late_reason=line.late_reason": "word?: expired, held or recalled",
    "words": "text: the same in words",
}
HISTORY: Shape = {
    "documents": [
        {
            "document=document.document_id": "int",
            "kind=document.kind": "word: receipt, opening, use, count, discard, transfer, return or reversal",
            "by=document.by": "text: initials",
            "recorded_at=document.recorded_at": "instant",
            "happened_on=document.happened_on": "date: practice-local",
            "reason=document.reason": "text?",
            "proof=document.proof": "text?",
            "undoes=document.reverses_id": "int?: the document it undoes",
            "undone_by=document.reversed_by_id": "int?: the document that undid it",
            "visit=document.visit_id": "int?",
            "case_ref=document.case_ref": "text?",
            "delivery=document.delivery_id": "int?",
            "words": "text: the same in words",
            "movements=lines": [MOVEMENT],
        }
    ],
    "story": ["text: with --lot, the same as sentences, with what was changed of the lot"],
}
SETTINGS: Shape = {
    "workstation": {
        "database": "text: without a password",
        "by": "text: initials",
        "theme": "text",
        "from_environment": ["word: set there, whatever the file says"],
    },
    "settings": [{"key": "word", "value": "any: as the setting is kept"}],
    "people=state.people": [{"initials": "text", "role": "word: assistant, dentist or manager", "active": "bool"}],
    "places=state.places": [
        {"name": "text", "role": "word: store, chair, set_aside, reprocessing or laboratory", "active": "bool"}
    ],
    "tray_lines=state.tray_lines": [{"name": "text", "upper": ["text: size"], "lower": ["text: size"]}],
    "case_kinds": [{"code": "word", "name": "text", "upper_sizes": ["text"], "lower_sizes": ["text"]}],
    "items=state.items": "int: items in the catalogue",
    "lots=state.lots": "int: lots in the book",
}
VERIFIED: Shape = {
    "clean": "bool",
    "checks": ["word"],
    "documents": "int",
    "movements": "int",
    "holdings": "int",
    "findings": [
        {
            "check": "word",
            "subject": "word: file, guard, holding, lot, document, movement, request, visit or order",
            "subject_id": "any: its number or name",
            "message": "text",
        }
    ],
}

ITEMS: Shape = {
    "today": "date",
    "value_cents": "cents",
    "items=lines": [
        {
            "item_id": "int",
            "code": "text",
            "name": "text",
            "kind": "word: impression, bite, tray, tip or accessory",
            "unit=base": "word: cml, cg or piece; of every amount below",
            "unit_qty": "qty: content of one sealed unit",
            "unit_name": "text",
            "active": "bool",
            "usable": "qty",
            "sealed_units": "int: of what is usable",
            "opened_qty": "qty: of what is usable, in opened units",
            "blocked": "qty: on hold or recalled",
            "expired": "qty",
            "elsewhere": "qty: where nothing is used from",
            "total": "qty: usable + blocked + expired + elsewhere",
            "soon": "qty: of what is usable, what expires soon",
            "next_last_day": "date?: earliest last day of use of what is usable",
            "lots": "int",
            "not_read": "int: lots whose date nobody has read yet",
            "value_cents": "cents: of everything whose price is known",
            "unvalued": "qty: without any known price",
        }
    ],
}
PROPOSAL: Shape = {
    "item=proposal.code": "text: code",
    "packs=proposal.packs": "int: to order now",
    "qty=proposal.qty": "qty: in those packs",
    "cents=proposal.cents": "cents: their price",
    "counted=proposal.counted": "qty: usable stock and stock on order that counts",
    "reorder_point=proposal.reorder_point": "qty",
    "order_up_to=proposal.order_up_to": "qty",
    "until=proposal.until": "date?: what is ordered has to last until the next possible delivery after it",
    "warnings=proposal.warnings": ["text"],
    "why": [WHY],
}
OPENED_UNIT: Shape = {
    "stock=holding_id": "int: stock number",
    "opened_on": "date",
    "qty": "qty: left in it",
    "last_day": "date?: last day of use",
    "state": "word: recalled, on hold, expired, expires soon, date not read, in date, maker states no date",
}
LOTS: Shape = {
    "today": "date",
    "lots=lines": [
        {
            "lot_id": "int",
            "lot=lot_number": "text",
            "number_is_ours": "bool: a house number",
            "item_id": "int",
            "item=item_code": "text: code",
            "item_name": "text",
            "unit=base": "word: cml, cg or piece; of every amount here",
            "unit_qty": "qty: content of one sealed unit",
            "unit_name": "text",
            "place": "text",
            "place_role": "word: store, chair, set_aside, reprocessing or laboratory",
            "stock=sealed_id": "int?: stock number of the sealed units",
            "sealed_units": "int",
            "opened": [OPENED_UNIT],
            "qty": "qty: sealed and opened together",
            "use_by": "date?",
            "use_by_read": "word: day, month, none_stated or not_read",
            "last_day": "date?: earliest last day of use of what is there",
            "state": "word: the gravest of its parts",
            "usable": "bool: something of it may be used today from this place",
            "why_held": ["text"],
            "first_received_on": "date",
            "value_cents": "cents?: null where no price is known",
        }
    ],
}
TRAYS: Shape = {
    "today": "date",
    "until": "date: last day of the booked visits looked at",
    "booked": "int: visits until then",
    "lines=grids": [
        {
            "line": "text: tray line",
            "booked": "int: visits that take a tray of this line",
            "all_fitted_percent": "int: chance that all of them can be fitted from stock",
            "arches=rows": [
                {
                    "arch": "word: maxillary or mandibular",
                    "sizes=cells": [
                        {
                            "size": "text",
                            "item_ids": ["int"],
                            "available": "int: trays that may be used now",
                            "away": "int: in reprocessing or at the laboratory",
                            "expected_tenths": "int: tenths of a tray that the booked visits will likely take",
                            "target": "int: smallest stock with which nearly all of them can be fitted",
                            "word": "word: how the size stands",
                            "reason": "text",
                        }
                    ],
                }
            ],
        }
    ],
    "materials": [
        {
            "item_id": "int",
            "name": "text",
            "viscosity": "int?: type 0 to 3",
            "setting_speed": "word?: fast or regular",
            "qty": "qty: usable",
            "unit=base": "word: cml or cg",
            "needed_today": "qty: today's visits with one retake of every step",
            "enough_today": "bool",
            "last_day": "date?: earliest last day of use of what is usable",
        }
    ],
    "possible": [
        {
            "case_kind": "word: code",
            "name": "text",
            "count": "int: visits of this kind that the stock carries, both arches",
            "capped": "bool: there may be more",
            "lacks": ["text: what the next one would miss"],
        }
    ],
    "not_ready": [
        {"visit=visit_id": "int", "case_ref": "text", "on": "date", "missing": ["text"]},
    ],
}
IMPORTED: Shape = {
    "kind": "word",
    "dry_run": "bool: nothing was kept",
    "rows": "int",
    "added": "int",
    "updated": "int",
    "rejected": [
        {"row": "int: the header is row 1", "faults": [{"row": "int", "column": "text", "message": "text"}]},
    ],
    "columns": [{"theirs": "text: a column's foreign name", "ours": "word: which of ours it is, - for none"}],
    "warnings": ["text"],
}

SHAPES: dict[str, Part] = {
    "week": WEEK,
    "week --why N": WEEK_LINE,
    "items": ITEMS,
    "items --why CODE": PROPOSAL,
    "lots": LOTS,
    "trays": TRAYS,
    "visits": VISITS,
    "visits show": VISIT,
    "lay-out": LAY_OUT,
    "book-out --show": FORM,
    "book-out": BOOKED,
    "orders": order_shapes.ORDERS,
    "orders --proposed": order_shapes.PROPOSED_ORDERS,
    "receive --preview": PREVIEW,
    "receive": RECEIVED,
    "deliveries": DELIVERIES,
    "scan": SCANS,
    "packages": PACKAGES,
    "import": IMPORTED,
    "history": HISTORY,
    **trace_shapes.SHAPES,
    "settings": SETTINGS,
    "verify": VERIFIED,
    **ahead_shapes.SHAPES,
    **estimate_shapes.SHAPES,
    **use_shapes.SHAPES,
    **calendar_shapes.SHAPES,
    **laboratory_shapes.SHAPES,
    **notice_shapes.SHAPES,
    **place_shapes.SHAPES,
    **count_shapes.SHAPES,
    **keeping_shapes.SHAPES,
    **group_shapes.SHAPES,
}

PARTS: dict[str, Part] = {
    "term": TERM,
    "derivation": WHY,
    "line of the week": WEEK_LINE,
    "proposed order": order_shapes.PROPOSED,
    "visit": VISIT_CARD,
    "line of a form": FORM_LINE,
    "lot used": USED_LOT,
    "line received": RECEIVED_LINE,
    **trace_shapes.PARTS,
    **notice_shapes.PARTS,
    **ahead_shapes.PARTS,
    **count_shapes.PARTS,
    **estimate_shapes.PARTS,
    **use_shapes.PARTS,
    **laboratory_shapes.PARTS,
    **place_shapes.PARTS,
}

if __name__ == "__main__":
    print(document(SHAPES, PARTS))
