"""How drawings write unified threads: text to its parts, before any table is looked at."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches

from server.metrology.model import DesignationError
from server.metrology.threads.unified_series import NUMBER_SIZES, nearest, number_diameter
from server.wording import say

SERIES = tuple(f"UN{form}{name}" for form in ("", "R", "J") for name in ("", "C", "F", "EF", "S"))
SERIES_ACCEPTED = say("UN, UNC, UNF, UNEF, UNS, or these with R or J after UN (UNRC, UNJF ...)")
SIZE_ACCEPTED = say("#10, 5/8, 1 1/4 or .625, then -18 threads per inch")
TAIL_ACCEPTED = say("a class such as 2A or 2B, LH, LE=1.00, (22) or 2 STARTS")
OLD_NATIONAL = {"N": "UN", "NC": "UNC", "NF": "UNF", "NEF": "UNEF", "NS": "UNS"}

_DENOMINATORS = (2, 4, 8, 16, 32, 64, 128)
_DECIMAL = r"[0-9]{0,3}[.,][0-9]{1,6}"
_SIZE = re.compile(
    r"(?:(?:\#\ ?|NO\.?\ ?)(?P<number>[0-9]{1,2})"
    r"|(?:(?P<whole>[0-9]{1,2})[ -])?(?P<top>[0-9]{1,3})/(?P<bottom>[0-9]{1,3})"
    rf"|(?P<decimal>{_DECIMAL})"
    r"|(?P<integer>[0-9]{1,2}))(?![0-9.,/])"
    rf"(?:\ ?(?:\"|INCH\b|IN\b\.?))?(?:\ ?\((?P<repeated>{_DECIMAL})\))?",
    re.VERBOSE,
)
_PITCH = re.compile(
    rf"(?:\ ?[-X]\ ?|\ )(?:(?P<pitch>{_DECIMAL})\ ?P-(?P<lead>{_DECIMAL})\ ?L(?![A-Z])"
    r"|(?P<tpi>[0-9]{1,3}(?:[.,][0-9]{1,4})?)(?:[ -](?P<top>1)/(?P<bottom>2))?(?![0-9/.,])"
    r"(?:\ ?TPI\b)?)",
    re.VERBOSE,
)
_WORD = re.compile(r"[ -]*([A-Z]+)")
_TAIL = re.compile(
    rf"[ ,;-]*(?:\(?(?P<starts>[1-9])[ -]?STARTS?\b\)?"
    r"|(?:CLASS\ ?|CL\.?\ ?)?(?P<klass>[0-9][A-Z]?)(?![0-9A-Z])"
    rf"|LE\ ?=?\ ?(?P<engagement>{_DECIMAL}|[0-9]{{1,2}})(?![0-9.,])"
    r"|(?P<left>LH\b|L\.H\.|LEFT(?:[ -]HAND)?\b)|(?P<right>RH\b|R\.H\.|RIGHT(?:[ -]HAND)?\b)"
    r"|\((?P<system>2[123])\))",
    re.VERBOSE,
)


@dataclass(frozen=True)
class Spelling:
    """The parts of a unified designation as written.  Lengths [in]."""

    diameter: Decimal | None  # None for a bare whole number, which may be a number size
    integer: int | None
    tpi: Decimal | None
    series: str | None
    tolerance_class: str | None
    hand: str
    engagement: Decimal | None
    starts: int
    size_text: str


def parts(text: str) -> Spelling | None:
    """The parts of a unified designation; None where it is of another family.

    text  normalised, in any case
    Raises DesignationError where it is a unified thread and a part of it can't be read.
    """
    upper = re.sub(r" ?([-/=]) ?", r"\1", text.upper())
    size = _SIZE.match(upper)
    if size is None:
        _refuse_lone_series(upper)
        return None
    _refuse_lone_size(upper, size)
    pitch = _PITCH.match(upper, size.end())
    after = pitch.end() if pitch else size.end()
    word = _WORD.match(upper, after)
    series, tail_at = _series(word, after, upper)
    if series is None and (pitch is None or (word and not _TAIL.match(upper, after))):
        return None
    if series is None and not _is_threads_per_inch(pitch):
        return None
    found = _tail(upper, tail_at, is_certain=series is not None)
    if found is None:
        return None
    tpi, starts = _tpi(pitch)
    diameter, integer = _size(size)
    return Spelling(
        diameter=diameter,
        integer=integer,
        tpi=tpi,
        series=series,
        tolerance_class=found.get("klass"),
        hand="left" if "left" in found else "right",
        engagement=_decimal(found["engagement"]) if "engagement" in found else None,
        starts=int(found["starts"]) if "starts" in found else starts,
        size_text=size.group().strip(),
    )


def _refuse_lone_size(upper: str, size: re.Match[str]) -> None:
    """DesignationError for a number size or a fraction of an inch with nothing after it."""
    is_fraction = size["bottom"] and int(size["bottom"]) in _DENOMINATORS
    if size.end() < len(upper) or not (size["number"] or is_fraction):
        return
    diameter, _ = _size(size)
    if diameter:
        near = nearest(diameter, None)
        raise DesignationError(
            say(
                "“{text}” lacks threads per inch or a tolerance; write for instance {example}.",
                text=upper,
                example=f"{near[0]}-2A",
            ),
            part=upper,
            accepted=say("threads per inch after the size, or a tolerance"),
            nearest=near,
        )


def _refuse_lone_series(upper: str) -> None:
    """DesignationError where a unified series is written and only the size is unreadable."""
    series = re.search(r"(?<![A-Z])UN(?:[RJ]?(?:C|F|EF|S)?)(?![A-Z])", upper)
    if series is None:
        return
    before = upper[: series.start()].strip(" -") or upper
    raise DesignationError(
        say(
            "“{text}” is not a size of a unified thread; write {accepted}.",
            text=before,
            accepted=SIZE_ACCEPTED,
        ),
        part=before,
        accepted=SIZE_ACCEPTED,
        nearest=("5/8-18 UNF-2A", "#10-32 UNF-2A", ".625-18 UNF-2A"),
    )


def _series(word: re.Match[str] | None, after: int, upper: str) -> tuple[str | None, int]:
    """(series, where the tail begins); None where no series is written."""
    if word is None:
        return None, after
    written = word[1]
    if written in SERIES:
        return written, word.end()
    is_old = written in OLD_NATIONAL
    if is_old or written.startswith("UN") or (len(written) > 1 and _misspelt(written)):
        near = (OLD_NATIONAL[written],) if is_old else _misspelt(written)
        raise DesignationError(
            _no_series(written, is_old),
            code="not_in_standard",
            part=written,
            accepted=SERIES_ACCEPTED,
            nearest=tuple(upper.replace(written, name, 1) for name in near),
        )
    return None, after


def _no_series(written: str, is_old: bool) -> str:
    if is_old:
        return say(
            "“{written}” is an old American National series; write {accepted}.",
            written=written,
            accepted=SERIES_ACCEPTED,
        )
    return say(
        "“{written}” is not a unified series; write {accepted}.",
        written=written,
        accepted=SERIES_ACCEPTED,
    )


def _misspelt(written: str) -> tuple[str, ...]:
    """Series that a word was meant for; a word in use elsewhere (NPT, LH) is none."""
    if not 2 <= len(written) <= 5 or "U" not in written:
        return ("UNC", "UNF", "UNEF") if written.startswith("UN") else ()
    if sorted(written) in [sorted(name) for name in SERIES]:
        return tuple(name for name in SERIES if sorted(name) == sorted(written))
    return tuple(get_close_matches(written, SERIES, n=3, cutoff=0.6))


def _is_threads_per_inch(pitch: re.Match[str] | None) -> bool:
    """False for a second length, as in 24.98-25.00, where no series says that it is a thread."""
    if pitch is None or pitch["pitch"]:
        return pitch is not None
    return "." not in pitch["tpi"].replace(",", ".") or pitch["tpi"][-2:] in (".5", ",5")


def _tail(upper: str, at: int, is_certain: bool) -> dict[str, str] | None:
    """Class, hand, engagement and starts after the series; None where it is no unified thread."""
    found: dict[str, str] = {}
    while at < len(upper):
        piece = _TAIL.match(upper, at)
        if piece is None:
            rest = upper[at:].strip(" -,;")
            if not is_certain:
                return None
            raise _unread(rest or upper[at:])
        for name, value in piece.groupdict().items():
            if value is not None:
                if name in found:
                    raise _unread(value)
                found[name] = value
        at = piece.end()
    return found


def _unread(part: str) -> DesignationError:
    return DesignationError(
        say(
            "“{part}” could not be read after the series; write {accepted}.",
            part=part,
            accepted=TAIL_ACCEPTED,
        ),
        part=part,
        accepted=TAIL_ACCEPTED,
    )


def _decimal(text: str) -> Decimal:
    return Decimal(text.replace(",", "."))


def _tpi(pitch: re.Match[str] | None) -> tuple[Decimal | None, int]:
    """(threads per inch, starts) as written."""
    if pitch is None:
        return None, 1
    if pitch["tpi"]:
        tpi = _decimal(pitch["tpi"]) + (Decimal("0.5") if pitch["top"] else 0)
        return tpi, 1
    step, lead = _decimal(pitch["pitch"]), _decimal(pitch["lead"])
    half_tpi = round(2 / step) if step else 0
    starts = round(lead / step) if step else 0
    is_whole = half_tpi > 0 and abs(Decimal(2) / half_tpi - step) <= Decimal("0.00006")
    if not is_whole or not 1 <= starts <= 9 or abs(lead - starts * step) > Decimal("0.0006"):
        written = pitch.group().strip(" -")
        raise DesignationError(
            say(
                "“{written}” is not a pitch and a lead that is a whole multiple of it; "
                "write for instance 3/4-.0625P-.125L UN-2A.",
                written=written,
            ),
            part=written,
            accepted=say("a lead of 1 to 9 pitches"),
        )
    return Decimal(half_tpi) / 2, starts


def _size(size: re.Match[str]) -> tuple[Decimal | None, int | None]:
    """(diameter [in], bare whole number); one of them is None."""
    diameter: Decimal | None = None
    if size["number"]:
        diameter = _number_size(int(size["number"]), size.group().strip())
    elif size["bottom"]:
        diameter = _fraction(size)
    elif size["decimal"]:
        diameter = _decimal(size["decimal"])
    else:
        return None, int(size["integer"])
    if size["repeated"] and abs(_decimal(size["repeated"]) - diameter) > Decimal("0.0006"):
        raise DesignationError(
            say(
                "“{repeated}” is not the diameter of {size} which is {diameter} in.",
                repeated=size["repeated"],
                size=size.group().partition("(")[0].strip(),
                diameter=diameter,
            ),
            part=size["repeated"],
            accepted=str(diameter),
        )
    return diameter, None


def _number_size(number: int, written: str) -> Decimal:
    if number in NUMBER_SIZES:
        return number_diameter(number)
    raise DesignationError(
        say(
            "“{written}” is not a number size; there are #0 to #6, #8, #10 and #12.",
            written=written,
        ),
        code="not_in_standard",
        part=written,
        accepted=say("#0 to #6, #8, #10, #12"),
        nearest=nearest(number_diameter(number), None, 2),
    )


def _fraction(size: re.Match[str]) -> Decimal:
    top, bottom = int(size["top"]), int(size["bottom"])
    if bottom not in _DENOMINATORS or (size["whole"] and top >= bottom):
        written = size.group().strip()
        raise DesignationError(
            say(
                "“{written}” is not a fraction of an inch; write halves to 128ths, such as "
                "5/8 or 1 1/4.",
                written=written,
            ),
            part=written,
            accepted=say("halves to 128ths of an inch"),
        )
    return int(size["whole"] or 0) + Decimal(top) / bottom
