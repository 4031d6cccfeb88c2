"""Notice that another program has posted into the same store, so that screens can read again.

PostgreSQL tells whoever listens, with the name of the store object that posted. SQLite has a counter that every writing
unit of work raises; what this program raised it by is taken off.
"""

from sqlalchemy import Connection, text

from inventory.store.engine import Store, in_words

_LISTEN = text("LISTEN practice_posted")
_STILL_THERE = text("SELECT 1")


class Watch:
    """Watches one store; asked by one thread at a time."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._listening: Connection | None = None
        self._others = 0 if store.dialect == "postgresql" else self._counted()
        if store.dialect == "postgresql":
            self._listen()

    def others_posted(self) -> bool:
        """Whether another program has posted since this was asked last, or since the watch began.

        Raises:
            StoreUnreachable: the store can't be asked now; asked again, it is tried again.
        """
        if self._store.dialect == "postgresql":
            return self._told()
        before, self._others = self._others, self._counted()
        return self._others > before

    def close(self) -> None:
        if self._listening is not None:
            self._listening.close()
            self._listening = None

    def _counted(self) -> int:
        """How often others have posted, from any beginning."""
        while True:
            ours = self._store.posted
            count = self._store.revision()
            if self._store.posted == ours:
                return count - ours

    def _listen(self) -> None:
        with in_words():
            self._listening = self._store.outside_transactions()
            self._listening.execute(_LISTEN)

    def _told(self) -> bool:
        if self._listening is None:  # it was lost: what was posted meanwhile nobody told
            self._listen()
            return True
        driver = self._listening.connection.driver_connection
        assert driver is not None  # noqa: S101 - it is connected
        try:
            with in_words():
                self._listening.execute(_STILL_THERE)  # reading what was told alone does not meet a lost connection
                told = [note.payload for note in driver.notifies(timeout=0)]
        except Exception:
            self._listening.invalidate()
            self.close()
            raise
        return any(name != self._store.own_name for name in told)
