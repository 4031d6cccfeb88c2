"""What the commands of orders print with ``--json``."""

from tui.commands.shape_parts import WHY
from tui.commands.shaping import Shape

PROPOSED_LINE: Shape = {
    "item=code": "text: code",
    "name": "text",
    "catalogue_no": "text: the supplier's number",
    "packs": "int: to order",
    "added": "int: packs among them that are not due yet",
    "units_per_pack=supply.units_per_pack": "int",
    "qty": "qty: in those packs",
    "unit=base": "word: cml, cg or piece",
    "cents": "cents: price of the packs",
}
PROPOSED: Shape = {
    "supplier": "text",
    "due_cents": "cents: price of what is due",
    "goods_cents=sum.goods_cents": "cents: with what was added",
    "fee_cents=sum.fee_cents": "cents: of the delivery",
    "minimum_cents=terms.minimum_cents": "cents: the supplier's minimum order",
    "free_from_cents=terms.free_from_cents": "cents?: goods from which delivery is free",
    "lead_days=lead.days": "int: days it takes, learned from the orders that came",
    "lead_spread_days=lead.spread_days": "int: give or take so many",
    "lead_orders=lead.orders": "int: orders it was learned from",
    "added_for": "text: what packs were added for; empty where none were",
    "lines=ordered": [PROPOSED_LINE],
    "warnings": ["text"],
    "why": [WHY],
}
PROPOSED_ORDERS: Shape = {"orders": [PROPOSED]}
ORDER: Shape = {
    "order=order.number": "text: its number",
    "supplier=order.supplier": "text",
    "state=order.state": "word: draft, sent, part, received or cancelled",
    "written_on=order.written_on": "date",
    "by=order.by": "text: initials",
    "sent_on=order.sent_on": "date?",
    "expected_on=order.expected_on": "date?",
    "overdue=order.overdue": "bool: later than the supplier's usual spread",
    "goods_cents=order.sum.goods_cents": "cents",
    "fee_cents=order.sum.fee_cents": "cents: of the delivery",
    "lines": [
        {
            "item=line.code": "text: code",
            "name=line.name": "text",
            "catalogue_no=line.catalogue_no": "text: the supplier's number",
            "packs=line.packs": "int: ordered",
            "cancelled_packs=line.cancelled_packs": "int: given up since",
            "units_per_pack=line.units_per_pack": "int",
            "pack_cents=line.pack_cents": "cents",
            "came_units=line.came_units": "int: units that came, sound",
            "open_units=line.open_units": "int: units still to come",
            "why": [WHY],
        }
    ],
}
ORDERS: Shape = {"orders": [ORDER]}
