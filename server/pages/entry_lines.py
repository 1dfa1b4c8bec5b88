"""The lines of a pass history, from what the logbook says of each entry."""

from __future__ import annotations

from typing import Any

from server.logbook.setup import Setup
from server.metrology.thermal import TOUCH_WORDS
from server.metrology.units import from_mm, to_mm
from server.pages.views import Entry, Point
from server.pages.words import (
    EVENT_WORDS,
    GAUGE_WORDS,
    WARM_WORDS,
    WITH_SLIDE,
    clock,
    length,
    signed,
    verdict_view,
)
from server.wording import say

UNDONE = say("Undone at the lathe")


def entry_lines(feature: dict[str, Any], setup: Setup, *, can_strike: bool) -> list[Entry]:
    """Oldest first.  feature: one of logbook.history's features."""
    lines, number = [], 0
    for entry in feature["entries"]:
        if entry["type"] == "reading":
            number += 1
        lines.append(entry_line(entry, number, setup, can_strike))
    return lines


def own(value: float | None, unit: str, setup: Setup) -> float | None:
    """A length in the unit it was typed in, in the drawing's."""
    if value is None or unit == setup.unit:
        return value
    return from_mm(to_mm(value, unit), setup.unit)


def entry_line(entry: dict[str, Any], number: int, setup: Setup, can_strike: bool) -> Entry:
    struck = entry["struck"]
    common: dict[str, Any] = {
        "entry_id": entry["id"],
        "type": entry["type"],
        "when": clock(entry["at"]),
        "who": entry["operator"],
        "note": entry["note"],
        "own_unit": setup.unit,
        "is_struck": struck is not None,
        "struck_reason": reason_words(struck["reason"]) if struck else "",
        "struck_at": clock(struck["at"]) if struck else "",
    }
    if entry["type"] == "event":
        return Entry(number="", words=EVENT_WORDS[entry["event"]], **common)
    if entry["type"] == "gauge":
        return Entry(number="", words=GAUGE_WORDS[entry["gauge"], entry["enters"]], **common)
    step = entry["dial_step"] or ""
    is_spring = bool(step) and not step.strip("0.,+- ")
    common |= {
        "dialled": "" if is_spring else step,
        "dial_unit": entry["dial_step_unit"] or "",
        "is_spring": is_spring,
        "slide": WITH_SLIDE.get(entry["slide"], ""),
    }
    if entry["type"] == "pass":
        return Entry(number="", **common)

    def text(value: float | None) -> str:
        return length(own(value, entry["unit"], setup), setup.decimals)

    predicted = entry.get("predicted")
    size = entry.get("size")
    off, is_outside = None, False
    if predicted is not None and size is not None:
        off = size - predicted["expected"]
        is_outside = not predicted["low"] <= size <= predicted["high"]
    low, high = text(entry.get("size_low")), text(entry.get("size_high"))
    return Entry(
        number=str(number),
        value=entry["value"],
        unit=entry["unit"],
        size=text(size),
        size_low=low if low != high else "",
        size_high=high if low != high else "",
        doubt=text(entry.get("doubt")),
        removed=text(entry.get("removed")),
        predicted=text(predicted["expected"]) if predicted else "",
        off=signed(own(off, entry["unit"], setup), setup.decimals),
        is_outside=is_outside,
        temperature=temperature_text(entry),
        warm_state=entry.get("warm") or "",
        warm_word=WARM_WORDS.get(entry.get("warm") or "", ""),
        verdict=verdict_view(entry["verdict"]) if entry.get("verdict") else None,
        station=entry["station"],
        wrong=entry.get("went_wrong") or "",
        strike_action=(f"/readings/{entry['id']}/strike" if can_strike and struck is None else ""),
        **common,
    )


def reason_words(reason: str) -> str:
    """As it was typed; what the screen itself wrote is known again."""
    return UNDONE if reason == UNDONE else reason


def temperature_text(entry: dict[str, Any]) -> str:
    note: str = entry["temperature"] or ""
    if not note:
        return say("not noted")
    if entry["temperature_unit"]:
        return f"{note} °{entry['temperature_unit']}"
    return TOUCH_WORDS.get(note, note)


def plot_points(feature: dict[str, Any]) -> tuple[Point, ...]:
    points: list[Point] = []
    readings = [entry for entry in feature["entries"] if entry["type"] == "reading"]
    live = [entry["id"] for entry in readings if entry["struck"] is None]
    for number, entry in enumerate(readings, start=1):
        if entry.get("size") is None:
            continue
        predicted = entry.get("predicted")
        points.append(
            Point(
                number=str(number),
                size_mm=entry["size_mm"],
                doubt_mm=entry["doubt_mm"],
                predicted_mm=to_mm(predicted["expected"], entry["unit"]) if predicted else None,
                warm_state=entry.get("warm") or "",
                is_struck=entry["struck"] is not None,
                is_final=bool(live) and entry["id"] == live[-1],
            )
        )
    return tuple(points)
