"""Where this workstation keeps its own settings: store address, theme, initials. Nothing here changes a number.

The only reader of the environment and of the settings file; whatever the practice shares is in the store. A password in
a database address stays in the environment or in the file (0600) and is never shown.
"""

import json
import os
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path

from inventory.errors import BadInput

NAME = "impression-stock"
KEYS = ("database", "by", "theme")


@dataclass(frozen=True, slots=True)
class Settings:
    """This workstation's settings; empty where nothing was set."""

    database: str = ""
    by: str = ""
    theme: str = ""


def data_folder() -> Path:
    """The per-user folder for stores."""
    from platformdirs import user_data_path  # noqa: PLC0415 - not needed where an address is given

    return user_data_path(NAME, appauthor=False)


def log_file() -> Path:
    """Where unexpected failures are written down."""
    from platformdirs import user_log_path  # noqa: PLC0415 - needed only after a failure

    return user_log_path(NAME, appauthor=False) / "impression-stock.log"


def settings_file() -> Path:
    from platformdirs import user_config_path  # noqa: PLC0415

    return user_config_path(NAME, appauthor=False) / "settings.toml"


def load() -> Settings:
    """Read the settings file, then the environment, which wins.

    Raises:
        BadInput: the file can't be read as TOML.
    """
    values = _stored()
    for key in KEYS:
        if (value := os.environ.get(f"IMPRESSION_STOCK_{key.upper()}")) is not None:
            values[key] = value
    return Settings(**values)


def save(settings: Settings) -> None:
    """Write the settings file, readable by its owner only."""
    path = settings_file()
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    # a JSON string is a TOML basic string
    lines = [f"{key} = {json.dumps(getattr(settings, key))}\n" for key in KEYS if getattr(settings, key)]
    path.touch(mode=0o600)
    path.write_text("".join(lines), encoding="utf-8")


def remember(**values: str) -> Settings:
    """Change some settings in the file and return what then holds there."""
    changed = replace(Settings(**_stored()), **values)
    save(changed)
    return changed


def _stored() -> dict[str, str]:
    path = settings_file()
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {}
    except (OSError, ValueError) as error:
        raise BadInput(f"The settings file {path} can't be read: {error}.", "Mend it or delete it.") from None
    return {key: str(value) for key, value in content.items() if key in KEYS}


def default_store() -> str:
    """The user's own practice, where no address is set."""
    return str(data_folder() / "practice.db")
