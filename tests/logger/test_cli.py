"""The command line: a start builds the options of the called command only, and nobody can tell."""

from __future__ import annotations

import argparse

import pytest

from logger.cli import build_parser, main


def _commands(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    choices = next(action.choices for action in parser._actions if action.dest == "command")
    assert isinstance(choices, dict)
    return choices


WHOLE = build_parser()


@pytest.mark.parametrize("name", list(_commands(WHOLE)))
def test_the_called_command_has_all_its_words(name: str) -> None:
    one = build_parser(name)
    assert one.format_help() == WHOLE.format_help()
    assert _commands(one)[name].format_help() == _commands(WHOLE)[name].format_help()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([], "following arguments are required: COMMAND"),
        (["--units", "us", "sat"], "invalid choice: 'us'"),
        (["no-such"], "invalid choice: 'no-such'"),
        (["verify", "--help-me"], "required: SESSION"),
    ],
)
def test_wrong_words_are_told_in_a_sentence(
    words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as left:
        main(words)
    assert left.value.code == 2
    assert told in capsys.readouterr().err
