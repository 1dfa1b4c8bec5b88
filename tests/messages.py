"""Every message that is said, as the translator's tool extracts it."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from string import Formatter

from babel.messages import Catalog
from babel.messages.catalog import Message
from babel.messages.extract import extract_from_dir

ROOT = Path(__file__).resolve().parents[1]
SOURCES = ("server", "templates", "static")
KEYWORDS = {"say": None, "say_html": None, "say_n": (2, 3), "say_as": ((1, "c"), 2)}
Key = tuple[str | None, str]  # context and message; of a plural the first form


@cache
def extracted() -> Catalog:
    """What the translator's tool finds."""
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["babel"]
    found = Catalog()
    for file, _, message, _, context in extract_from_dir(
        ROOT,
        [(each["pattern"], each["method"]) for each in settings["mappings"]],
        keywords=KEYWORDS,
        directory_filter=lambda folder: Path(folder).relative_to(ROOT).parts[0] in SOURCES,
    ):
        found.add(message, locations=[(file, 1)], context=context)
    return found


def by_key(catalogue: Catalog) -> dict[Key, Message]:
    return {(each.context, forms(each.id)[0]): each for each in catalogue if each.id}


def forms(text: str | tuple[str, ...] | list[str]) -> tuple[str, ...]:
    """One text, or one for each plural."""
    return (text,) if isinstance(text, str) else tuple(text)


def of_scripts(catalogue: Catalog) -> set[Key]:
    return {
        key
        for key, each in by_key(catalogue).items()
        if any(file.endswith(".js") for file, _ in each.locations)
    }


def places(text: str) -> set[str]:
    """The names of the {places} in a text, with all that stands beside a name in its braces."""
    try:
        found = list(Formatter().parse(text))
    except ValueError:
        return {"a brace that is not closed"}
    return {
        f"{name}{'!' if turned else ''}{turned or ''}{':' if form else ''}{form}"
        for _, name, form, turned in found
        if name is not None
    }
