"""Preferred fits of ANSI B4.1 in inches: running, locational and force classes."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import cache

from server.metrology.fits_pair import NOMINAL, FitPair, checked_kind, nominal_size, size_shown
from server.metrology.model import DesignationError, Kind, Limits, PlainTarget
from server.metrology.tables import rows
from server.metrology.units import decimals_typed
from server.wording import say

SOURCE = "ANSI B4.1-1967"
ACCEPTED = say("RC1 to RC9, LC1 to LC11, LT1 to LT6, LN1 to LN3, FN1 to FN5, up to 19.69 in")
_FORM = re.compile(
    NOMINAL + r"\s*(?P<letters>RC|LC|LT|LN|FN)\s?-?\s?(?P<number>\d{1,2})"
    r"(?:[\s,-]+(?P<side>shaft|hole|bore))?",
    re.IGNORECASE,
)
_SIDES = {"shaft": False, "hole": True, "bore": True}


def read(bare: str, kind: Kind | None, written: str | None) -> PlainTarget | None:
    """The shaft or hole of a fit class, or None where bare names none.

    bare     the text without its unit
    kind     None: from the word shaft or hole, else the bore, with the range of the fit noted
    written  the unit that the text writes; B4.1 is in inches
    Raises DesignationError where a part of it is wrong.
    """
    form = _FORM.fullmatch(bare)
    if form is None:
        return None
    both = _pair(form, written)
    if form["side"] is None:
        return both.member(kind)
    is_hole = _SIDES[form["side"].lower()]
    part = (both.hole if is_hole else both.shaft).tolerance_class
    return both.member(checked_kind(is_hole, kind, part))


def pair(bare: str, written: str | None) -> FitPair | None:
    """The hole and shaft of a fit class, or None where bare names none."""
    form = _FORM.fullmatch(bare)
    return _pair(form, written) if form else None


def _pair(form: re.Match[str], written: str | None) -> FitPair:
    if written == "mm":
        raise DesignationError(say("ANSI B4.1 is in inches"), part="mm", accepted="1.000 RC4 shaft")
    fit_class = form["letters"].upper() + str(int(form["number"]))
    nominal = nominal_size(form["size"], "in")
    row = _row(fit_class, nominal, form["letters"] + form["number"])
    text = size_shown(form["size"], nominal, "in")
    recalled = (say("table recalled, unchecked"),) if row["obtained"] == "memory" else ()
    members = [_member(text, fit_class, side, nominal, row, recalled) for side in ("hole", "shaft")]
    return FitPair(f"{text} {fit_class}", *members)


def _member(
    text: str,
    fit_class: str,
    side: str,
    nominal: Decimal,
    row: dict[str, str],
    notes: tuple[str, ...],
) -> PlainTarget:
    low = nominal + Decimal(row[f"{side}_low_mil"]) / 1000
    high = nominal + Decimal(row[f"{side}_high_mil"]) / 1000
    if low <= 0:
        raise DesignationError(
            say("{size} would leave no metal", size=f"{text} {fit_class}"),
            part=text,
            accepted=say("a larger size"),
        )
    return PlainTarget(
        designation=f"{text} {fit_class} {side}",
        family="ansi_b4_1",
        kind=Kind.BORE if side == "hole" else Kind.OUTSIDE_DIAMETER,
        nominal_mm=float(nominal * Decimal("25.4")),
        tolerance_class=f"{fit_class} {side}",
        size=Limits(float(low * Decimal("25.4")), float(high * Decimal("25.4"))),
        unit="in",
        decimals=max(4, *(3 + decimals_typed(row[f"{side}_{end}_mil"]) for end in ("low", "high"))),
        source=SOURCE,
        notes=notes,
    )


def _row(fit_class: str, nominal: Decimal, written: str) -> dict[str, str]:
    table = _table().get(fit_class)
    if table is None:
        near = [name for name in _table() if name.startswith(fit_class[:2])]
        raise DesignationError(
            say("ANSI B4.1 has no class {fit}", fit=fit_class),
            code="not_in_standard",
            part=written,
            accepted=ACCEPTED,
            nearest=tuple(f"{nominal:f} {name}" for name in near[-2:]),
        )
    for row in table:
        if Decimal(row["over_in"]) < nominal <= Decimal(row["up_to_in"]):
            return row
    first, last = Decimal(table[0]["over_in"]), Decimal(table[-1]["up_to_in"])
    edge = last if nominal > last else first + Decimal("0.01")
    raise DesignationError(
        say(
            "ANSI B4.1 gives {fit} for sizes over {first} up to {last} in, not {size}",
            fit=fit_class,
            first=first,
            last=last,
            size=f"{nominal:f}",
        ),
        code="not_in_standard",
        part=f"{nominal:f}",
        accepted=ACCEPTED,
        nearest=(f"{edge} {fit_class}",),
    )


@cache
def _table() -> dict[str, list[dict[str, str]]]:
    table: dict[str, list[dict[str, str]]] = {}
    for row in rows("ansi_b4_1"):
        table.setdefault(row["fit_class"], []).append(row)
    return table
