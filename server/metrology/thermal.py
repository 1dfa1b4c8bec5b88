"""What warmth does to a reading: limits hold at 20 degrees C (ISO 1)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from server.metrology.decision import RangeVerdict
from server.metrology.model import OutOfRange
from server.wording import say

REFERENCE_C = 20.0  # ISO 1
SOON_AFTER_A_CUT_MIN = 30.0  # common practice: by then most of the heat of a light cut is gone
THERMOMETER_SPREAD_C = 0.5  # half-width; common practice for a contact or infrared thermometer
COLDEST_C, HOTTEST_C = -40.0, 300.0  # outside, somebody mistyped or no one can measure

_PART_TEMPERATURE = say("part temperature")
_INSTRUMENT_TEMPERATURE = say("instrument temperature")


class Touch(StrEnum):
    """How a part feels to the bare hand.  Metals only: plastics feel nearer to skin."""

    SHOP = "shop"
    BARELY_WARM = "barely_warm"
    WARM = "warm"
    TOO_HOT = "too_hot"


class WarmState(StrEnum):
    SETTLED = "settled"
    DRIFTING = "drifting"
    WAIT = "wait"


TOUCH_WORDS: Mapping[str, str] = {
    Touch.SHOP: say("as the shop"),
    Touch.BARELY_WARM: say("barely warm"),
    Touch.WARM: say("warm in the hand"),
    Touch.TOO_HOT: say("too hot to hold"),
}
NOT_NOTED = say("not noted")

TOUCH_RANGES_C: Mapping[Touch, tuple[float, float]] = {
    Touch.BARELY_WARM: (28.0, 36.0),
    Touch.WARM: (34.0, 46.0),
    Touch.TOO_HOT: (44.0, 70.0),
}
"""Part temperatures a touch can mean, low and high  [degC].

Common practice, bounded by published skin-contact figures: skin at rest is neutral near 33,
warmth is felt from 30 and pain begins near 45 (sensory physiology); no injury below 44, a touch
above 70 burns at once (ASTM C1055).  Metal is felt at nearly its own temperature.  Calluses,
gloves and coolant shift all of them, so neighbours overlap.
"""


class TouchNeedsMetal(ValueError):
    """A touch word was given for a plastic, which feels 60 to 65 % nearer to skin than it is."""

    def __init__(self, touch: Touch) -> None:
        super().__init__(
            say(
                "“{touch}” holds for metals; a plastic feels nearer to skin than it is: measure "
                "its temperature",
                touch=TOUCH_WORDS[touch],
            )
        )
        self.touch = touch


@dataclass(frozen=True)
class TemperatureRange:
    """What is known of the part's temperature.

    A touch, or nothing noted, is a range and the size becomes a range.  A number is one value
    (low_c == high_c) whose own spread_c (half-width) goes to the doubt: it counts once.
    Neither a number nor a touch: nothing was noted.
    """

    low_c: float
    high_c: float
    words: str
    is_number: bool = False
    spread_c: float = 0.0
    touch: Touch | None = None

    @property
    def is_noted(self) -> bool:
        return self.is_number or self.touch is not None

    @property
    def middle_c(self) -> float:
        return (self.low_c + self.high_c) / 2

    @property
    def farthest_from_20_c(self) -> float:
        """The larger of |low - 20|, |high - 20|.  [K]"""
        return max(abs(self.low_c - REFERENCE_C), abs(self.high_c - REFERENCE_C))


@dataclass(frozen=True)
class WarmSize:
    """A size at 20 degrees C from a reading taken at a range of temperatures.  [mm]

    shift_low_mm, shift_high_mm   by how much the reading is large (negative: small), low <= high
    """

    low_mm: float
    central_mm: float
    high_mm: float
    shift_low_mm: float
    shift_high_mm: float

    @property
    def is_range(self) -> bool:
        return self.high_mm - self.low_mm > 1e-9

    @property
    def thermal_error_mm(self) -> float:
        """The larger of |shift_low|, |shift_high|, before correction (design, Settled)."""
        return max(abs(self.shift_low_mm), abs(self.shift_high_mm))


def expansion_factor(
    part_expansion_per_c: float,
    part_temperature_c: float,
    instrument_expansion_per_c: float,
    instrument_temperature_c: float,
) -> float:
    """Size at 20 degrees C over reading.

    Formula: (1 + ai (Ti - 20)) / (1 + ap (Tp - 20)).
    Source:  GUM (JCGM 100) H.1 and ISO/TR 16015, from memory; derived from ISO 1.
    Holds:   part and instrument each at one temperature.  Raises OutOfRange.
    Over wires it multiplies the reading M, wires included, before the wire geometry, which then
    works at 20 degrees C.
    """
    for what, value in (
        (_PART_TEMPERATURE, part_temperature_c),
        (_INSTRUMENT_TEMPERATURE, instrument_temperature_c),
    ):
        if not COLDEST_C <= value <= HOTTEST_C:
            raise OutOfRange(what, value, COLDEST_C, HOTTEST_C, "°C")
    instrument = 1 + instrument_expansion_per_c * (instrument_temperature_c - REFERENCE_C)
    return instrument / (1 + part_expansion_per_c * (part_temperature_c - REFERENCE_C))


def size_at_20c_mm(
    reading_mm: float,
    part_expansion_per_c: float,
    part_temperature_c: float,
    instrument_expansion_per_c: float,
    instrument_temperature_c: float,
) -> float:
    """The size that a reading means at 20 degrees C.  [mm]  See expansion_factor.

    A 25 mm steel part 20 K warm reads 5.75 um large:
    >>> round(size_at_20c_mm(25.00575, 11.5e-6, 40.0, 11.5e-6, 20.0), 4)
    25.0
    """
    return reading_mm * expansion_factor(
        part_expansion_per_c,
        part_temperature_c,
        instrument_expansion_per_c,
        instrument_temperature_c,
    )


def part_temperature(
    note: float | Touch | None,
    shop_c: float,
    minutes_since_cut: float | None,
    is_metal: bool,
    *,
    ranges_c: Mapping[Touch, tuple[float, float]] = TOUCH_RANGES_C,
    thermometer_spread_c: float = THERMOMETER_SPREAD_C,
) -> TemperatureRange:
    """What a temperature note says of the part.

    note               a number [degC], a Touch, or None where nothing was noted
    shop_c             shop temperature  [degC]
    minutes_since_cut  since the last logged cut; None where none was
    ranges_c           the shop's own ranges for touches, where the user changed them

    "As the shop" and nothing noted are -2/+8 and -2/+10 degrees C from the shop within 30 minutes
    of a cut, since metal below 28 feels cold; +-2 later.  Raises TouchNeedsMetal and OutOfRange.
    """
    if isinstance(note, Touch) and not is_metal:
        raise TouchNeedsMetal(note)
    if isinstance(note, Touch):
        low_c, high_c = _touched(note, shop_c, minutes_since_cut, ranges_c)
        return TemperatureRange(low_c, high_c, TOUCH_WORDS[note], touch=note)
    if note is None:
        above = 10.0 if _is_soon(minutes_since_cut) else 2.0
        return TemperatureRange(shop_c - 2, shop_c + above, NOT_NOTED)
    if not COLDEST_C <= note <= HOTTEST_C:
        raise OutOfRange(_PART_TEMPERATURE, note, COLDEST_C, HOTTEST_C, "°C")
    return TemperatureRange(note, note, f"{note:g} °C", True, thermometer_spread_c)


def warm_size(
    reading_mm: float,
    temperature: TemperatureRange,
    part_expansion_per_c: float,
    instrument_expansion_per_c: float,
    instrument_temperature_c: float,
    to_size: Callable[[float], float] = lambda reading_mm: reading_mm,
) -> WarmSize:
    """The size, or the range of sizes, that a reading means at 20 degrees C.  [mm]

    to_size   from a reading at 20 degrees C to the feature's size (the wire geometry, a zero
              offset ...); must grow with the reading.  Default: the reading is the size.
    Raises OutOfRange for temperatures nobody measures at.
    """

    def at(part_c: float) -> float:
        factor = expansion_factor(
            part_expansion_per_c, part_c, instrument_expansion_per_c, instrument_temperature_c
        )
        return to_size(reading_mm * factor)

    uncorrected_mm = to_size(reading_mm)
    ends_mm = sorted((at(temperature.low_c), at(temperature.high_c)))
    return WarmSize(
        low_mm=ends_mm[0],
        central_mm=at(temperature.middle_c),
        high_mm=ends_mm[1],
        shift_low_mm=uncorrected_mm - ends_mm[1],
        shift_high_mm=uncorrected_mm - ends_mm[0],
    )


def state(
    verdicts: RangeVerdict,
    next_cut_move: float,
    graduation: float,
    thermal_error_mm: float,
    tolerance_mm: float,
) -> WarmState:
    """Wait, Settled or Drifting, tested in that order (design, section 5).

    verdicts        over the size range (decision.range_verdict)
    next_cut_move   difference of the next cut between both ends, as the dial counts it
    graduation      of that dial, same unit and count as next_cut_move
    thermal_error_mm, tolerance_mm    [mm]
    """
    if verdicts.can_flip or abs(next_cut_move) > graduation + 1e-9:
        return WarmState.WAIT
    if thermal_error_mm <= tolerance_mm / 10 + 1e-9:
        return WarmState.SETTLED
    return WarmState.DRIFTING


def _is_soon(minutes_since_cut: float | None) -> bool:
    return minutes_since_cut is not None and minutes_since_cut <= SOON_AFTER_A_CUT_MIN


def _touched(
    touch: Touch,
    shop_c: float,
    minutes_since_cut: float | None,
    ranges_c: Mapping[Touch, tuple[float, float]],
) -> tuple[float, float]:
    if touch is Touch.SHOP and touch not in ranges_c:
        return shop_c - 2, shop_c + (8.0 if _is_soon(minutes_since_cut) else 2.0)
    low_c, high_c = ranges_c[touch] if touch in ranges_c else TOUCH_RANGES_C[touch]
    # Turning never leaves a part colder than the shop.
    return max(low_c, shop_c - 2), max(high_c, shop_c + 2)
