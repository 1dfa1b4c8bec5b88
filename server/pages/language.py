"""The languages of the screens, and which of them a request asks for."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from functools import cache
from gettext import GNUTranslations, NullTranslations

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from fastapi import Request

from server.settings import PACKAGE
from server.wording import told

LANGUAGES = {"en": "English", "de": "Deutsch"}  # each in its own words
ENGLISH = "en"
FOLDER = PACKAGE / "languages"  # one file of translations for each but English


@cache
def catalogue(language: str) -> NullTranslations:
    """What a language calls each message; English is the messages themselves."""
    if language == ENGLISH:
        return NullTranslations()
    with (FOLDER / f"{language}.po").open("rb") as file:
        messages = read_po(file, locale=language)
    compiled = io.BytesIO()
    write_mo(compiled, messages)
    compiled.seek(0)
    return GNUTranslations(compiled)


def teller(language: str) -> Callable[[str], str]:
    """Tells what was said in that language, as plain text to store or to sort."""
    words = catalogue(language)
    return lambda text: str(told(text, words))


@cache
def script_words(language: str) -> str:
    """What the scripts say, as JSON from the English words to the language's; "" for English."""
    if language == ENGLISH:
        return ""
    with (FOLDER / f"{language}.po").open("rb") as file:
        messages = read_po(file, locale=language)
    found = {
        message.id: message.string
        for message in messages
        if message.id and any(place.endswith(".js") for place, _ in message.locations)
    }
    return json.dumps(found, ensure_ascii=False)


def language_of(request: Request) -> str:
    """The language chosen on this device, else the first of the browser's that there is."""
    chosen = request.cookies.get("language", "")
    if chosen in LANGUAGES:
        return chosen
    for wish in request.headers.get("accept-language", "").split(","):
        language = wish.partition(";")[0].strip().partition("-")[0].lower()
        if language in LANGUAGES:
            return language
    return ENGLISH
