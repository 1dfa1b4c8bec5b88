"""The lines of a pass history, from what the logbook says of each entry."""

from __future__ import annotations

from typing import Any

from server.pages.views import Entry, Point
from server.pages.words import (
    EVENT_WORDS,
    GAUGE_WORDS,
    SLIDE_WORDS,
    TOUCH_WORDS,
    WARM_WORDS,
    clock,
    length,
    signed,
    verdict_view,
)


def entry_lines(feature: dict[str, Any], places: int, *, can_strike: bool) -> list[Entry]:
    """Oldest first.  feature: one of logbook.history's features."""
    lines, number = [], 0
    for entry in feature["entries"]:
        if entry["type"] == "reading":
            number += 1
        lines.append(entry_line(entry, number, places, can_strike))
    return lines


def entry_line(entry: dict[str, Any], number: int, places: int, can_strike: bool) -> Entry:
    struck = entry["struck"]
    common: dict[str, Any] = {
        "entry_id": entry["id"],
        "type": entry["type"],
        "when": clock(entry["at"]),
        "who": entry["operator"],
        "note": entry["note"],
        "is_struck": struck is not None,
        "struck_reason": struck["reason"] if struck else "",
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
        "is_spring": is_spring,
        "slide": SLIDE_WORDS.get(entry["slide"], "").lower(),
    }
    if entry["type"] == "pass":
        return Entry(number="", **common)
    predicted = entry.get("predicted")
    size = entry.get("size")
    off = None if predicted is None or size is None else size - predicted["expected"]
    return Entry(
        number=str(number),
        value=entry["value"],
        unit=entry["unit"],
        size=length(size, places),
        doubt=length(entry.get("doubt"), places),
        removed=length(entry.get("removed"), places),
        predicted=length(predicted["expected"], places) if predicted else "",
        off=signed(off, places),
        temperature=temperature_text(entry),
        warm_state=entry.get("warm") or "",
        warm_word=WARM_WORDS.get(entry.get("warm") or "", ""),
        verdict=verdict_view(entry["verdict"]) if entry.get("verdict") else None,
        station=entry["station"],
        wrong=entry.get("went_wrong") or "",
        strike_action=(f"/readings/{entry['id']}/strike" if can_strike and struck is None else ""),
        **common,
    )


def temperature_text(entry: dict[str, Any]) -> str:
    note: str = entry["temperature"] or ""
    if not note:
        return "not noted"
    if entry["temperature_unit"]:
        return f"{note} °{entry['temperature_unit']}"
    return TOUCH_WORDS.get(note, note)


def plot_points(feature: dict[str, Any], to_mm: float) -> tuple[Point, ...]:
    """to_mm: millimetres in one of the history's own units."""
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
                predicted_mm=predicted["expected"] * to_mm if predicted else None,
                warm_state=entry.get("warm") or "",
                is_struck=entry["struck"] is not None,
                is_final=bool(live) and entry["id"] == live[-1],
            )
        )
    return tuple(points)
