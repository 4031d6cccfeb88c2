"""What tracing prints with ``--json``: a lot's uses, a case's lots, or both."""

from tui.commands.shaping import Part, Shape

CASE_USE: Shape = {
    "visit=visit_id": "int?: null where it was not a visit's",
    "case_ref": "text?",
    "document=document_id": "int",
    "on": "date",
    "by": "text: initials",
    "places": ["text"],
    "item_id": "int",
    "item=item_name": "text",
    "lot_id": "int",
    "lot=lot_number": "text",
    "use_by": "date?",
    "use_by_read": "word: day, month, none_stated or not_read",
    "qty": "qty",
    "unit=base": "word: cml, cg or piece",
    "steps": ["word"],
    "retaken": "bool",
    "lot_confirmed": "bool: read or scanned, else assumed",
    "late_reason": "word?: expired, held or recalled, where it was used all the same",
    "held": "bool: on hold now",
    "recalled": "bool: recalled now",
}
TRACE_LOT: Shape = {
    "lot_id": "int",
    "lot=lot_number": "text",
    "item_id": "int",
    "item=item_name": "text",
    "unit=base": "word: cml, cg or piece; of every amount below",
    "unit_qty": "qty: content of one sealed unit",
    "use_by": "date?",
    "use_by_read": "word: day, month, none_stated or not_read",
    "held": "bool",
    "recalled": "bool",
    "received": "qty",
    "counted": "qty: sum of count corrections, signed",
    "used": "qty",
    "purged": "qty",
    "wasted": "qty",
    "discarded": "qty",
    "returned": "qty",
    "on_hand": "qty: received + counted - used - purged - wasted - discarded - returned",
    "left": [{"stock=holding_id": "int", "place": "text", "opened_on": "date?", "on_hand": "qty"}],
    "uses": [CASE_USE],
}
TRACE_CASE: Shape = {"case_ref": "text", "uses": [CASE_USE]}
TRACE_ANY: Shape = {"named": "text", "lots": [TRACE_LOT], "case_ref": "text?: no such case", "uses": [CASE_USE]}
SHAPES: dict[str, Part] = {"trace lot": TRACE_LOT, "trace case": TRACE_CASE, "trace any": TRACE_ANY}
PARTS: dict[str, Part] = {"use of a lot": CASE_USE, "trace of a lot": TRACE_LOT}
