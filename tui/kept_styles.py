"""Style sheets parsed once: the toolkit parses all of them anew whenever a screen is shown for the first time.

That takes longer than everything else that happens between the key and the new screen, and gives the same rules
each time, unless the theme and with it the variables changed.
"""

from typing import Any

from textual.css.model import RuleSet
from textual.css.stylesheet import Stylesheet

_parsed: dict[tuple[Any, ...], list[RuleSet]] = {}


class KeptStyles(Stylesheet):
    """A style sheet that parses each source once for each set of variables."""

    def _parse_rules(self, *source: Any, **named: Any) -> list[RuleSet]:
        # a private step of the toolkit: should it ever be gone, the style sheets are parsed anew as before
        key = (*source, *named.items(), *self._variables.items())
        if key not in _parsed:
            _parsed[key] = super()._parse_rules(*source, **named)
        return _parsed[key]

    def reparse(self) -> None:
        """Parse what is new. Rules are replaced only once all are parsed, so an error leaves the old ones."""
        self.parse()
