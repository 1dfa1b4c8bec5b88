"""What a drawing says, read into limits: the one door to every family of threads and fits."""

from __future__ import annotations

import re
from collections.abc import Callable
from difflib import get_close_matches

from server.metrology import fits
from server.metrology.model import DesignationError, Kind, Target
from server.metrology.threads import acme, ba, metric, pipe_g, trapezoidal, unified, whitworth
from server.wording import say

LONGEST = 80  # characters; the longest designation of any family has about fifty
ACCEPTED = say(
    "a thread such as 5/8-18 UNF-2A, M10x1.5-6g, Tr40x7-7e, 3/4-6 ACME-2G, 1/2 BSW medium or "
    "G1/2 A, or a plain size such as 25 h6, 40 H7, 12.70 +0.00/-0.02 or 24.98/25.00"
)
EXAMPLES = (
    "5/8-18 UNF-2A",
    "M10x1.5-6g",
    "Tr40x7-7e",
    "3/4-6 ACME-2G",
    "1/2 BSW medium",
    "G1/2 A",
    "25 h6",
    "12.70 +0.00/-0.02",
    "24.98/25.00",
)

_FAMILY_WORD = re.compile(  # not x or a unit, and not a letter with its grade such as h6
    r"(?<![A-Za-z])(?!(?:x|X|mm|MM|in|IN)(?![A-Za-z]))(?![A-Za-z]{1,2}[0-9]{1,2}(?:$|[ /]))"
    r"[A-Za-z]+"
)
_PLAIN_FORMS: dict[int, str | None] = {
    ord(mark): plain
    for marks, plain in (
        ("Ø⌀øΦφ", None),
        ("×✕✖⨯", "x"),
        ("−–—‐‑‒﹣－", "-"),  # noqa: RUF001
        ("″“”„", '"'),
        ("’′‘", "'"),
        ("⁄∕", "/"),
        ("＋", "+"),  # noqa: RUF001
        ("½", " 1/2 "),
        ("¼", " 1/4 "),
        ("¾", " 3/4 "),
        ("⅛", " 1/8 "),
        ("⅜", " 3/8 "),
        ("⅝", " 5/8 "),
        ("⅞", " 7/8 "),
    )
    for mark in marks
}

_THREADS: tuple[Callable[[str, Kind | None], Target | None], ...] = (
    metric.read,
    trapezoidal.read,
    acme.read,
    pipe_g.read,
    whitworth.read,
    ba.read,
    unified.read,
)


def normalised(text: str) -> str:
    """The same designation in plain characters, single spaces, letter case kept (h6 is not H6).

    Diameter signs are dropped, dashes and crosses become - and x, vulgar fractions are written
    out.

    >>> normalised(" Ø40  H7 ")
    '40 H7'
    >>> normalised("1¼″ – 7 UNC")
    '1 1/4 " - 7 UNC'
    """
    plain = text.translate(_PLAIN_FORMS).replace("''", '"')
    return " ".join(plain.split())


def read(text: str, kind: Kind | None = None, unit: str = "mm") -> Target:
    """The limits of what a drawing says.

    text  the designation as written, in any sensible spacing and case
    kind  what the feature is, where the text does not tell
    unit  "in" or "mm": what a plain size without a unit of its own is in
    Raises DesignationError, which names the part that could not be read.
    """
    plain = _checked(text)
    for read_thread in _THREADS:
        target = read_thread(plain, kind)
        if target is not None:
            return target
    size = fits.read(plain, kind, unit)
    if size is not None:
        return size
    raise _unknown(plain)


def _unknown(plain: str) -> DesignationError:
    """What to say of text that no family knows; a word beside a size is an unknown family."""
    nearest = tuple(get_close_matches(plain, EXAMPLES, n=3, cutoff=0.3)) or EXAMPLES[:3]
    word = _FAMILY_WORD.search(plain)
    if word is None or not any(mark.isdigit() for mark in plain):
        return DesignationError(
            say(
                "“{text}” is not a designation that can be read; write {accepted}.",
                text=plain,
                accepted=ACCEPTED,
            ),
            part=plain,
            accepted=ACCEPTED,
            nearest=nearest,
        )
    return DesignationError(
        say(
            "“{word}” in “{text}” is no thread or fit that is known here; write {accepted}.",
            word=word.group(),
            text=plain,
            accepted=ACCEPTED,
        ),
        code="not_in_standard",
        part=word.group(),
        accepted=ACCEPTED,
        nearest=_without(plain, word) + nearest,
    )


def _without(plain: str, word: re.Match[str]) -> tuple[str, ...]:
    """The standard unified thread of the same size, pitch and class, if there is one."""
    rest = plain[: word.start()] + " " + plain[word.end() :]
    try:
        target = unified.read(" ".join(rest.split()))
    except DesignationError:
        return ()
    if target is None or any("outside" in note for note in target.notes):
        return ()
    return (target.designation,)


def _checked(text: str) -> str:
    """The normalised text; DesignationError where it can't be a designation at all."""
    if len(text) > 4 * LONGEST:
        raise _too_long(text)
    plain = normalised(text)
    if not plain:
        raise DesignationError(
            say("Nothing typed: write {accepted}.", accepted=ACCEPTED), accepted=ACCEPTED
        )
    if len(plain) > LONGEST:
        raise _too_long(plain)
    for mark in plain:
        if not (" " <= mark <= "~" or mark == "±"):
            shown = mark if mark.isprintable() else f"U+{ord(mark):04X}"
            raise DesignationError(
                say(
                    "The character {character} has no place in a designation; write {accepted}.",
                    character=shown,
                    accepted=ACCEPTED,
                ),
                part=shown,
                accepted=ACCEPTED,
            )
    return plain


def _too_long(text: str) -> DesignationError:
    part = text[:24] + "…"
    return DesignationError(
        say(
            "“{text}” is too long for a designation; write {accepted}.",
            text=part,
            accepted=ACCEPTED,
        ),
        part=part,
        accepted=ACCEPTED,
    )
