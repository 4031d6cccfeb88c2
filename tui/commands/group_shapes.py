"""What ``group show`` prints with ``--json``."""

from tui.commands.shaping import Part, Shape

UNIT = "word: cml, cg or piece"
AT: Shape = {
    "practice": "text",
    "item": "text: code there",
    "usable": "qty",
    "arriving": "qty: on order",
}
ITEM: Shape = {
    "name": "text",
    "unit=base": UNIT,
    "unit_qty": "qty: content of one sealed unit",
    "usable": "qty: over all practices",
    "lost_cents": "cents: expected to expire",
    "at": [AT],
}
EXPIRING: Shape = {
    "practice": "text",
    "item": "text: code",
    "name": "text",
    "unit=base": UNIT,
    "stock=holding_id": "int: stock number there",
    "lot": "text",
    "place": "text",
    "last_day": "date: last day of use",
    "qty": "qty",
    "lost": "qty: expected to expire",
    "lost_cents": "cents",
}
ORDER: Shape = {
    "practice": "text",
    "order=number": "text",
    "supplier": "text",
    "state": "word: sent or part",
    "expected_on": "date?",
}
TRANSFER: Shape = {
    "reference": "text: for both halves",
    "sender": "text",
    "receiver": "text",
    "item": "text: code at the sender",
    "taken_as": "text: code at the receiver",
    "name": "text",
    "stock=holding_id": "int: stock number at the sender",
    "lot": "text",
    "use_by": "date",
    "units": "int: sealed units",
    "saved_cents": "cents: less expected to expire at the sender",
    "added_cents": "cents: more expected to expire at the receiver",
    "gain_cents": "cents: the difference",
}
OPEN_HALF: Shape = {
    "reference": "text",
    "practice": "text: that posted its half",
    "sent": "bool: else taken",
    "on": "date",
    "words": "text",
    "items": ["text"],
}
GROUP: Shape = {
    "practices": ["text"],
    "items": [ITEM],
    "expiring": [EXPIRING],
    "orders": [ORDER],
    "transfers": [TRANSFER],
    "gain_cents": "cents: of all transfers",
    "open_halves": [OPEN_HALF],
}
SHAPES: dict[str, Part] = {"group show": GROUP}
