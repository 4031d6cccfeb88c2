"""The project's own files, as its house rules see them, and programs run on them."""

import argparse
import os
import subprocess
from functools import cache
from pathlib import Path

from tui.commands.registry import parser

ROOT = Path(__file__).parents[2]
PACKAGES = ("inventory", "tui", "seed_data")
# What tools leave behind, named in .gitignore too.
LEFT_BEHIND = {"__pycache__", "build", "dist", "snapshot_report.html"}
DOTTED = {".ci", ".gitignore", ".pre-commit-config.yaml"}


@cache
def project_files() -> list[Path]:
    """Return every file of the project, relative to its root, without what tools leave behind."""
    top = [path for path in ROOT.iterdir() if path.name in DOTTED or not path.name.startswith(".")]
    found = [file for path in top for file in ([path] if path.is_file() else path.rglob("*")) if file.is_file()]
    relative = [file.relative_to(ROOT) for file in found]
    return sorted(file for file in relative if not any(is_left_behind(part) for part in file.parts))


def is_left_behind(part: str) -> bool:
    return part in LEFT_BEHIND or part.endswith(".egg-info") or (part.startswith(".") and part not in DOTTED)


def package_files() -> list[Path]:
    """Return every file that an installation needs."""
    return [file for file in project_files() if file.parts[0] in PACKAGES]


def commands() -> list[str]:
    """Return the names of all commands of the command line."""
    (subparsers,) = [each for each in parser()._actions if isinstance(each, argparse._SubParsersAction)]
    return list(subparsers.choices)


def run(*command: str | Path, cwd: Path) -> str:
    """Run a program in a folder, whatever environment these tests run in, and return what it prints."""
    environment = {name: value for name, value in os.environ.items() if name not in {"PYTHONPATH", "VIRTUAL_ENV"}}
    words = [str(word) for word in command]
    done = subprocess.run(
        words, cwd=cwd, env=environment, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout
