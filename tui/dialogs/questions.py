"""The questions that people ask, each with the place and keys that answer it."""

from textual.content import Content

from tui import questions
from tui.dialogs.reading import ReadingDialog
from tui.text import MUTED, plain


class QuestionsDialog(ReadingDialog):
    """All questions by who asks them; scrolled with the arrow keys."""

    def __init__(self) -> None:
        parts = [self._part(user, asked) for user, asked in questions.told()]
        super().__init__("Questions, and where each is answered", parts)

    @staticmethod
    def _part(user: str, asked: tuple[questions.Question, ...]) -> Content:
        head = Content.styled(f"Asked by {user}", "bold $primary")
        lines = (
            Content("\n").join([plain(one.words), plain(f"  {one.screen}   · {one.command}", MUTED)]) for one in asked
        )
        return Content("\n").join([head, *lines])
