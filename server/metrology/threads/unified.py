"""Unified threads (UN, UNR, UNJ): from a designation to limits."""

from __future__ import annotations

import math
from decimal import Decimal

from server.metrology.model import DesignationError, Kind, Limits, ThreadTarget
from server.metrology.threads import unified_series as series_table
from server.metrology.threads.spelling import other_side, refuse_plain
from server.metrology.threads.unified_limits import CLASSES, InchLimits, limits
from server.metrology.threads.unified_spelling import Spelling, parts
from server.metrology.threads.unified_thread import (
    UnifiedThread,
    not_in_standard,
    range_notes,
    refuse_forbidden,
    refuse_without_flank,
)
from server.metrology.units import MM_PER_INCH, to_mm
from server.wording import say

SOURCE = say("ASME B1.1-2003, limits of size of the standard series")
SOURCE_UNJ = "ASME B1.15-1995"
HALF_ANGLE_RAD = math.radians(30)


def read(text: str, kind: Kind | None = None) -> ThreadTarget | None:
    """The unified thread that text names, or None where it is of another family.

    Without a class the trade's default is taken, 2A or 2B (3A or 3B for UNJ); without a series,
    the one that has the size and pitch, else UNS.  Both are said in the notes.
    Raises DesignationError where it is of this family and a part is wrong.
    Source: ASME B1.1-2003 (UN, UNR), ASME B1.15 recalled (UNJ).
    """
    spelling = parts(text)
    if spelling is None:
        return None
    notes: list[str] = []
    diameter = _diameter(spelling, notes)
    if diameter is None:
        return None
    refuse_plain(text, kind)
    thread = _resolved(spelling, diameter, kind, notes)
    refuse_forbidden(thread)
    found = limits(
        thread.diameter,
        thread.tpi,
        thread.tolerance_class,
        thread.engagement_used,
        is_unj=thread.form == "UNJ",
    )
    refuse_without_flank(thread, found)
    return _target(thread, found, (*notes, *range_notes(thread, found)))


def _diameter(spelling: Spelling, notes: list[str]) -> Decimal | None:
    """Basic major diameter [in]; None where a bare number pair is no thread of any series."""
    if spelling.diameter is not None:
        if spelling.series is None and _may_be_two_lengths(spelling.diameter, spelling.tpi):
            return None
        standard = series_table.standard_size(spelling.diameter)
        if standard != spelling.diameter:
            notes.append(
                say(
                    "{written} read as {size}",
                    written=spelling.size_text,
                    size=series_table.size_name(standard),
                )
            )
        return standard
    return _bare_number(spelling, notes)


def _may_be_two_lengths(diameter: Decimal, tpi: Decimal | None) -> bool:
    """True for 24.5-25, a low and a high limit, and no thread of any series."""
    if tpi is None or (diameter, tpi) in series_table.combinations():
        return False
    return diameter <= tpi <= diameter * Decimal("1.5")


def _bare_number(spelling: Spelling, notes: list[str]) -> Decimal | None:
    """A whole number without a mark: a number size or inches, told by the pitch or series."""
    whole = spelling.integer or 0
    inches = Decimal(whole)
    is_number = whole in series_table.NUMBER_SIZES
    number = series_table.number_diameter(whole)
    if spelling.tpi is None:
        name = (spelling.series or "")[2:].lstrip("RJ")
        has_number = is_number and series_table.tpi_of(number, "UN" + name) is not None
        has_inches = series_table.tpi_of(inches, "UN" + name) is not None
        if has_number and has_inches:
            raise DesignationError(
                say(
                    "“{written}” may be #{whole} or {whole} inch; write the threads per inch.",
                    written=spelling.size_text,
                    whole=whole,
                ),
                part=spelling.size_text,
                accepted=say("the threads per inch after the size"),
                nearest=(
                    f"{whole}-{_tpi_text(inches, name)} UN{name}",
                    f"#{whole}-{_tpi_text(number, name)} UN{name}",
                ),
            )
        return number if has_number else inches
    diameter = number if series_table.is_number_size(whole, spelling.tpi) else inches
    if (diameter, spelling.tpi) not in series_table.combinations():
        if spelling.series is None:
            return None
        if diameter == number:
            notes.append(
                say(
                    "{whole} read as number size #{whole}; write {whole}.000 for inches",
                    whole=whole,
                )
            )
    return diameter


def _tpi_text(diameter: Decimal, name: str) -> str:
    return series_table.tpi_name(series_table.tpi_of(diameter, "UN" + name) or Decimal(0))


def _resolved(
    spelling: Spelling, diameter: Decimal, kind: Kind | None, notes: list[str]
) -> UnifiedThread:
    written = spelling.series or "UN"
    form = written[:3] if written[2:3] in ("R", "J") else "UN"
    name = written.removeprefix(form)
    tpi = spelling.tpi
    if tpi is None:
        tpi = _tpi_of_series(spelling, diameter, name)
    if tpi <= 0 or diameter <= 0:
        fault = say("“{part}” is no size of a thread", part=spelling.size_text)
        raise not_in_standard(spelling.size_text, fault, diameter, tpi)
    in_table = series_table.combinations().get((diameter, tpi))
    name = _series_name(spelling, form, name, in_table, diameter, tpi, notes)
    tolerance_class = _tolerance_class(spelling, form, kind, notes)
    thread = UnifiedThread(
        diameter=diameter,
        tpi=tpi,
        form=form,
        name=name,
        tolerance_class=tolerance_class,
        hand=spelling.hand,
        engagement=spelling.engagement,
        starts=spelling.starts,
        in_series=in_table is not None and name != "S",
    )
    _check_kind(thread, kind)
    return thread


def _tpi_of_series(spelling: Spelling, diameter: Decimal, name: str) -> Decimal:
    if name not in ("C", "F", "EF"):
        raise DesignationError(
            say(
                "“{written}” lacks the threads per inch.",
                written=f"{spelling.size_text} {spelling.series}",
            ),
            part=spelling.size_text,
            accepted=say("size and threads per inch, such as 5/8-18 UNF-2A"),
            nearest=series_table.nearest(diameter, None) if diameter > 0 else (),
        )
    tpi = series_table.tpi_of(diameter, "UN" + name)
    if tpi is None:
        fault = say(
            "“{part}” is no size of the {series} series",
            part=spelling.size_text,
            series="UN" + name,
        )
        raise not_in_standard(spelling.size_text, fault, diameter, None)
    return tpi


def _series_name(
    spelling: Spelling,
    form: str,
    name: str,
    in_table: str | None,
    diameter: Decimal,
    tpi: Decimal,
    notes: list[str],
) -> str:
    """C, F, EF, S or empty; what had to be decided goes into the notes."""
    if name in ("C", "F", "EF"):
        if in_table == "UN" + name:
            return name
        pair = f"{series_table.size_name(diameter)}-{series_table.tpi_name(tpi)}"
        fault = say("“{part}” is not in the {series} series", part=pair, series=form + name)
        raise not_in_standard(pair, fault, diameter, tpi)
    if name == "S":
        if in_table is not None and spelling.engagement is None:
            notes.append(
                say(
                    "this size and pitch is {series} in the standard; as UNS its tolerance is "
                    "for nine pitches of engagement",
                    series=in_table,
                )
            )
        return "S"
    if in_table is None:
        if spelling.series is not None:
            notes.append(
                say("not a {form} series size: taken as {taken}", form=form, taken=form + "S")
            )
        return "S"
    if spelling.series is None:
        notes.append(say("series not given: {taken} taken", taken=in_table))
    elif in_table != "UN":
        notes.append(
            say("this size and pitch is {series} in the standard: taken as that", series=in_table)
        )
    return in_table.removeprefix("UN")


def _tolerance_class(spelling: Spelling, form: str, kind: Kind | None, notes: list[str]) -> str:
    letter = "B" if kind is Kind.INTERNAL_THREAD else "A"
    written = spelling.tolerance_class
    if written is None:
        taken = ("3" if form == "UNJ" else "2") + letter
        notes.append(say("class not given: {taken} taken", taken=taken))
        return taken
    if written in CLASSES and not (form == "UNJ" and written.startswith("1")):
        return written
    if written in ("1", "2", "3") and form != "UNJ":
        taken = written + letter
        notes.append(
            say("class {written} without a letter: {taken} taken", written=written, taken=taken)
        )
        return taken
    ends = written[1:] if written[1:] in ("A", "B") else letter
    number = min(max(int(written[0]), 1), 3)
    accepted = "2A, 3A, 2B, 3B" if form == "UNJ" else ", ".join(CLASSES)
    near = [f"{number}{ends}", f"2{ends}", f"3{ends}"]
    raise DesignationError(
        say(
            "“{written}” is no class of a unified thread; there are {accepted}.",
            written=written,
            accepted=accepted,
        ),
        code="not_in_standard",
        part=written,
        accepted=accepted,
        nearest=tuple(dict.fromkeys(name for name in near if name in accepted)),
    )


def _check_kind(thread: UnifiedThread, kind: Kind | None) -> None:
    is_internal = thread.tolerance_class.endswith("B")
    if kind is None or kind.is_internal == is_internal:
        return
    other = thread.tolerance_class[0] + ("A" if is_internal else "B")
    raise DesignationError(
        other_side(thread.tolerance_class, is_internal, other),
        part=thread.tolerance_class,
        accepted=other,
        nearest=(thread.designation.replace(f"-{thread.tolerance_class}", f"-{other}"),),
    )


def _limits_mm(low: Decimal | None, high: Decimal | None) -> Limits:
    return Limits(
        None if low is None else to_mm(low, "in"), None if high is None else to_mm(high, "in")
    )


def _target(thread: UnifiedThread, found: InchLimits, notes: tuple[str, ...]) -> ThreadTarget:
    is_external = thread.tolerance_class.endswith("A")
    pitch_mm = MM_PER_INCH / float(thread.tpi)
    return ThreadTarget(
        designation=thread.designation,
        family="unified",
        kind=Kind.EXTERNAL_THREAD if is_external else Kind.INTERNAL_THREAD,
        nominal_mm=to_mm(thread.diameter, "in"),
        pitch_mm=pitch_mm,
        lead_mm=pitch_mm * thread.starts,
        starts=thread.starts,
        half_angle_rad=HALF_ANGLE_RAD,
        hand=thread.hand,
        tolerance_class=thread.tolerance_class,
        major_diameter=_limits_mm(found.major_low, found.major_high),
        pitch_diameter=_limits_mm(found.pitch_low, found.pitch_high),
        minor_diameter=_limits_mm(found.minor_low, found.minor_high),
        basic_pitch_diameter_mm=to_mm(found.basic_pitch, "in"),
        allowance_mm=to_mm(found.allowance, "in"),
        unit="in",
        decimals=4,
        source=SOURCE_UNJ if thread.form == "UNJ" else SOURCE,
        notes=notes,
    )
