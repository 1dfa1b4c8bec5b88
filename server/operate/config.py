"""Every option that can be set: by a flag, by the environment, or in one TOML file.

A flag beats the environment, the environment beats the file, the file beats the default.  The
file is the one named by --config or MIDLIMIT_CONFIG; there is no other place it is looked for.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from server.settings import Refusal, Settings, settings_from

ENVIRONMENT = "MIDLIMIT_"
FILE_VARIABLE = "MIDLIMIT_CONFIG"
Value = str | int | float | bool | list[str]


class ConfigRefused(Refusal):
    """An option that can't be; the message names it, where it stands and what is accepted."""


@dataclass(frozen=True)
class Option:
    """kind: text, whole, number, switch, texts (a list) or one of the words in `accepts`."""

    name: str
    kind: str
    default: Value
    words: str
    accepts: tuple[str, ...] = ()
    lowest: float = 0.0

    @property
    def variable(self) -> str:
        return ENVIRONMENT + self.name.upper()

    @property
    def flag(self) -> str:
        return "--" + {"allowed_hosts": "allow-host"}.get(self.name, self.name.replace("_", "-"))


OPTIONS = (
    Option("data_dir", "text", "", "folder of the embedded database; made if it is not there"),
    Option(
        "database_url",
        "text",
        "",
        "another database, as postgresql+psycopg://user@host/name; may hold a password: then keep "
        "this file to its owner",
    ),
    Option("host", "text", "127.0.0.1", "address to listen on"),
    Option("port", "whole", 8020, "port to listen on"),
    Option("share", "switch", False, "let paired devices in from the shop network"),
    Option("allowed_hosts", "texts", [], "other names that this machine is called by"),
    Option("certificate", "text", "", "serve https with this certificate file"),
    Option("key", "text", "", "the certificate's private key file"),
    Option("self_signed", "switch", False, "serve https with a certificate made here"),
    Option(
        "backup_every_hours",
        "number",
        24.0,
        "hours between backups of the embedded database while serving; 0 makes none",
    ),
    Option("backup_keep", "whole", 14, "how many of those backups are kept", lowest=1),
    Option("backup_dir", "text", "", "folder of the backups; empty for backups in data_dir"),
    Option(
        "log",
        "text",
        "info",
        "what goes to the log on standard error: info has a line for every request, warning only "
        "what went wrong",
        accepts=("info", "warning"),
    ),
)
BY_NAME = {option.name: option for option in OPTIONS}


def checked(option: Option, value: Any, where: str) -> Value:
    """The value as its kind.  ConfigRefused names the option and what is accepted."""
    kinds: dict[str, tuple[type, ...]] = {
        "text": (str,),
        "whole": (int,),
        "number": (int, float),
        "switch": (bool,),
        "texts": (list,),
    }
    fits = isinstance(value, kinds[option.kind])
    if isinstance(value, bool) and option.kind != "switch":
        fits = False
    if option.kind == "texts" and fits:
        fits = all(isinstance(each, str) for each in value)
    if not fits:
        raise ConfigRefused(f"{where}: {option.name} must be {KIND_WORDS[option.kind]}.")
    if option.accepts and value not in option.accepts:
        raise ConfigRefused(f"{where}: {option.name} must be {' or '.join(option.accepts)}.")
    if option.kind in ("whole", "number") and value < option.lowest:
        raise ConfigRefused(f"{where}: {option.name} must be {option.lowest:g} or more.")
    found: Value = value
    return found


KIND_WORDS = {
    "text": "text in quotes",
    "whole": "a whole number",
    "number": "a number",
    "switch": "true or false",
    "texts": "a list of texts in quotes",
}


def read_file(file: Path) -> dict[str, Value]:
    """The options set in a file.  ConfigRefused for what is not an option or can't be."""
    try:
        found = tomllib.loads(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise ConfigRefused(f"{file} can't be read: {error.strerror}.") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ConfigRefused(f"{file} is not TOML: {error}.") from error
    values: dict[str, Value] = {}
    for name, value in found.items():
        if name not in BY_NAME:
            near = difflib.get_close_matches(name, BY_NAME, 1)
            hint = f" Did you mean {near[0]}?" if near else ""
            raise ConfigRefused(f"{file}: there is no option {name}.{hint}")
        values[name] = checked(BY_NAME[name], value, str(file))
    return values


def read_environment(environment: Mapping[str, str]) -> dict[str, Value]:
    """The options set by variables; an empty one counts as not set."""
    values: dict[str, Value] = {}
    for option in OPTIONS:
        text = environment.get(option.variable, "")
        if text:
            values[option.name] = checked(option, from_text(option, text), option.variable)
    return values


def from_text(option: Option, text: str) -> Any:
    if option.kind == "texts":
        return [part.strip() for part in text.split(",") if part.strip()]
    if option.kind == "switch":
        return {"true": True, "1": True, "yes": True, "false": False, "0": False, "no": False}.get(
            text.lower(), text
        )
    try:
        if option.kind == "whole":
            return int(text)
        if option.kind == "number":
            return float(text)
    except ValueError:
        return text  # refused by checked, with what is accepted
    return text


def settings_for(environment: Mapping[str, str], flags: Mapping[str, Any]) -> Settings:
    """The settings of one run.  flags: those given, by option name, and `config`.

    Raises ConfigRefused.
    """
    file = flags.get("config") or environment.get(FILE_VARIABLE)
    values: dict[str, Any] = {option.name: option.default for option in OPTIONS}
    if file:
        values |= read_file(Path(file).expanduser())
    values |= read_environment(environment)
    values |= {
        name: checked(BY_NAME[name], value, BY_NAME[name].flag)
        for name, value in flags.items()
        if name in BY_NAME and value is not None and value is not False and value != []
    }
    return settings_from({}, **values)


def sample() -> str:
    """A file with every option at its default, each with its meaning."""
    lines = ["# Midlimit. A flag beats the environment, which beats this file.", ""]
    for option in OPTIONS:
        lines += [f"# {option.words}", f"# {option.flag}, {option.variable}"]
        lines += [f"{option.name} = {toml_value(option.default)}", ""]
    return "\n".join(lines)


def toml_value(value: Value) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return repr(value).replace("'", '"')
