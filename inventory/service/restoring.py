"""Put a backup or an export back to work, in an empty place, after it has passed the same check as `verify`.

It is made ready beside its place first, and brought up to date where it is of an earlier version. So nothing is in the
place before everything is known to be right, and where a file stands there already it is kept under another name.
"""

import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from inventory.errors import NeedsConfirmation, NotFound, WrongStore
from inventory.service import exporting, verifying, whole_book
from inventory.service.backup import STAMP
from inventory.service.clock import Clock
from inventory.service.verifying import Verified
from inventory.store import copying, files
from inventory.store.address import parse_address
from inventory.store.engine import open_store


@dataclass(frozen=True, slots=True)
class Restored:
    """A practice in its new place; ``kept`` is where the store is now that stood in the way."""

    rows: int
    verified: Verified
    kept: Path | None = None


def restore(source: Path, address: str, *, confirmed: bool = False, clock: Clock | None = None) -> Restored:
    """Put a backup or an export into an empty place.

    Args:
        source: a backup, or an export: a folder, ``.zip`` or ``.json``.
        address: path or URL of the store to be made.
        confirmed: a file that stands there already may be kept beside it under another name.
        clock: tells when, for that name.

    Raises:
        NotFound: there is no such file.
        NeedsConfirmation: a file stands there already.
        NotAllowed: the database holds a practice already; another database keeps it safe.
        WrongStore, NewerStore: what is to be restored is damaged, or no practice; nothing was changed.
        StoreUnreachable: it can't be read, the place can't be written, or somebody works there.
    """
    url = parse_address(address)
    if not source.exists():
        raise NotFound(f"There is no {source}.", "Check the name of the backup or export.")
    if url.get_backend_name() == "sqlite":
        return _into_file(source, Path(url.database or ""), clock or Clock(), confirmed=confirmed)
    with _scratch() as folder:
        _make_ready(source, folder / "ready.db")
        with closing(open_store(str(folder / "ready.db"))) as ready, closing(open_store(address)) as target:
            copied = whole_book.copy(ready, target)
            return Restored(copied.rows, copied.verified)


def _into_file(source: Path, place: Path, clock: Clock, *, confirmed: bool) -> Restored:
    occupied = files.stands_at(place)
    if occupied and not confirmed:
        raise NeedsConfirmation(f"Something stands at {place} already.", "It would be kept beside under another name.")
    with files.in_the_making(place) as part:
        rows, verified = _make_ready(source, part)
        kept = None
        if occupied:
            aside = f"{place.stem}-set-aside-{clock.now_utc().strftime(STAMP)}{place.suffix}"
            kept = files.set_aside(place, place.with_name(aside))
        files.finish(part, place)
    return Restored(rows, verified, kept)


def _make_ready(source: Path, part: Path) -> tuple[int, Verified]:
    """Make the store that is to be put in its place; returns its rows and what its check looked at."""
    if exporting.is_export(source):
        exporting.take_in(source, part)
    else:
        files.copy_file(source, part)
    with closing(open_store(str(part), create=False)) as store, store.reading() as session:
        verified = verifying.verified(session)
        if not verified.clean:
            raise WrongStore(
                f"{source} has faults ({verified.findings[0].message}); it was not restored.",
                "Restore an earlier backup.",
            )
        return whole_book.rows(copying.contents(session)), verified


@contextmanager
def _scratch() -> Iterator[Path]:
    """A folder for this program alone, which goes afterwards."""
    with tempfile.TemporaryDirectory(prefix="impression-stock-") as folder:
        yield Path(folder)
