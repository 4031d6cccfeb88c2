"""A practice of an earlier version opens in this one with all it had."""

from contextlib import closing
from unittest.mock import patch

import pytest
from sqlalchemy import text

from inventory.errors import NotAllowed
from inventory.store import guards, schema
from inventory.store.engine import Store, open_store

LATER = ("purchase", "purchase_line", "count_line", "notice_case", "notice_scope", "shipment")
ROWS = {
    "person": "id, initials, role, active: 1, 'AB', 'manager', true",
    "supplier": "id, name, lead_days, order_weekdays, minimum_cents, fee_cents, takes_short_dated, active: "
    "1, 'S', 3, '', 0, 0, false, true",
    "item": "id, code, name, kind, base, unit_qty, unit_name, way_of_use, reusable, may_split_load, has_lots, "
    "criticality, active: 1, 'BAG', 'Bag', 'accessory', 'piece', 1, 'bag', 'count', false, false, true, 'normal', true",
    "lot": "id, item_id, number, number_is_ours, use_by_read, unit_qty, first_received_on, note: "
    "1, 1, 'L1', false, 'not_read', 1, '2026-03-02', ''",
    "document": "id, kind, request_key, part, request_hash, person_id, recorded_at, happened_at, happened_on: "
    "1, 'receipt', 'k', 0, 'h', 1, '2026-03-02 09:00:00', '2026-03-02 09:00:00', '2026-03-02'",
    "delivery": "id, supplier_id, received_on, slip_no: 1, 1, '2026-03-02', 'S-1'",
    "delivery_line": "id, delivery_id, lot_id, units, pack_cents, units_per_pack, damaged_units, document_id: "
    "1, 1, 1, 5, 100, 2, 1, 1",
}


def run(store: Store, statement: str) -> None:
    with store.writing() as session:
        session.execute(text(statement))


@pytest.fixture
def first_version(empty_store_url: str) -> str:
    """A store of the first version, with a delivery."""
    append_only = tuple(table for table in guards.APPEND_ONLY if table not in LATER)
    older = tuple(table for table in guards.NEVER_DELETED if table not in LATER)
    frozen = {table: columns for table, columns in guards.FROZEN.items() if table not in LATER}
    with (
        patch.object(schema, "HEAD", "0001"),
        patch.object(guards, "APPEND_ONLY", append_only),
        patch.object(guards, "NEVER_DELETED", older),
        patch.object(guards, "FROZEN", frozen),
        closing(open_store(empty_store_url)) as store,
    ):
        for table, row in ROWS.items():
            columns, values = row.split(": ")
            run(store, f"INSERT INTO {table} ({columns}) VALUES ({values})")  # noqa: S608
    return empty_store_url


def test_deliveries_of_the_first_version_are_kept_and_guarded(first_version: str) -> None:
    with closing(open_store(first_version)) as store:
        with store.reading() as session:
            line = session.execute(text("SELECT units, pack_cents, damaged_units, settles_units FROM delivery_line"))
            assert tuple(line.one()) == (5, 100, 1, 0)
            assert session.execute(text("SELECT slip_no, purchase_id FROM delivery")).one() == ("S-1", None)
        with pytest.raises(NotAllowed):
            run(store, "DELETE FROM delivery_line")
        run(store, "UPDATE delivery_line SET units = 0")  # damaged as a whole
        with pytest.raises(NotAllowed):
            run(store, "UPDATE delivery_line SET damaged_units = 0")
