"""What is answered after a reading, in the unit of that reading."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

from server.advice.model import Action, NextCut
from server.logbook import cautions
from server.logbook.evaluate import FINE_FEED_SHARE, Evaluation, wait_why
from server.logbook.stages import StageSize
from server.logbook.targets import as_number
from server.metrology import cooling, decision
from server.metrology.decision import Verdict
from server.metrology.dials import Dial, Slide
from server.metrology.model import Limits
from server.metrology.thermal import WarmState
from server.metrology.units import from_mm
from server.records.tables import EntryRow
from server.wording import joined, say, sentence

FINE_FEED = {
    "angle_deg": round(math.degrees(math.asin(FINE_FEED_SHARE)), 3),
    "angle_from": "axis",
}
NINETY_PERCENT = 1.6449  # half-width of a 90 % interval in standard deviations


def entry_json(row: EntryRow) -> dict[str, Any]:
    """An entry as it was typed; value, unit and dial_step are null where it has none."""
    is_reading = row.type == "reading"
    body: dict[str, Any] = {
        "id": row.id,
        "type": row.type,
        "feature_id": row.feature_id,
        "entry_key": row.entry_key,
        "at": row.at,
        "operator": row.operator,
        "note": row.note,
        "value": row.value if is_reading else None,
        "unit": (row.unit if is_reading else row.dial_step_unit) or None,
        "dial_step": row.dial_step,
        "dial_step_unit": row.dial_step_unit or None,
    }
    if row.type in ("reading", "pass"):
        body["slide"] = row.slide
    if is_reading:
        body |= {
            "station": row.station,
            "temperature": row.temperature or None,
            "temperature_unit": row.temperature_unit or None,
        }
    if row.type == "event":
        body["event"] = row.event
    if row.type == "gauge":
        body |= {"gauge": row.event, "enters": row.gauge_result == "enters"}
    return body


def answer_json(found: Evaluation, row: EntryRow) -> dict[str, Any]:
    """The whole answer to a reading."""
    body: dict[str, Any] = {"reading": entry_json(row), "saved": True}
    return body | state_json(found, row.unit)


def state_json(found: Evaluation, unit: str) -> dict[str, Any]:
    """Where the feature stands.  size and the rest are null until there is a reading."""
    now = found.current
    if now is None or found.stock is None:
        return {
            "size": None,
            "verdict": found.verdict.value if found.verdict else None,
            "evidence": found.evidence.words if found.evidence else None,
            "warm": None,
            "stock_left": None,
            "next_cut": None,
        }
    return {
        "size": {
            "value": as_number(now.size_mm, unit),
            "doubt": as_number(now.doubt_mm, unit),
            "low": as_number(min(now.low_mm, now.size_mm), unit),
            "high": as_number(max(now.high_mm, now.size_mm), unit),
            "aim": as_number(found.setup.aim_mm, unit),
            "contact": now.contact,
            "is_rough": now.is_rough,
            "averaged": len(now.entry_ids),
        },
        "verdict": now.verdict.value,
        "chance_conforming": round(conformance(found, now), 4),
        "warm": warm_json(found, now, unit),
        "compared": compared_json(found, unit),
        "stations": stations_json(found, now, unit),
        "evidence": found.evidence.words if found.evidence else None,
        "stock_left": stock_json(found, unit),
        "next_cut": next_cut_json(found, unit),
    }


def conformance(found: Evaluation, now: StageSize, limits: Limits | None = None) -> float:
    """Chance that the true size is inside the limits (JCGM 106), warmth as a range.

    limits: other ones than the feature's own.
    The landing that was predicted for the last cut serves as prior where the reading agreed.
    """
    return decision.chance_in_limits_over_range(
        min(now.low_mm, now.size_mm),
        max(now.high_mm, now.size_mm),
        now.doubt_mm / now.budget.coverage_factor,
        limits or found.setup.limits,
        dof=now.budget.dof,
        prior=landing_prior(found, now),
    )


def landing_prior(found: Evaluation, now: StageSize) -> decision.Prior | None:
    """The landing predicted for the last cut, where the one reading after it agreed."""
    if found.compared is None or not found.compared.is_inside or len(now.entry_ids) != 1:
        return None
    u_mm = (found.compared.high_mm - found.compared.low_mm) / (2 * NINETY_PERCENT)
    return decision.Prior(found.size_at(found.compared.expected_mm), u_mm)


def compared_json(found: Evaluation, unit: str) -> dict[str, Any] | None:
    """How the reading compared with the landing that was predicted."""
    compared = found.compared
    if compared is None:
        return None
    ends = sorted((found.size_at(compared.low_mm), found.size_at(compared.high_mm)))
    return {
        "expected": as_number(found.size_at(compared.expected_mm), unit),
        "low": as_number(ends[0], unit),
        "high": as_number(ends[1], unit),
        "inside": compared.is_inside,
        "surprise": compared.is_surprise,
        "words": compared.sentence,
    }


def stations_json(found: Evaluation, now: StageSize, unit: str) -> dict[str, Any] | None:
    if not now.stations:
        return None
    return {
        "sizes": [
            {"station": place.name, "size": as_number(place.size_mm, unit)}
            for place in now.stations
        ],
        "words": cautions.station_words(found, now),
    }


def warm_json(found: Evaluation, now: StageSize, unit: str) -> dict[str, Any]:
    return {
        "state": now.warm_state.value,
        "shift_low": as_number(now.shift_low_mm, unit),
        "shift_high": as_number(now.shift_high_mm, unit),
        "wait_minutes": now.wait_minutes,
        "words": warm_words(found, now),
    }


def warm_words(found: Evaluation, now: StageSize) -> str:
    """What warmth does to this size; waiting is advised only where it would change something."""
    in_words = found.setup.in_words
    shifts_mm = now.shift_low_mm, now.shift_high_mm
    if now.warm_state is WarmState.SETTLED:
        most_mm = max(abs(shift_mm) for shift_mm in shifts_mm)
        return say(
            "Warmth changes it by {shift} at most, which is settled.", shift=in_words(most_mm)
        )
    shift = cooling.shift_words(*shifts_mm, in_words)
    if now.warm_state is WarmState.DRIFTING:
        if now.temperature_is_number:
            return say(
                "Reads {shift}, which is taken off; that changes neither the verdict nor the next "
                "cut.",
                shift=shift,
            )
        return say("Reads {shift}; that changes neither the verdict nor the next cut.", shift=shift)
    margin_mm = decision.margin_mm(now.size_mm, found.setup.limits)
    if not now.last.says_warm:
        reads = say(
            "Reads {shift}; the limit is {margin} away.", shift=shift, margin=in_words(margin_mm)
        )
        return joined((reads, sentence(wait_why(now) or "")), " ")
    warm = sentence(cooling.warm_words(*shifts_mm, margin_mm, now.wait_minutes, in_words))
    if now.temperature_is_number:
        return warm
    return joined((warm, say("A temperature in degrees settles it sooner.")), " ")


def stock_json(found: Evaluation, unit: str) -> dict[str, Any]:
    stock = found.stock
    assert stock is not None
    return {
        "diameter": as_number(stock.diameter_mm, unit),
        "radial": as_number(stock.radial_mm, unit),
        "axial": as_number(stock.axial_mm, unit),
        "leading_flank": as_number(stock.leading_flank_mm, unit),
        "trailing_flank": as_number(stock.trailing_flank_mm, unit),
        "cross_slide_dial": as_number(stock.cross_slide_dial_mm, unit),
        "compound_dial": as_number(stock.compound_dial_mm, unit),
        "carriage_dial": as_number(stock.carriage_dial_mm, unit),
        "warnings": list(stock.warnings),
    }


def has_compound_fine_feed(found: Evaluation) -> bool:
    """Plain turning and boring with a compound that could be set over."""
    return found.job is not None and found.job.finer_graduation_mm is not None


def is_compound_set_over(found: Evaluation, advice: NextCut) -> bool:
    is_finer = advice.action is Action.FINER_FEED and advice.is_pass
    return is_finer and has_compound_fine_feed(found)


def advised_slide(found: Evaluation, advice: NextCut) -> Slide:
    return Slide.COMPOUND if is_compound_set_over(found, advice) else found.setup.slide


def advised_dial_step(found: Evaluation, advice: NextCut) -> tuple[Decimal, Dial]:
    """(whole graduations as a dial reading in the dial's own unit, the dial)."""
    dial = found.setup.slides.dial(advised_slide(found, advice))
    return dial.graduation * advice.steps, dial


def shown_advice(found: Evaluation) -> NextCut | None:
    """The advice that is shown: none once the piece is past the limit."""
    if found.known is not None and found.known.verdict is Verdict.PAST_LIMIT:
        return None
    return found.advice


def chances(found: Evaluation, advice: NextCut) -> tuple[float, float]:
    """(in limits, past the limit) after the advised pass; as the work stands where none is."""
    now = found.current
    if now is None or advice.is_pass:
        return advice.chance_in_limits, advice.chance_past_limit
    low_mm, high_mm = found.setup.limits.both()
    gone = Limits(None, high_mm) if found.setup.kind.is_internal else Limits(low_mm, None)
    return conformance(found, now), 1 - conformance(found, now, gone)


def next_cut_json(found: Evaluation, unit: str) -> dict[str, Any] | None:
    advice = shown_advice(found)
    if advice is None:
        return None
    step, dial = advised_dial_step(found, advice)
    inside, past = chances(found, advice)
    if advice.action is Action.FINER_FEED:  # until it is set over its dial means something else
        step = Decimal(0)
    step_mm = from_mm(float(step), "mm") if dial.unit == "mm" else float(step * Decimal("25.4"))
    sizes = sorted((found.size_at(advice.landing.low_mm), found.size_at(advice.landing.high_mm)))
    return {
        "action": advice.action.value,
        "slide": advised_slide(found, advice).value,
        "dial_step": as_number(step_mm, unit),
        "landing": {
            "expected": as_number(found.size_at(advice.landing.expected_mm), unit),
            "low": as_number(sizes[0], unit),
            "high": as_number(sizes[1], unit),
        },
        "chance_in_limits": round(inside, 6),
        "chance_past_limit": round(past, 6),
        "measure_after": advice.measure_after,
        "why": advice.why,
        "notes": list(advice.notes),
        "compound": FINE_FEED if is_compound_set_over(found, advice) else None,
    }
