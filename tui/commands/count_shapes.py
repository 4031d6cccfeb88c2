"""What the commands of counting print with ``--json``; what the book expects is null in a blind round's sheet."""

from tui.commands.shaping import Part, Shape

ROUND: Shape = {
    "round=card.round_id": "int: its number",
    "scope": "text: what is counted",
    "blind=card.blind": "bool",
    "state=card.state": "word: open, approved, dropped or undone",
    "by=card.by": "text: initials",
    "started_at=card.started_at": "instant",
    "approved_at=card.approved_at": "instant?",
    "read=card.counted": "int: lines read so far",
    "document=card.document_id": "int?: the entry that posted its differences",
}
LINE: Shape = {
    "line=key": "text: names it in this round",
    "stock=holding_id": "int?: stock number; null for what was found",
    "item=item_code": "text: code",
    "name=item_name": "text",
    "lot=lot_number": "text",
    "lot_id": "int",
    "use_by": "date?",
    "use_by_read": "word: day, month (its last day), none_stated or not_read",
    "place": "text",
    "opened_on": "date?: null for a sealed stack",
    "unit_qty": "qty: content of one unit",
    "unit=base": "word: cml, cg or piece",
    "read_as": "word?: units, tenths or weight",
    "number": "int?: units, tenths or milligrams as read",
    "counted_qty": "qty?",
    "counted_at": "instant?",
    "counted_by": "text?: initials",
    "expected_qty": "qty?: what the book expected",
}
REVIEW_LINE: Shape = {
    "line=line.key": "text",
    "item=line.item_code": "text: code",
    "lot=line.lot_number": "text",
    "place=line.place": "text",
    "unit=line.base": "word: cml, cg or piece",
    "counted_qty=line.counted_qty": "qty",
    "expected_qty": "qty: at the moment of the reading",
    "difference": "qty: what will be posted",
    "cents": "cents?: the same in money",
    "counted_again": "bool: put right by itself since",
    "problem": "text: why it can't be approved; empty where it can",
}
ROUNDS: Shape = {"rounds": [ROUND]}
SHEET: Shape = {"round": ROUND, "lines": [LINE]}
REVIEW: Shape = {
    "round": ROUND,
    "lines": [REVIEW_LINE],
    "unread": ["text: line"],
    "plus_cents": "cents: found",
    "minus_cents": "cents: missing, negative",
}
SHAPES: dict[str, Part] = {
    "count-round": ROUNDS,
    "count-round sheet": SHEET,
    "count-round review": REVIEW,
}
PARTS: dict[str, Part] = {"round of counting": ROUND}
