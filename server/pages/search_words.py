"""What the words of a search are called in the lines of finished pieces, which are English."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from server.logbook.entries import FINISHED_AS
from server.logbook.search import Ways, as_typed
from server.metrology.material_words import MATERIAL_WORDS
from server.pages.language import ENGLISH, teller
from server.pages.words import MONTHS, STATE_WORDS
from server.wording import say

SHORTEST_BEGINNING = 3
IN_LINES: dict[str, str] = {  # as a screen names it: as a line does
    **{name: name.casefold() for name in (say("piece"), *MONTHS, *MATERIAL_WORDS.values())},
    **{STATE_WORDS[state]: state for state in FINISHED_AS},
}


@cache
def ways_of(language: str) -> Callable[[str], Ways]:
    """All that a word typed on a device in that language may be called in a line.

    The beginning of a word will do, and a day may have the full stop of an ordinal.
    """
    if language == ENGLISH:
        return as_typed
    tell = teller(language)
    called = [
        (word, name) for said, name in IN_LINES.items() for word in tell(said).casefold().split()
    ]

    def ways(word: str) -> Ways:
        start = word.removesuffix(".")
        is_beginning = len(start) >= SHORTEST_BEGINNING
        meant = [name for told, name in called if is_beginning and told.startswith(start)]
        ordinal = [start] if start.isdigit() else []
        return tuple(dict.fromkeys((word, *ordinal, *meant)))

    return ways
