"""What hurts hands at the lathe, and when it is said."""

from __future__ import annotations

from dataclasses import replace

from server.logbook.evaluate import GAUGED, Evaluation
from server.metrology.decision import Verdict as Code
from server.metrology.thermal import Touch
from server.pages.views import Caution
from server.wording import say

MEASURING = Caution(
    code="measuring",
    text=say("Spindle stopped, chips cleared with a brush, before you measure."),
)
WARM_PART = Caution(
    code="warm",
    text=say("Hot work and hot chips burn: let it cool, gloves only with the spindle stopped."),
)
SHOULDER = Caution(
    code="shoulder",
    text=say("Threading to a shoulder: know where you stop, hand on the half-nut lever."),
)
WARM_TOUCHES = (Touch.WARM, Touch.TOO_HOT)
WARM_ABOVE_SHOP_C = 12.0  # where a hand says warm in a shop at 22


def cautions_shown(found: Evaluation, shop_c: float) -> tuple[Caution, ...]:
    """The most particular one first."""
    wanted: list[Caution] = []
    if found.setup.method != GAUGED:
        wanted.append(warm_part(found, shop_c))
    if found.setup.kind.is_thread and found.verdict not in (Code.IN_LIMITS, Code.PAST_LIMIT):
        wanted.append(SHOULDER)
    return (*wanted, MEASURING)


def warm_part(found: Evaluation, shop_c: float) -> Caution:
    """Shown where the last reading was of a warm part; else hidden until the form says it is."""
    from_c = shop_c + WARM_ABOVE_SHOP_C
    now = found.current
    if now is not None:
        felt = now.last.temperature
        if felt.touch in WARM_TOUCHES or (felt.is_number and felt.middle_c >= from_c):
            return WARM_PART
    degrees = from_c * 9 / 5 + 32 if temperature_unit(found) == "F" else from_c
    return replace(WARM_PART, hot_from=f"{degrees:.1f}")


def temperature_unit(found: Evaluation) -> str:
    return "F" if found.setup.unit == "in" else "C"
