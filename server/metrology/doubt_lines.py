"""The lines of the budget of one reading, direct or over wires."""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.metrology.doubt import Line, Shape
from server.metrology.instruments import Instrument, max_error
from server.metrology.materials import LEAST_SPREAD_PER_C, Material
from server.metrology.scatter import PRIOR_SCATTER_STEPS, Scatter
from server.metrology.thermal import REFERENCE_C, TemperatureRange
from server.wording import say

MEASURED_WIRES_MM = 0.0005  # half-width: certified to about 0.5 um (gauge makers' notes)
NOMINAL_WIRES_MM = 0.0025  # half-width: made within 0.0001 in of nominal (memory, NBS H28)
FORCE_RESIDUAL_MM = 0.001  # half-width: thread 3-5 um low, wires sized under load about 4 um low
FLANK_ANGLE_RAD = math.radians(0.25)  # half-width: a tool ground to a centre gauge; common practice
INSTRUMENT_TEMPERATURE_C = 1.0  # half-width: handled in a shop; common practice


@dataclass(frozen=True)
class Warmth:
    """What the temperature lines need: the part's note, what it is made of, the instrument's."""

    part: TemperatureRange
    material: Material
    instrument_temperature_c: float
    instrument_spread_c: float = INSTRUMENT_TEMPERATURE_C


@dataclass(frozen=True)
class Wires:
    """Wires in a thread.

    diameter_mm    as used in the computation;  half_width_mm  what that is good to
    is_same_micrometer   True where the micrometer that reads M also sized them: its error then
                   comes in at -1/sin a instead of 1
    """

    diameter_mm: float
    pitch_mm: float
    half_angle_rad: float
    half_width_mm: float = MEASURED_WIRES_MM
    is_same_micrometer: bool = False
    flank_angle_half_width_rad: float = FLANK_ANGLE_RAD
    pitch_half_width_mm: float = 0.0
    force_half_width_mm: float = FORCE_RESIDUAL_MM


def plain_lines(instrument: Instrument, size_mm: float, sensitivity: float = 1.0) -> list[Line]:
    """Resolution and maximum permissible error alone, the plain form of the budget."""
    error = max_error(instrument, size_mm)
    return [
        Line(
            say("resolution"),
            instrument.resolution_mm / 2,
            note=say("half a step either way"),
        ),
        Line(
            say("instrument error"),
            error.max_error_mm,
            sensitivity=sensitivity,
            is_common=True,
            note=say("default: {source}", source=error.source)
            if error.is_default
            else error.source,
        ),
    ]


def direct_lines(
    instrument: Instrument,
    scatter: Scatter,
    warmth: Warmth | None = None,
) -> list[Line]:
    """The budget of a size read directly (micrometer, calliper, thread micrometer, bore gauge)."""
    return _reading_lines(instrument, scatter, warmth, 1.0)


def over_wires_lines(
    instrument: Instrument,
    scatter: Scatter,
    wires: Wires,
    warmth: Warmth | None = None,
) -> list[Line]:
    """The budget of a pitch diameter from a reading M over wires.

    E = M - w (1 + 1/sin a) + (P/2) / tan a;  dE/dM 1, dE/dw -(1 + 1/sin a), dE/dP 1/(2 tan a),
    dE/da (w cos a - P/2) / sin^2 a, which is 0 with the best wire.
    Source: derived from the formula of ASME B1.2.
    """
    a = wires.half_angle_rad
    wire_slope = 1 + 1 / math.sin(a)
    instrument_slope = 1 - wire_slope if wires.is_same_micrometer else 1.0
    angle_slope = (wires.diameter_mm * math.cos(a) - wires.pitch_mm / 2) / math.sin(a) ** 2
    lines = [
        Line(
            say("wire diameter"),
            wires.half_width_mm,
            sensitivity=-wire_slope,
            is_common=True,
            note=say("mean diameter of the set; cancels in what came off"),
        ),
        Line(
            say("half angle"),
            wires.flank_angle_half_width_rad,
            sensitivity=angle_slope,
            is_common=True,
            unit="rad",
            note=say("nothing with the best wire; tool ground to a centre gauge, common practice"),
        ),
        Line(
            say("pitch"),
            wires.pitch_half_width_mm,
            sensitivity=1 / (2 * math.tan(a)),
            is_common=True,
            note=say("0: the pitch diameter is where the groove is half the stated pitch wide"),
        ),
        Line(
            say("measuring force"),
            wires.force_half_width_mm,
            is_common=True,
            note=say("what stays once the flattening of thread and of wire sizing cancel"),
        ),
    ]
    used = [line for line in lines if line.standard_uncertainty_mm > 0]
    return _reading_lines(instrument, scatter, warmth, instrument_slope) + used


def crest_lines(half_width_mm: float, slope: float, is_assumed: bool) -> list[Line]:
    """The crest (or bore) under wires or balls that stand on its corners; none where slope is 0.

    slope   change of the size for a change of the crest over that for a change of the reading,
            over the whole half-width: near an uncut crest it is no constant
    """
    if slope <= 0:
        return []
    note = (
        say("assumed in the middle of its limits; on the corners the size hangs on it")
        if is_assumed
        else say("as good as this instrument; on the corners the size hangs on it")
    )
    return [
        Line(
            say("crest diameter"),
            half_width_mm,
            sensitivity=-slope,
            is_common=True,
            note=note,
        )
    ]


def _reading_lines(
    instrument: Instrument, scatter: Scatter, warmth: Warmth | None, slope: float
) -> list[Line]:
    lines = plain_lines(instrument, scatter.mean_mm, slope)
    lines.append(
        Line(
            say("scatter of readings"),
            scatter.s_mm / math.sqrt(scatter.count),
            Shape.NORMAL,
            dof=scatter.dof,
            is_averaged=True,
            is_expanded_alone=scatter.stands_alone,
            scatter=scatter,
            note=_scatter_words(scatter),
        )
    )
    if instrument.is_zero_checked:
        lines.append(
            Line(
                say("zero check"),
                instrument.resolution_mm / 2,
                sensitivity=slope,
                is_common=True,
                note=say("the zero was read to half a step"),
            )
        )
    return lines + (
        [] if warmth is None else temperature_lines(scatter.mean_mm, instrument, warmth)
    )


def _scatter_words(scatter: Scatter) -> str:
    if scatter.is_pair:
        return _pair_words(scatter)
    if scatter.is_prior:
        return _guess_words(scatter)
    if scatter.from_record:
        return say(
            "as repeats with this instrument scattered, {repeats} of them in earlier jobs; "
            "{count} averaged",
            repeats=f"{scatter.from_record:.0f}",
            count=scatter.count,
        )
    if scatter.dof > scatter.count - 1:
        return say(
            "as the repeat readings of this job scattered, {count} averaged", count=scatter.count
        )
    return say("as {count} readings scattered", count=scatter.count)


def _pair_words(scatter: Scatter) -> str:
    is_step, guess = scatter.step_mm >= scatter.guess_mm, _guess_um(scatter)
    if scatter.count > 1:
        if is_step:
            return say("two readings: pooled with a step as if it had been seen")
        return say(
            "two readings: pooled with {guess} µm, what hands repeat to with this kind of "
            "instrument, as if it had been seen",
            guess=guess,
        )
    if is_step:
        return say("two earlier readings: pooled with a step as if it had been seen")
    return say(
        "two earlier readings: pooled with {guess} µm, what hands repeat to with this kind of "
        "instrument, as if it had been seen",
        guess=guess,
    )


def _guess_words(scatter: Scatter) -> str:
    if scatter.guess_mm > PRIOR_SCATTER_STEPS * scatter.step_mm:
        return say(
            "{guess} µm, what hands repeat to with this kind of instrument, taken for each of "
            "{count}, common practice",
            guess=_guess_um(scatter),
            count=scatter.count,
        )
    return say("half a step taken for each of {count}, common practice", count=scatter.count)


def _guess_um(scatter: Scatter) -> str:
    return f"{scatter.guess_mm * 1000:g}"


def temperature_lines(length_mm: float, instrument: Instrument, warmth: Warmth) -> list[Line]:
    """Lines for temperatures and coefficients; a touch's range is no line, since it is a range.

    Sensitivities: length x (T - 20) for a coefficient, length x coefficient for a temperature.
    Source: GUM (JCGM 100) H.1 and ISO/TR 16015, from memory.
    """
    instrument_offset_c = warmth.instrument_temperature_c - REFERENCE_C
    lines = [
        Line(
            say("part temperature"),
            warmth.part.spread_c,
            sensitivity=-length_mm * warmth.material.expansion_per_c,
            unit="°C",
            note=say("the thermometer's own error"),
        ),
        Line(
            say("part expansion"),
            warmth.material.spread_per_c,
            sensitivity=length_mm * warmth.part.farthest_from_20_c,
            unit="1/°C",
            note=say("spread of published values for {material}", material=warmth.material.words),
        ),
        Line(
            say("instrument temperature"),
            warmth.instrument_spread_c,
            sensitivity=length_mm * instrument.expansion_per_c,
            unit="°C",
            note=say("handled in the shop, common practice"),
        ),
        Line(
            say("instrument expansion"),
            LEAST_SPREAD_PER_C,
            sensitivity=length_mm * instrument_offset_c,
            unit="1/°C",
            note=say("steel 11.5 +-1 (ISO 3650)"),
        ),
    ]
    return [line for line in lines if line.standard_uncertainty_mm > 0]
