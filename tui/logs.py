"""Where the screens write down failures: the program's log, which dialogs name."""

import logging

from inventory import settings


def to_file() -> None:
    """Let what the screens log end in the program's log; where that can't be, dialogs say that there is none."""
    path = settings.log_file()
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError:
        return
    log = logging.FileHandler(path, encoding="utf-8", delay=True)
    log.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    logging.getLogger("tui").addHandler(log)
