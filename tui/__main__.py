"""The program: ``impression-stock`` or ``python -m tui``; plain commands, or the screens (imported only for them)."""

import os
import sys
import unicodedata
from collections.abc import Sequence

from inventory import settings
from inventory.errors import BadInput, PracticeError
from tui.commands import base, registry


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status; never a traceback."""
    for stream in (sys.stdout, sys.stderr):  # a terminal that can't show a sign shows a stand-in
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        return _run(list(sys.argv[1:] if arguments is None else arguments))
    except SystemExit as stop:  # the argument parser's way to end
        return stop.code if isinstance(stop.code, int) else base.OK
    except PracticeError as error:
        base.complain_of(error)
        if error.exit_status == base.FAILED:
            base.complain(f"Details: {_write_down(error)}")
        return error.exit_status
    except KeyboardInterrupt:
        base.complain("Stopped. What was confirmed is kept.")
        return base.BAD
    except BrokenPipeError:  # e.g. `week | head`: the reader has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return base.OK
    except Exception as error:  # noqa: BLE001 - the outermost layer: a person gets a line, the log gets the rest
        base.complain(f"The program failed: {type(error).__name__}. Details: {_write_down(error)}")
        return base.FAILED


def _run(arguments: list[str]) -> int:
    if any("\ud800" <= sign <= "\udfff" or sign == "\0" for text in arguments for sign in text):
        raise BadInput("An argument holds bytes that are no text.", "Type it by hand.")
    words = registry.in_full(list(map(_composed, arguments)))
    args = registry.parser(words).parse_args(words)
    run: base.Run = args.run
    with base.Context(args, settings.load()) as context:
        status = run(context)
    sys.stdout.flush()
    return status


def _composed(text: str) -> str:
    """Text as the book keeps it (NFC), so that what is looked up is found; the name of a file stays as it is."""
    return text if text.isascii() or os.path.lexists(text) else unicodedata.normalize("NFC", text)


def _write_down(error: BaseException) -> str:
    """Append the details to the log and return its path; settle for saying so where that fails too."""
    import traceback  # noqa: PLC0415 - only after a failure

    from inventory.service.clock import Clock  # noqa: PLC0415

    path = settings.log_file()
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        path.touch(mode=0o600)
        with path.open("a", encoding="utf-8", errors="backslashreplace") as log:
            log.write(f"{Clock().now_utc().isoformat()} {''.join(traceback.format_exception(error))}\n")
    except OSError:
        return f"the log {path} can't be written either"
    return str(path)


if __name__ == "__main__":
    sys.exit(main())
