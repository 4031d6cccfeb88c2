"""Every command explains itself, stands in the README, and prints JSON of a documented shape where it reads."""

import argparse
import io
import re
from collections.abc import Iterator
from contextlib import redirect_stdout
from importlib import import_module

import pytest

from tests.architecture.project import ROOT, commands
from tui.__main__ import main
from tui.commands import base, registry, shapes
from tui.commands.shaping import document

README, DEVELOPERS = (ROOT / "README.md").read_text(), (ROOT / "DEVELOPERS.md").read_text()


def chapter(text: str, heading: str) -> str:
    """Return a chapter of a document, without its heading."""
    return text.partition(f"\n## {heading}\n")[2].partition("\n## ")[0]


def verbs(parser: argparse.ArgumentParser, name: str = "") -> Iterator[tuple[str, argparse.ArgumentParser]]:
    """Return every command and every verb of a command, by its whole name."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for word, below in action.choices.items():
                yield f"{name} {word}".strip(), below
                yield from verbs(below, f"{name} {word}".strip())


ALL = dict(verbs(registry.parser()))


@pytest.mark.parametrize(("group", "names"), registry.GROUPS.items())
def test_the_table_of_commands_says_which_module_adds_which(group: str, names: tuple[str, ...]) -> None:
    alone = base.Parser().add_subparsers(parser_class=base.Parser)
    import_module(f"tui.commands.{group}").add(alone, base.common())
    assert tuple(alone.choices) == names


@pytest.mark.parametrize(
    ("typed", "groups"),
    [
        ("--database x week --json", ("checking",)), ("week --help", ("checking",)), ("", ()), ("--by week", ()),
        ("--today 2027-03-31", ()), ("--help", tuple(registry.GROUPS)), ("nonsense", tuple(registry.GROUPS)),
    ],
)  # fmt: skip
def test_no_more_is_loaded_than_the_command_typed_needs(typed: str, groups: tuple[str, ...]) -> None:
    assert registry.groups_for(typed.split()) == groups


@pytest.mark.parametrize("name", ALL)
def test_every_command_explains_itself_and_its_options(name: str) -> None:
    printed = io.StringIO()
    with redirect_stdout(printed):
        assert main([*name.split(), "--help"]) == base.OK
    assert printed.getvalue().startswith(f"usage: {base.PROGRAM} {name}")
    unexplained = [action for action in ALL[name]._actions if not action.help]
    assert all(isinstance(action, argparse._SubParsersAction) for action in unexplained), unexplained


def test_every_command_takes_the_common_options() -> None:
    for name, parser in ALL.items():
        known = {option for action in parser._actions for option in action.option_strings}
        assert known >= {"--database", "--today", "--by", "--help"}, name


def test_the_readme_lists_every_command_and_no_other() -> None:
    listed = re.findall(r"^\| (`.+?`) \|", chapter(README, "Commands"), re.MULTILINE)
    named = [word for row in listed for word in re.findall(r"`([^`]+)`", row)]
    assert sorted(named) == sorted(commands())


def test_developers_read_the_shapes_that_are_printed() -> None:
    assert (
        chapter(DEVELOPERS, "JSON shapes").partition("\n\n*term*")[2]
        == document(shapes.SHAPES, shapes.PARTS).partition("*term*")[2] + "\n"
    )


def test_every_command_that_prints_json_has_a_documented_shape() -> None:
    reads = {name for name, parser in ALL.items() if any(action.dest == "json" for action in parser._actions)}
    documented = {re.split(r" --| [A-Z]", name)[0] for name in shapes.SHAPES}
    assert {name.removesuffix(" list") for name in reads} == documented


def test_every_writing_command_can_be_repeated_without_posting_twice() -> None:
    posting = {"book-out", "undo", "receive", "open", "move", "discard", "return", "write-off", "use-up", "count"}
    for name in posting:
        assert any(action.dest == "request_key" for action in ALL[name]._actions), name
