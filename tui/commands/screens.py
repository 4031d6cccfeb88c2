"""The screens by command, on the user's own practice or on the invented demo practice; and the demo without screens."""

import sys
from datetime import date
from typing import TYPE_CHECKING

from inventory.errors import BadInput
from tui.commands import base
from tui.demo import PREPARING, todays_demo

if TYPE_CHECKING:
    from inventory.service.practice import Practice
    from inventory.service.seeding import Seeded, Tell


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``demo`` and ``seed``."""
    demo = commands.add_parser(
        "demo", parents=[common], help="open the screens on an invented demo practice",
        description="Two years of invented history end today. The demo practice is kept in your data folder for the "
        "day, so what you try in it stays until tomorrow; with --database it is written into that empty store.",
    )  # fmt: skip
    demo.add_argument("--fresh", action="store_true", help="begin anew, without what was tried today")
    demo.set_defaults(run=_demo)
    seed = commands.add_parser(
        "seed", parents=[common], help="write the demo practice into an empty store, without screens",
        description="Needs --database (or its environment variable): never your own practice's usual place.",
    )  # fmt: skip
    seed.set_defaults(run=_seed)


def own_practice(context: base.Context) -> int:
    """Without a command: the screens on the user's own practice, which is made where there is none yet."""
    from tui import app  # noqa: PLC0415 - the screens are loaded for nothing else

    return app.run(lambda: context.open(create=True), by=context.by, theme=context.settings.theme)


def _demo(context: base.Context) -> int:
    named: str | None = getattr(context.args, "database", None)
    if named is not None:  # an empty store of the person's own choice
        _fill(context.open(create=True), context.today)
        context.close()
    address = named or prepared_demo(context, fresh=context.args.fresh)
    from tui import app  # noqa: PLC0415 - the screens are loaded for nothing else

    by = getattr(context.args, "by", None) or ""  # not those of the settings: they are of the user's own practice
    return app.run(lambda: context.open(address=address), by=by, theme=context.settings.theme, demo=True)


def prepared_demo(context: base.Context, *, fresh: bool = False) -> str:
    """Where today's demo practice is, made where it is missing."""
    return str(todays_demo(_today(context), _teller, fresh=fresh))


def _today(context: base.Context) -> date:
    from zoneinfo import ZoneInfo  # noqa: PLC0415

    from inventory.service.clock import Clock  # noqa: PLC0415

    return Clock(day=getattr(context.args, "today", None)).today(ZoneInfo("UTC"))


def _fill(practice: "Practice", today: date) -> "Seeded":
    from inventory.service import seeding  # noqa: PLC0415

    return seeding.seed_demo(practice.store, today, _teller(PREPARING))


def _seed(context: base.Context) -> int:
    if not (hasattr(context.args, "database") or context.settings.database):
        raise BadInput("seed: no store is named.", "Name an empty one with --database.")
    seeded = _fill(context.open(create=True), context.today)
    base.say(
        f"Seeded up to {seeded.today.isoformat()}: {base.number_of(seeded.visits, 'visit')}, "
        f"{base.number_of(seeded.deliveries, 'delivery', 'deliveries')}."
    )
    return base.OK


def _teller(what: str) -> "Tell":
    """Progress on standard error: a running figure on a terminal, elsewhere one line."""
    if not sys.stderr.isatty():
        base.complain(f"{what} ...")
        return lambda _done, _total: None

    def tell(done: int, total: int) -> None:
        end = "\n" if done >= total else ""
        print(f"\r{what} ... {100 * done // max(total, 1):3d} %", end=end, file=sys.stderr, flush=True)

    return tell
