"""What the commands of recall notices print with ``--json``."""

from tui.commands.shaping import Part, Shape

HEAD: Shape = {
    "notice=reference": "text: its reference",
    "on": "date",
    "notice_class": "word: I, II, III or none, as the authority gives it",
    "text": "text",
    "answer_by": "date?",
    "answered_on": "date?",
    "answer_proof": "text?",
    "closed": "bool",
}
NOTICES: Shape = {
    "notices": [
        {
            "notice=head": HEAD,
            "lots": "int: on hold for it",
            "cases": "int: that used one of them",
            "counts=outstanding.counts": "text: what is left of each",
            "left=outstanding.left": ["text: what to do, most urgent first"],
        }
    ]
}
NOTICE: Shape = {
    "notice=head": HEAD,
    "left": ["text: what to do before it can be closed, most urgent first"],
    "cautions": ["text: what a person has to look at"],
    "lines": [
        {"line=line_id": "int", "words": "text", "caution": "text: empty where nothing is", "withdrawn_on": "date?"}
    ],
    "lots": [
        {
            "lot_id": "int",
            "lot=number": "text",
            "item=item_code": "text: code",
            "name=item_name": "text",
            "unit=base": "word: cml, cg or piece; of every amount below",
            "use_by": "date?",
            "use_by_read": "word: day, month, none_stated or not_read",
            "named=match": "int: 2 surely, 1 perhaps, 0 put on hold by hand",
            "released": "text?: why it is not concerned; null while it is on hold",
            "stock=heaps": [
                {
                    "stock=holding_id": "int: stock number",
                    "place": "text",
                    "opened_on": "date?",
                    "qty=on_hand": "qty",
                    "set_aside=aside": "bool",
                }
            ],
            "places": [
                {
                    "place": "text",
                    "was": "qty: when it was put on hold",
                    "there": "qty",
                    "set_aside": "qty: carried to where stock is set aside; negative: came there",
                    "missing": "qty",
                    "returned": "qty",
                    "destroyed": "qty",
                }
            ],
        }
    ],
    "cases": [
        {
            "case_ref": "text",
            "lot_confirmed": "bool: every lot was read or scanned",
            "status": "word: open, told, not_reached or not_needed",
            "note": "text",
            "told_at": "instant?",
            "told_by": "text?: initials",
            "uses": [
                {
                    "on": "date",
                    "by": "text: initials",
                    "lot=lot_number": "text",
                    "name=item_name": "text",
                    "qty": "qty",
                    "unit=base": "word: cml, cg or piece",
                    "lot_confirmed": "bool",
                    "document=document_id": "int",
                }
            ],
        }
    ],
    "entries=proofs": [
        {
            "document=document_id": "int",
            "kind": "word: transfer, count, return or discard",
            "on": "date",
            "by": "text: initials",
            "words": "text",
            "reason": "text",
            "proof": "text",
        }
    ],
}
SHAPES: dict[str, Part] = {"notice": NOTICES, "notice show": NOTICE}
PARTS: dict[str, Part] = {"recall notice": HEAD}
