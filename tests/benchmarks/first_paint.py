"""How long until the screens stand, beside a bare application of the same toolkit, in one interleaved run.

    python -m tests.benchmarks.first_paint --database demo.db --rounds 10

Each program is started on a pseudo-terminal of 80 by 24 and watched until a word appears: of the bare one (a footer
and a table of 200 rows) a row of its table; of ours the bar of modes in the first frame, and the first visit's state
once the practice is open and read. Times on a shared machine tell little, ratios of neighbouring starts a lot; medians
are shown. Never a test. Needs a pseudo-terminal, so not Windows.
"""

import argparse
import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Sequence
from statistics import median

BARE = """
from textual.app import App
from textual.widgets import DataTable, Footer


class Bare(App):
    BINDINGS = [("q", "quit", "Quit")]

    def compose(self):
        yield DataTable()
        yield Footer()

    def on_mount(self):
        table = self.query_one(DataTable)
        table.add_columns("Code", "Name", "Amount")
        table.add_rows((f"row {number}", "name", str(number)) for number in range(200))


Bare().run()
"""
FIRST_FRAME, STANDS = "Today", "to book out|ready|short of|Nothing"
CONTROL = re.compile(r"\x1b\[[0-?]*[ -/]*[@-~]|\x1b[@-Z\\-_]")
GIVE_UP = 60.0  # seconds


def until(command: Sequence[str], *words: str) -> list[float]:
    """Seconds from starting a program until each of some words (patterns) was painted.

    Raises:
        TimeoutError: a word did not appear.
    """
    screen, terminal = pty.openpty()
    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    started = time.perf_counter()
    environment = os.environ | {"TERM": "xterm-256color"}
    with subprocess.Popen(
        command, stdin=terminal, stdout=terminal, stderr=terminal, start_new_session=True, env=environment
    ) as program:
        os.close(terminal)
        try:
            return _watch(screen, started, list(words))
        finally:
            os.killpg(program.pid, signal.SIGKILL)
            os.close(screen)


def _watch(screen: int, started: float, words: list[str]) -> list[float]:
    painted, found = "", list[float]()
    while words:
        readable, _, _ = select.select([screen], [], [], GIVE_UP)
        if not readable:
            raise TimeoutError(f"{words[0]!r} did not appear: {painted[-500:]}")
        painted += CONTROL.sub("", os.read(screen, 65_536).decode(errors="replace"))
        while words and re.search(words[0], painted):
            found.append(time.perf_counter() - started)
            words.pop(0)
    return found


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the rounds and print medians and ratios."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--database", required=True, help="a practice with visits, e.g. one that `seed` made")
    parser.add_argument("--today", help="the day to work on, e.g. the day it was seeded for")
    parser.add_argument("--rounds", type=int, default=10)
    args = parser.parse_args(arguments)
    ours = [sys.executable, "-m", "tui", "--database", args.database, "--by", "AB"]
    ours += ["--today", args.today] if args.today else []
    until([sys.executable, "-c", BARE], "row 9"), until(ours, FIRST_FRAME)  # the first start fills the caches
    bare, first, stands = [], [], []
    for _ in range(args.rounds):
        bare += until([sys.executable, "-c", BARE], "row 9")
        frame, there = until(ours, FIRST_FRAME, STANDS)
        first.append(frame)
        stands.append(there)
    for name, times in (("bare application", bare), ("first frame", first), ("the day's list", stands)):
        ratio = median(ours / its for ours, its in zip(times, bare, strict=True))
        sys.stdout.write(f"{name:18}{1000 * median(times):6.0f} ms  {ratio:.2f} times\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
