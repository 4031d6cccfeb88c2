"""Where this workstation keeps its own settings: store address, theme, initials. Nothing here changes a number.

The only reader of the environment and of the settings file; whatever the practice shares is in the store. A password in
a database address stays in the environment or in the file (0600) and is never shown.
"""

import json
import os
import re
from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from pathlib import Path

from inventory.errors import BadInput

NAME = "impression-stock"
PREFIX = "IMPRESSION_STOCK_"
TOKEN = f"{PREFIX}TOKEN"
THEMES = ("light", "dark", "high-contrast", "plain")
LONGEST = 500  # characters of a setting
_PASSWORD = re.compile(r"(://[^/@:]*):[^/]*@")


@dataclass(frozen=True, slots=True)
class Settings:
    """This workstation's settings; empty where nothing was set."""

    database: str = ""
    by: str = ""
    theme: str = ""


KEYS = tuple(field.name for field in fields(Settings))


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


def default_store() -> str:
    """The user's own practice, where no address is set."""
    return str(data_folder() / "practice.db")


def load() -> Settings:
    """Read the settings file, then the environment, which wins.

    Raises:
        BadInput: the file can't be read as TOML, or the environment holds signs that can't be seen.
    """
    values = _stored()
    for key in from_environment():
        values[key] = _readable(key, os.environ[PREFIX + key.upper()])
    return Settings(**values)


def from_environment() -> tuple[str, ...]:
    """The settings that the environment decides, whatever the file says."""
    return tuple(key for key in KEYS if PREFIX + key.upper() in os.environ)


def access_token() -> str:
    """What a browser has to know to see the screens; from the environment alone, never kept in the file."""
    return _readable("token", os.environ.get(TOKEN, "")).strip()


def for_a_browser(database: str) -> dict[str, str]:
    """The environment of a program whose screens a browser shows: this store, and nobody's initials."""
    return {f"{PREFIX}DATABASE": database, f"{PREFIX}BY": ""}


def remember(**values: str) -> Settings:
    """Change some settings in the file and return what then holds there; an empty one is forgotten.

    Raises:
        BadInput: not a setting, or a value it can't have; or the file can't be read or written.
    """
    for key, value in values.items():
        _check(key, value)
    changed = replace(Settings(**_stored()), **values)
    save(changed)
    return changed


def save(settings: Settings) -> None:
    """Write the settings file, readable by its owner only; whole or not at all.

    Raises:
        BadInput: it can't be written.
    """
    path = settings_file()
    new = path.with_suffix(".new")
    # a JSON string without \u escapes for what can be seen is a TOML basic string
    lines = (f"{key} = {json.dumps(getattr(settings, key), ensure_ascii=False)}\n" for key in _kept(settings))
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        new.touch(mode=0o600)
        new.write_text("".join(lines), encoding="utf-8")
        new.replace(path)
    except OSError as error:
        raise BadInput(
            f"The settings file {path} can't be written: {error.strerror}.", "Check the folder's permissions."
        ) from None


def shown_address(address: str) -> str:
    """A store's address without the password in it."""
    return _PASSWORD.sub(r"\1:***@", address)


def has_password(address: str) -> bool:
    """Whether there is a password in a store's address."""
    found = _PASSWORD.search(address)
    return found is not None and not found[0].endswith(":@")


def _kept(settings: Settings) -> Iterable[str]:
    return (key for key in KEYS if getattr(settings, key))


def _check(key: str, value: str) -> None:
    if key not in KEYS:
        raise BadInput(f"There is no setting {key!r} of this workstation.", f"Known are: {', '.join(KEYS)}.")
    _readable(key, value)
    if key == "theme" and value and value not in THEMES:
        raise BadInput(f"theme: there is no {value!r}.", f"Known are: {', '.join(THEMES)}.")


def _readable(key: str, value: str) -> str:
    if len(value) > LONGEST or not value.isprintable():
        raise BadInput(f"{key}: too long, or it holds characters that can't be seen.", "Type it by hand.")
    return value


def _stored() -> dict[str, str]:
    path = settings_file()
    try:
        text = path.read_text(encoding="utf-8")
        import tomllib  # noqa: PLC0415 - loaded only where there is a file

        content = tomllib.loads(text)
    except FileNotFoundError:
        return {}
    except (OSError, ValueError) as error:
        raise BadInput(f"The settings file {path} can't be read: {error}.", "Mend it or delete it.") from None
    return {key: str(value) for key, value in content.items() if key in KEYS}
