"""Options: a flag beats the environment, which beats the file, which beats the default."""

from __future__ import annotations

import argparse
import tomllib
from pathlib import Path

import pytest

from server.cli import parser
from server.operate.config import (
    OPTIONS,
    ConfigRefused,
    read_environment,
    read_file,
    sample,
    settings_for,
)
from tests.operate.conftest import Run


def file_with(folder: Path, text: str) -> Path:
    file = folder / "midlimit.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_what_beats_what(tmp_path: Path) -> None:
    file = str(file_with(tmp_path, 'port = 1001\nhost = "10.0.0.1"\nbackup_keep = 3\n'))
    environment = {"MIDLIMIT_PORT": "1002", "MIDLIMIT_HOST": "10.0.0.2", "MIDLIMIT_CONFIG": file}
    found = settings_for(environment, {"port": 1003})

    assert found.port == 1003
    assert found.host == "10.0.0.2"
    assert found.backup_keep == 3
    assert found.backup_every_hours == 24.0


def test_a_flag_of_zero_counts(tmp_path: Path) -> None:
    file = str(file_with(tmp_path, "backup_every_hours = 12"))

    assert settings_for({}, {"config": file, "backup_every_hours": 0.0}).backup_every_hours == 0


def test_the_sample_is_every_option_at_its_default(tmp_path: Path) -> None:
    text = sample()

    assert tomllib.loads(text) == {option.name: option.default for option in OPTIONS}
    for option in OPTIONS:
        assert option.words in text
        assert option.variable in text
    assert settings_for({}, {"config": str(file_with(tmp_path, text))}) == settings_for({}, {})


def test_every_option_is_a_flag_of_serve() -> None:
    commands = next(
        action for action in parser()._actions if isinstance(action, argparse._SubParsersAction)
    )
    flags = {
        flag for action in commands.choices["serve"]._actions for flag in action.option_strings
    }

    assert {option.flag for option in OPTIONS} <= flags


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("prot = 8020", "Did you mean port"),
        ('port = "8020"', "port must be a whole number"),
        ("port = true", "port must be a whole number"),
        ("share = 1", "share must be true or false"),
        ("allowed_hosts = [1]", "list of texts"),
        ("backup_keep = 0", "1 or more"),
        ('log = "loud"', "info or warning"),
        ("port = = 1", "is not TOML"),
        ("port = 1\nport = 2", "is not TOML"),
    ],
)
def test_what_can_not_be_is_named(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(ConfigRefused, match=words) as caught:
        read_file(file_with(tmp_path, text))
    assert "midlimit.toml" in str(caught.value)


def test_the_environment_is_held_to_the_same() -> None:
    assert read_environment({"MIDLIMIT_ALLOWED_HOSTS": "a, b", "MIDLIMIT_SHARE": "yes"}) == {
        "allowed_hosts": ["a", "b"],
        "share": True,
    }
    with pytest.raises(ConfigRefused, match="MIDLIMIT_PORT"):
        read_environment({"MIDLIMIT_PORT": "many"})
    assert read_environment({"MIDLIMIT_PORT": "", "MIDLIMIT_OTHER": "x"}) == {}


def test_a_file_that_is_not_there_is_one_clear_line(tmp_path: Path, run: Run) -> None:
    code, _, said = run("check", "--config", tmp_path / "none.toml")

    assert code == 1
    assert "can't be read" in said
    assert said.count("\n") == 1


def test_the_command_prints_the_sample(run: Run) -> None:
    assert run("config")[1] == sample()
