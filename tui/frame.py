"""What every application of this project has, before it has any screen: themes, style sheets, safe scans."""

from tui.kept_styles import KeptStyles
from tui.theme import DARK, STYLES, dress
from tui.widgets.scan_routing import ScanRouting


class Frame(ScanRouting):
    """An application in the project's looks. Subclasses add screens, modes and commands."""

    TITLE = "Impression stock"
    CSS_PATH = [*STYLES]
    ENABLE_COMMAND_PALETTE = True
    NOTIFICATION_TIMEOUT = 4.0  # seconds

    def __init__(self, theme: str = DARK) -> None:
        super().__init__()
        self.stylesheet = KeptStyles(variables=self.get_css_variables())
        dress(self, theme)
