"""The screens in a browser: on this machine alone unless told otherwise."""

import shlex
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from inventory import settings
from inventory.errors import BadInput
from tui.commands import base

if TYPE_CHECKING:
    from tui.serving.sessions import Program

PORT = 8000
HERE = "127.0.0.1"


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``serve``."""
    serve = commands.add_parser(
        "serve", parents=[common], help="the screens in a browser, each tab with its own program",
        description="Listens to this machine alone. A tab that is loaded again, or comes back within ten minutes, "
        "finds its screens as it left them. Nothing is encrypted: for other machines put a reverse proxy with https "
        f"in front and give --from-elsewhere and a token of {settings.TOKEN} or --token-file. Files that the screens "
        "read or write are files of the machine that serves.",
    )  # fmt: skip
    serve.add_argument(
        "--port", metavar="N", type=base.a_number, default=PORT, help=f"port; {PORT}, 0 takes a free one"
    )
    serve.add_argument("--listen", metavar="ADDRESS", default=HERE, help=f"IP address to listen to; {HERE}")
    serve.add_argument(
        "--from-elsewhere", action="store_true", help="let browsers of other machines in; needs an access token"
    )
    serve.add_argument("--token-file", metavar="PATH", help="file whose first line is the access token")
    serve.add_argument("--demo", action="store_true", help="the invented demo practice instead of your own")
    serve.set_defaults(run=_serve)


def _serve(context: base.Context) -> int:
    try:
        from tui.serving import guard, server  # noqa: PLC0415 - an extra part, and not needed for anything else
    except ModuleNotFoundError as error:
        raise BadInput(
            f"serve: {error.name} is not installed.", "Install the part for browsers: pip install -e '.[browser]'."
        ) from None

    args = context.args
    token = _token(args.token_file)
    if args.port > 65535:
        raise BadInput(f"--port: {args.port} is no port.", "Name one from 0 to 65535.")
    if not args.from_elsewhere and not guard.is_loopback(args.listen):
        raise BadInput(
            f"--listen: {args.listen} is not this machine alone.",
            "Add --from-elsewhere and an access token, or leave it.",
        )
    if args.from_elsewhere and len(token) < guard.LEAST_TOKEN:
        raise BadInput(
            f"--from-elsewhere needs an access token of {guard.LEAST_TOKEN} characters or more.",
            f"Put it into a file for --token-file, or into {settings.TOKEN}; never on the command line.",
        )
    app = server.application(_program(context), guard.Guard(token, elsewhere=args.from_elsewhere))
    server.serve(app, args.listen, args.port, lambda port: _ready(args.listen, port, asked=bool(token)))
    return base.OK


def _ready(host: str, port: int, *, asked: bool) -> None:
    name = f"[{host}]" if ":" in host else host
    base.say(
        f"The screens are on http://{name}:{port}/ until Ctrl+C{'; the access token is asked for' if asked else ''}."
    )
    sys.stdout.flush()


def _token(path: str | None) -> str:
    """The access token, from the file named or from the environment."""
    if path is None:
        return settings.access_token()
    try:
        with Path(path).open(encoding="utf-8") as file:
            token = file.readline(settings.LONGEST).strip()
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is no text"
        raise BadInput(f"--token-file: {path} can't be read: {reason}.", "Name a text file.") from None
    if not token:
        raise BadInput(f"--token-file: the first line of {path} is empty.", "Write the token there.")
    return token


def _program(context: base.Context) -> "Program":
    """What is run for each tab; the store's address and the token stay out of the list of processes."""
    from tui.serving.sessions import Program  # noqa: PLC0415

    today: date | None = getattr(context.args, "today", None)
    words = [sys.executable, "-m", "tui", *(("--today", today.isoformat()) if today else ())]
    if context.args.demo:
        from tui.commands import screens  # noqa: PLC0415

        screens.prepared_demo(context)  # once, and not by each tab
        words.append("demo")
    return Program(shlex.join(words), settings.for_a_browser(context.database), (settings.TOKEN,))
