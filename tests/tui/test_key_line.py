"""The keys of a screen in its last line: shown in order, usable by mouse, dimmed where they do nothing now."""

from textual.app import App, ComposeResult
from textual.widgets import Static

from tests.tui.seeing import lines
from tui.frame import Frame
from tui.widgets.key_line import KeyLine


class Keyed(Frame):
    """Two keys of which one may be out of use."""

    BINDINGS = [("r", "receive", "Receive"), ("u", "undo", "Undo")]  # noqa: RUF012 - as the toolkit declares it

    def __init__(self) -> None:
        super().__init__()
        self.done: list[str] = []

    def compose(self) -> ComposeResult:
        yield Static("[r]")
        yield KeyLine()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        del parameters
        return None if action == "undo" else True

    def action_receive(self) -> None:
        self.done.append("receive")

    def action_undo(self) -> None:
        self.done.append("undo")


def last_line(app: App[None]) -> str:
    return lines(app)[-1].rstrip()


async def test_a_click_on_a_key_does_what_the_key_does_unless_it_is_dimmed() -> None:
    app = Keyed()
    async with app.run_test(size=(40, 6)) as pilot:
        await pilot.pause()
        assert last_line(app) == " r Receive  u Undo"
        await pilot.hover(KeyLine, offset=(4, 0))
        await pilot.click(KeyLine, offset=(4, 0))
        await pilot.click(KeyLine, offset=(14, 0))
        await pilot.click(KeyLine, offset=(30, 0))
        await pilot.pause()
        assert app.done == ["receive"]
