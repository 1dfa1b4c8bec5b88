"""The languages of the screens, and which of them a request asks for."""

from __future__ import annotations

import io
import json
import logging
import re
from collections.abc import Callable
from functools import cache
from gettext import GNUTranslations, NullTranslations

from babel.messages import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import PoFileError, read_po
from fastapi import Request

from server.settings import PACKAGE
from server.wording import told

log = logging.getLogger("midlimit")
LANGUAGES = {"en": "English", "de": "Deutsch"}  # each in its own words
ENGLISH = "en"
COMMA = {"de"}  # languages that write a decimal comma, and no comma between thousands
FOLDER = PACKAGE / "languages"  # one file of translations for each but English


@cache
def translations(language: str) -> Catalog:
    """The file of translations as it stands; none where it can't be read, which is logged."""
    try:
        with (FOLDER / f"{language}.po").open("rb") as file:
            return read_po(file, locale=language, abort_invalid=True)
    except (OSError, PoFileError):
        log.exception("No translations for %s", language)
        return Catalog(locale=language)


@cache
def catalogue(language: str) -> NullTranslations:
    """What a language calls each message; English is the messages themselves."""
    if language == ENGLISH:
        return NullTranslations()
    compiled = io.BytesIO()
    write_mo(compiled, translations(language))
    compiled.seek(0)
    return GNUTranslations(compiled)


def teller(language: str) -> Callable[[str], str]:
    """Tells what was said in that language, as plain text to store or to sort."""
    words = catalogue(language)
    return lambda text: told(text, words)


@cache
def script_words(language: str) -> str:
    """What the scripts say, as JSON from the English words to the language's; "" for English."""
    if language == ENGLISH:
        return ""
    found = {
        message.id: message.string
        for message in translations(language)
        if message.id and any(place.endswith(".js") for place, _ in message.locations)
    }
    return json.dumps(found, ensure_ascii=False)


def writes_comma(request: Request) -> bool:
    """Whether a comma in a number that was typed can only be a decimal comma."""
    return language_of(request) in COMMA


def language_of(request: Request) -> str:
    """The language chosen on this device, else the one that its browser would rather have."""
    chosen = request.cookies.get("language", "")
    if chosen in LANGUAGES:
        return chosen
    wishes = [
        (_weight(parameter), name.strip().partition("-")[0].lower())
        for name, _, parameter in (
            wish.partition(";") for wish in request.headers.get("accept-language", "").split(",")
        )
    ]
    offered = [(weight, name) for weight, name in wishes if name in LANGUAGES and weight > 0]
    return max(offered, key=lambda wish: wish[0], default=(1.0, ENGLISH))[1]


def _weight(parameter: str) -> float:
    """The q of one language in an Accept-Language header (RFC 9110, 12.4.2); 1 where none is."""
    given = re.fullmatch(r"\s*q\s*=\s*([01](?:\.\d{0,3})?)\s*", parameter)
    return float(given[1]) if given else 1.0
