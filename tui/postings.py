"""What other workstations post is seen here without a key: the present screen is read again."""

from typing import TYPE_CHECKING

from tui import workers
from tui.workplace import StockApplication

if TYPE_CHECKING:
    from inventory.service.watching import Watch

EVERY = 2.0  # seconds between looks


class Postings:
    """Looks for what others post, for the application's present screen where that follows it.

    Forms and dialogs don't: nothing changes under a person's hands, and what is posted is checked against the store
    anyway. Whatever comes to the front again is read anew by itself.
    """

    def __init__(self, app: StockApplication) -> None:
        self._app = app
        self._watch: Watch | None = None

    def look(self) -> None:
        screen = self._app.screen
        if getattr(screen, "follows", False):
            workers.run(
                screen,
                self._others_posted,
                lambda posted: self._app.read_again() if posted else None,
                name="postings",
                failed=lambda _unreachable: True,  # told to whoever wants to do something there
            )

    def _others_posted(self) -> bool:
        """Whether another workstation has posted; runs in a thread."""
        from inventory.service.watching import watch  # noqa: PLC0415 - loads the store, after the first frame

        if self._watch is None:
            self._watch = watch(self._app.work.practice)
            return False
        return self._watch.others_posted()
