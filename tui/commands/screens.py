"""The screens by command: on the user's own practice, or on the invented demo practice."""

from tui.commands import base


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``demo``."""


def own_practice(context: base.Context) -> int:
    """Without a command: the screens on the user's own practice, which is made where there is none yet."""
    from tui import app  # noqa: PLC0415 - the screens are loaded for nothing else

    return app.run(lambda: context.open(create=True), by=context.by, theme=context.settings.theme)
