"""Least rights on PostgreSQL, tried by logging in as each role: what it can do, and what none of them can."""

import secrets
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from importlib.resources import files
from itertools import count
from pathlib import Path

import psycopg
import pytest
from psycopg import sql
from sqlalchemy import make_url

from inventory.domain.vocabulary import LaboratoryAnswer, VisitState
from inventory.errors import NotAllowed
from inventory.service import (
    backup,
    catalogue,
    correcting,
    counting,
    holding,
    laboratory,
    moving,
    notice_work,
    notices,
    receiving,
    setting_up,
    visits,
    weekly_check,
)
from inventory.service.count_shelves import Scope
from inventory.service.delivery_lines import Arrival, Delivery
from inventory.service.laboratory import Packing
from inventory.service.lots import UseBy
from inventory.service.moving import Part, Slip
from inventory.service.notices import NoticeDraft, ScopeDraft
from inventory.service.practice import Practice
from inventory.service.verifying import verify
from inventory.store import copying, guards
from inventory.store.engine import Store, open_store
from tests.clinic import FAR, Clinic
from tests.postgres import Postgres
from tests.service.catalogue_samples import BAG, BY, SUPPLIER, new_clock
from tests.service.catalogue_samples import TODAY as DAY
from tests.stores import fill

SCRIPT = files("inventory.store").joinpath("roles.sql").read_text(encoding="utf-8")
ROLES = ("view", "work", "manage")
LINKS = {"item_fits", "need_item", "pack_content", "price_break", "stock_rule"}
NUMBERS = count(1)


@dataclass(frozen=True)
class Server:
    """A practice's database with its roles, and how to log in as one of them."""

    url: str
    password: str

    def login(self, role: str) -> str:
        url = make_url(self.url)
        return url.set(username=f"{url.database}-{role}er", password=self.password).render_as_string(
            hide_password=False
        )

    def plain(self, role: str = "") -> str:
        address = self.login(role) if role else self.url
        return make_url(address).set(drivername="postgresql").render_as_string(hide_password=False)

    def refuses(self, role: str, statement: sql.SQL | sql.Composed) -> bool:
        """Whether the server has no right for it; where it has, nothing is kept of it."""
        with psycopg.connect(self.plain(role)) as connection:
            try:
                connection.execute(statement)
            except psycopg.errors.InsufficientPrivilege:
                return True
            finally:
                connection.rollback()
        return False


@pytest.fixture(scope="module")
def server(postgres: Postgres, postgres_template: str, worker_id: str) -> Iterator[Server]:
    """Give a stocked practice whose owner has run the script, twice, with a login for each role."""
    name = f"{worker_id}-roles"
    made = Server(postgres.copy(postgres_template, name), secrets.token_hex(8))
    fill(made.url, stocked)
    with psycopg.connect(made.plain(), autocommit=True) as owner:
        database = owner.info.dbname
        for _ in range(2):
            owner.execute(SCRIPT.encode())
        roles = [sql.Identifier(f"{database}_{role}") for role in ROLES]
        logins = [sql.Identifier(f"{database}-{role}er") for role in ROLES]
        for role, login in zip(roles, logins, strict=True):
            create = sql.SQL("CREATE ROLE {} LOGIN PASSWORD {}").format(login, sql.Literal(made.password))
            owner.execute(create)
            owner.execute(sql.SQL("GRANT {} TO {}").format(role, login))
    yield made
    postgres.drop(name)
    for role in (*logins, *reversed(roles)):
        postgres.connection.execute(sql.SQL("DROP ROLE {}").format(role))


def stocked(store: Store) -> None:
    clinic = Clinic.stocked(store)
    catalogue.add_supplier(clinic.practice, SUPPLIER, by=BY)


@pytest.fixture
def as_role(server: Server) -> Iterator[Callable[[str], Clinic]]:
    """Log in as a role and work."""
    stores = []

    def logged_in(role: str) -> Clinic:
        stores.append(open_store(server.login(role)))
        return Clinic(Practice(stores[-1], new_clock(DAY)), count(1000 * next(NUMBERS)))

    yield logged_in
    for store in stores:
        store.close()


@pytest.mark.parametrize("role", ROLES)
def test_what_was_written_into_the_ledger_nobody_may_change_or_delete(server: Server, role: str) -> None:
    for table in copying.tables():
        if table.name not in guards.APPEND_ONLY:
            continue
        name = sql.Identifier(table.name)
        statements = [sql.SQL("DELETE FROM {} WHERE false").format(name), sql.SQL("TRUNCATE {} CASCADE").format(name)]
        columns = map(sql.Identifier, table.columns.keys())
        statements += [sql.SQL("UPDATE {} SET {} = {} WHERE false").format(name, one, one) for one in columns]
        assert all(server.refuses(role, statement) for statement in statements), table.name


@pytest.mark.parametrize("role", ROLES)
def test_each_role_may_do_to_each_table_what_its_work_asks_for(server: Server, role: str) -> None:
    for table in copying.tables():
        name = sql.Identifier(table.name)
        insert = sql.SQL("INSERT INTO {} SELECT * FROM {} WHERE false").format(name, name)
        delete = sql.SQL("DELETE FROM {} WHERE false").format(name)
        assert not server.refuses(role, sql.SQL("SELECT * FROM {}").format(name))
        assert server.refuses(role, insert) is (role not in may_insert(table.name)), table.name
        assert server.refuses(role, delete) is not (role == "manage" and table.name in LINKS), table.name


def may_insert(table: str) -> set[str]:
    managed = {
        "case_kind", "estimate", "item", "item_fits", "need", "need_item", "pack_content", "person", "place",
        "price_break", "setting", "size_prior", "step", "stock_rule", "supplier", "supply", "tray_size",
    }  # fmt: skip
    return {"manage"} if table in managed else {"manage", "work"}


@pytest.mark.parametrize("role", ROLES)
def test_no_role_gets_around_the_guards_or_changes_the_tables(server: Server, role: str) -> None:
    for statement in (
        "ALTER TABLE movement DISABLE TRIGGER ALL",
        "DROP TRIGGER guard_movement_update ON movement",
        "SET session_replication_role = replica",
        "DROP TABLE movement CASCADE",
        "CREATE TABLE mine (id int)",
        "CREATE ROLE another",
        "UPDATE alembic_version SET version_num = '0001'",
    ):
        assert server.refuses(role, sql.SQL(statement)), statement


def test_nobody_without_a_role_gets_in(server: Server, postgres: Postgres) -> None:
    stranger = sql.Identifier(f"{make_url(server.url).database}-stranger")
    postgres.connection.execute(sql.SQL("CREATE ROLE {} LOGIN PASSWORD 'x'").format(stranger))
    try:
        url = make_url(server.plain()).set(username=stranger.as_string(None).strip('"'), password="x")  # noqa: S106 - a test's
        with pytest.raises(psycopg.OperationalError, match="permission denied for database"):
            psycopg.connect(url.render_as_string(hide_password=False))
    finally:
        postgres.connection.execute(sql.SQL("DROP ROLE {}").format(stranger))


def test_who_views_reads_checks_and_backs_up_and_changes_nothing(
    as_role: Callable[[str], Clinic], tmp_path: Path
) -> None:
    clinic = as_role("view")
    weekly_check.weekly_check(clinic.practice)
    assert verify(clinic.practice).clean
    assert backup.back_up(clinic.practice, tmp_path).verified.clean
    for deed in (
        lambda: clinic.plan("C-9"),
        lambda: holding.hold(clinic.practice, lot_id=1, reason="r", by=BY),
        lambda: moving.discard(clinic.practice, [Part(1)], Slip(clinic.key(), BY, reason="r")),
    ):
        with pytest.raises(NotAllowed, match="may not do this"):
            deed()


def test_who_works_does_a_days_work_and_leaves_the_catalogue_alone(as_role: Callable[[str], Clinic]) -> None:
    clinic = as_role("work")
    practice = clinic.practice
    visit = clinic.plan("C-1")
    booked = clinic.book(visit)
    assert visits.one(practice, visit.visit_id).state is VisitState.DONE
    correcting.undo(practice, max(booked.documents), reason="wrong visit", by=BY, request_key=clinic.key())
    came = (Arrival(item="LIGHT-A", units=2, lot="NEW-1", use_by=UseBy.on(FAR)),)
    delivery = Delivery(supplier=SUPPLIER.name, lines=came, place="store room")
    received = receiving.receive(practice, delivery, by=BY, request_key=clinic.key())
    lot = received.lines[0].lot_id or 0
    receiving.amend_lot(practice, lot, reason="misread", by=BY, number="NEW-2")
    holding.hold(practice, lot_id=lot, reason="look at it", by=BY)
    holding.release(practice, lot_id=lot, reason="fine", by=BY)
    with pytest.raises(NotAllowed, match="may not do this"):
        setting_up.change_settings(practice, {"warn_days": 30}, by=BY)
    with pytest.raises(NotAllowed, match="may not do this"):
        catalogue.add_item(practice, replace(BAG, code="BAG-2"), by=BY)
    assert verify(practice).clean


def test_who_works_counts_deals_with_recalls_and_sends_parcels(as_role: Callable[[str], Clinic]) -> None:
    clinic = as_role("work")
    practice = clinic.practice
    lot = clinic.lot("HEAVY-A", "ROLES-1", 3, use_by=FAR)
    counted = counting.start(practice, Scope(places=("operatory 1",)), by=BY)
    line = next(one for one in counting.sheet(practice, counted.round_id).lines if one.lot_number == "ROLES-1")
    counting.record(practice, counted.round_id, line.key, "2", by=BY)
    counting.record(practice, counted.round_id, line.key, "3", by=BY)
    counting.drop(practice, counted.round_id, reason="only tried", by=BY)
    notices.enter(practice, NoticeDraft("FSN-1", DAY, (ScopeDraft(lot_from="ROLES-1"),)), by=BY)
    assert lot in {one.lot_id for one in notice_work.worklist(practice, "FSN-1").lots}
    visit = clinic.plan("C-2").visit_id
    clinic.book(visits.one(practice, visit))
    laboratory.pack(practice, Packing(visit, ("impressions",)), by=BY, confirmed=True)
    laboratory.send(practice, visit, "courier", by=BY, confirmed=True)
    laboratory.answer(practice, visit, LaboratoryAnswer.RECEIVED, by=BY)
    assert verify(practice).findings == ()


def test_who_manages_keeps_the_catalogue_and_the_settings(as_role: Callable[[str], Clinic]) -> None:
    practice = as_role("manage").practice
    assert catalogue.add_item(practice, replace(BAG, code="BAG-3"), by=BY)
    catalogue.set_fits(practice, "TIP-1", ("LIGHT-A",), by=BY)
    setting_up.change_settings(practice, {"warn_days": 30}, by=BY)
    setting_up.add_person(practice, setting_up.PersonDraft("EF"), by=BY)
