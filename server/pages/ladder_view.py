"""The ladder of the lathe screen: where the readings and the landing stand to the limits."""

from __future__ import annotations

from typing import Any

from server.logbook.answers import shown_advice
from server.logbook.evaluate import Evaluation
from server.metrology.decision import IN_A_SENTENCE
from server.pages.views import NO_VERDICT, Ladder, Rung
from server.pages.words import size_text, standing_view
from server.wording import say


def ladder_view(found: Evaluation, told: dict[str, Any]) -> Ladder:
    setup, advice = found.setup, shown_advice(found)
    low_mm, high_mm = setup.limits.both()
    landing = None
    if advice is not None and advice.is_pass and found.current is not None:
        lands = advice.landing
        landing = tuple(
            found.size_at(each) for each in (lands.expected_mm, lands.low_mm, lands.high_mm)
        )
    ends = {
        "low": size_text(setup, low_mm),
        "high": size_text(setup, high_mm),
        "aim": size_text(setup, setup.aim_mm),
    }
    standing = standing_view(found).word
    words = say("{standing}; limits {low} to {high}, aim {aim}.", standing=standing, **ends)
    if found.current is not None:
        words = say(
            "{size} {unit}, {verdict}; limits {low} to {high}, aim {aim}.",
            size=size_text(setup, found.current.size_mm),
            unit=setup.unit,
            verdict=IN_A_SENTENCE[found.current.verdict],
            **ends,
        )
    return Ladder(
        low_mm=low_mm,
        high_mm=high_mm,
        aim_mm=setup.aim_mm,
        **ends,
        unit=setup.unit,
        is_internal=setup.kind.is_internal,
        rungs=rungs(found, told),
        landing_mm=(landing[0], landing[1], landing[2]) if landing else None,
        words=words,
    )


def rungs(found: Evaluation, told: dict[str, Any]) -> tuple[Rung, ...]:
    readings = [entry for entry in told["entries"] if entry["type"] == "reading"]
    last = max((each["id"] for each in readings if each["struck"] is None), default=None)
    return tuple(
        Rung(
            size_mm=entry["size_mm"],
            doubt_mm=entry["doubt_mm"],
            number=str(number),
            verdict=entry["verdict"] or NO_VERDICT.code,
            is_last=entry["id"] == last and found.current is not None,
            is_struck=entry["struck"] is not None,
        )
        for number, entry in enumerate(readings, start=1)
        if entry.get("size_mm") is not None
    )
