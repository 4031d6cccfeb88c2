"""Fresh stores for tests, on SQLite and on PostgreSQL, because what the store promises has to hold on both.

A test that asks for one of these fixtures runs twice, as ``[sqlite]`` and as ``[postgresql]``, on stores of its own:

- ``store``: an open store with its tables, closed after the test;
- ``store_url``: the address of such a store, for tests that open it themselves, in several processes or by command;
- ``new_stores``: as many as a test needs: ``new_stores.make()`` gives the address of one more, ``new_stores.drop(url)``
  ends it before the test does;
- ``empty_store_url``: the address of a database without any table, for tests of the migrations.

Tables are made once, by the first test that needs them; each store is a copy of that one, or, on PostgreSQL, one that
an ended test gave back (`tests.restored`). A practice that many tests
start from is made once too: ``new_stores.make_from("name", build)`` copies what ``build`` made of a fresh store.
"""

import shutil
from collections.abc import Callable, Iterator
from contextlib import closing
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import pytest

from tests.postgres import Postgres
from tests.restored import Pool, Restorable

if TYPE_CHECKING:
    from inventory.store.engine import Store

TEMPLATE = "template"
_TESTS = count(1)


class NewStores(Protocol):
    """Makes stores for one test."""

    def make(self) -> str:
        """Return the address of a fresh store that has its tables."""

    def make_from(self, name: str, build: Callable[["Store"], object]) -> str:
        """Return the address of a copy of the store that ``build`` made, once in a run, under this name."""

    def make_empty(self) -> str:
        """Return the address of a database without any table."""

    def drop(self, url: str) -> None:
        """End a store before the test ends."""


class SqliteFiles:
    """Stores as files in the test's own folder, which goes with them."""

    def __init__(self, folder: Path, template: Path) -> None:
        self._folder, self._template, self._numbers = folder, template, count(1)

    def make(self) -> str:
        return f"sqlite:///{shutil.copy(self._template, self._new_path())}"

    def make_from(self, name: str, build: Callable[["Store"], object]) -> str:
        path = self._template.with_name(f"{name}.db")
        if not path.exists():
            started = Path(shutil.copy(self._template, path.with_suffix(".started")))
            fill(f"sqlite:///{started}", build)
            started.rename(path)
        return f"sqlite:///{shutil.copy(path, self._new_path())}"

    def make_empty(self) -> str:
        return f"sqlite:///{self._new_path()}"

    def drop(self, url: str) -> None:
        path = Path(url.removeprefix("sqlite:///"))
        for file in self._folder.glob(f"{path.name}*"):  # the log and the index beside it too
            file.unlink()

    def _new_path(self) -> Path:
        return self._folder / f"practice-{next(self._numbers)}.db"


class PostgresDatabases:
    """Stores as databases of the run's server, given back when the test ends."""

    def __init__(self, server: Postgres, template: str, pool: Pool, prefix: str) -> None:
        self._server, self._template, self._pool, self._prefix = server, template, pool, prefix
        self._numbers = count(1)
        self._made: dict[str, str] = {}
        self._taken: dict[str, tuple[str, Restorable]] = {}

    def make(self) -> str:
        return self._take(self._template)

    def make_from(self, name: str, build: Callable[["Store"], object]) -> str:
        with self._server.alone():
            if name not in self._server.databases():
                url = self._server.copy(self._template, f"{name}-started")
                fill(url, build)
                self._server.copy(f"{name}-started", name)
        return self._take(name)

    def make_empty(self) -> str:
        name = f"{self._prefix}-{next(self._numbers)}"
        url = self._server.create(name)
        self._made[url] = name
        return url

    def drop(self, url: str) -> None:
        if url in self._taken:
            self._pool.give_back(*self._taken.pop(url))
        else:
            self._server.drop(self._made.pop(url))

    def drop_all(self) -> None:
        for url in [*self._made, *self._taken]:
            self.drop(url)

    def _take(self, template: str) -> str:
        database = self._pool.take(template)
        self._taken[database.url] = (template, database)
        return database.url


def make_tables(url: str) -> None:
    from inventory.store.engine import open_store  # noqa: PLC0415 - tests of pure rules need not wait for it

    open_store(url).close()


def fill(url: str, build: Callable[["Store"], object]) -> None:
    """Let ``build`` work in the store, and leave the store with nothing waiting outside its file."""
    from inventory.store.engine import open_store  # noqa: PLC0415 - tests of pure rules need not wait for it

    with closing(open_store(url)) as opened:
        build(opened)


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("template") / "practice.db"
    make_tables(f"sqlite:///{path}")
    return path


@pytest.fixture(scope="session")
def postgres_template(postgres: Postgres) -> str:
    with postgres.alone():
        if TEMPLATE not in postgres.databases():
            make_tables(postgres.create(TEMPLATE))
    return TEMPLATE


@pytest.fixture(scope="session")
def postgres_pool(postgres: Postgres, worker_id: str) -> Iterator[Pool]:
    pool = Pool(postgres, worker_id)
    yield pool
    pool.close()


@pytest.fixture(params=["sqlite", "postgresql"])
def new_stores(request: pytest.FixtureRequest, tmp_path: Path, worker_id: str) -> Iterator[NewStores]:
    if request.param == "sqlite":
        yield SqliteFiles(tmp_path, request.getfixturevalue("sqlite_template"))
        return
    template = request.getfixturevalue("postgres_template")
    server, pool = request.getfixturevalue("postgres"), request.getfixturevalue("postgres_pool")
    databases = PostgresDatabases(server, template, pool, f"{worker_id}-{next(_TESTS)}")
    yield databases
    databases.drop_all()


@pytest.fixture
def store_url(new_stores: NewStores) -> str:
    return new_stores.make()


@pytest.fixture
def empty_store_url(new_stores: NewStores) -> str:
    return new_stores.make_empty()


@pytest.fixture
def store(store_url: str) -> Iterator["Store"]:
    from inventory.store.engine import open_store  # noqa: PLC0415 - tests of pure rules need not wait for it

    with closing(open_store(store_url)) as opened:
        yield opened
