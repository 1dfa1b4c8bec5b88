"""The working from one reading to the size it means."""

from __future__ import annotations

from server.logbook import measuring, sizes
from server.logbook.setup import Setup
from server.logbook.sizes import Logged, Sized
from server.logbook.working_balls import OverBalls
from server.logbook.working_steps import Scale, Step, number, number_result
from server.logbook.working_wires import OverWires
from server.metrology import thermal
from server.metrology.units import MM_PER_INCH, from_celsius
from server.wording import say

THERMAL_SOURCE = say("ISO 1; ISO/TR 16015 (recalled)")


def reading_steps(setup: Setup, logged: Logged, found: Sized, scale: Scale) -> tuple[Step, ...]:
    """Every step from what was typed to the size at 20 degrees C."""
    steps = [*_typed_steps(setup, logged, scale), *_temperature_steps(logged, found)]
    steps += at_temperature(setup, logged, found, scale, found.central_c)
    return tuple(steps)


def end_steps(
    setup: Setup, logged: Logged, found: Sized, scale: Scale
) -> tuple[tuple[str, tuple[Step, ...]], ...]:
    """The same at both ends of the temperature range, with a heading; () where it is a number."""
    span = found.temperature
    if span.is_number:
        return ()
    return tuple(
        (
            say("If the part is at {degrees} °C", degrees=f"{degrees:g}"),
            tuple(at_temperature(setup, logged, found, scale, degrees)),
        )
        for degrees in (span.low_c, span.high_c)
    )


def _typed_steps(setup: Setup, logged: Logged, scale: Scale) -> list[Step]:
    row, instrument = logged.row, logged.instrument
    assert row.value_mm is not None
    assert instrument is not None
    steps = []
    if row.unit != setup.unit:
        factor = number("k", say("mm in an inch, exact"), MM_PER_INCH, 1)
        typed = row.value_mm if row.unit == "mm" else row.value_mm / MM_PER_INCH
        steps.append(
            Step(
                say("The reading in {unit}", unit=setup.unit),
                scale.result("V", say("reading"), row.value_mm),
                "v / k" if row.unit == "mm" else "v × k",
                (number("v", say("typed"), typed, unit=row.unit), factor),
                say("international inch, 1959"),
            )
        )
    offset_mm = instrument.zero_offset_mm
    steps.append(
        Step(
            say("Zero error taken off"),
            scale.result("R", say("reading without zero error"), row.value_mm - offset_mm),
            "V − z",
            (
                scale.length("V", say("reading"), row.value_mm),
                scale.length("z", say("shown at true zero"), offset_mm),
            ),
            say("last zero check of {name}", name=instrument.name)
            if instrument.is_zero_checked
            else "",
            ""
            if instrument.is_zero_checked
            else say("No zero check is logged: nothing is taken off."),
        )
    )
    return steps


def _temperature_steps(logged: Logged, found: Sized) -> list[Step]:
    row, span = logged.row, found.temperature
    used = number_result("T", say("part temperature"), found.central_c, 4, "°C")
    if span.is_number and row.temperature_unit == "F":
        typed = number("t", say("noted"), from_celsius(found.central_c, "F"), unit="°F")
        return [
            Step(
                say("Part temperature"),
                used,
                "(t − 32) / 1.8",
                (typed,),
                say("exact by definition"),
            )
        ]
    if span.is_number:
        return [Step(say("Part temperature"), used, source=say("as noted"))]
    ends = (
        number("low", say("coldest it may be"), span.low_c, unit="°C"),
        number("high", say("warmest it may be"), span.high_c, unit="°C"),
    )
    noted = {"noted": span.words, "low": f"{span.low_c:g}", "high": f"{span.high_c:g}"}
    if found.central_c == span.middle_c and row.touch not in ("", "shop"):
        return [
            Step(
                say("Part temperature, middle of the range"),
                used,
                "(low + high) / 2",
                ends,
                say("touch ranges, common practice; skin-contact figures of ASTM C1055"),
                say("“{noted}” means {low} to {high} °C.", **noted),
            )
        ]
    return [
        Step(
            say("Part temperature"),
            used,
            source=say("shop temperature of the day"),
            note=say(
                "“{noted}” means {low} to {high} °C; nothing says that the part is warm, so the "
                "size is worked out at shop temperature and the range stands beside it.",
                **noted,
            ),
        )
    ]


def at_temperature(
    setup: Setup, logged: Logged, found: Sized, scale: Scale, part_c: float
) -> list[Step]:
    """Factor, reading at 20 degrees C, size, at one temperature of the part."""
    alphas = setup.material.expansion_per_c, found.instrument.expansion_per_c
    factor = thermal.expansion_factor(alphas[0], part_c, alphas[1], found.instrument_temperature_c)
    at_20_mm = thermal.size_at_20c_mm(
        found.reading_mm, alphas[0], part_c, alphas[1], found.instrument_temperature_c
    )
    is_direct = found.contact == sizes.DIRECT
    name, words = ("D20", say("size at 20 °C")) if is_direct else ("M20", say("reading at 20 °C"))
    steps = [
        Step(
            say("Temperature factor"),
            number_result("F", say("size at 20 °C over reading"), factor, 9),
            "(1 + αi × (Ti − 20)) / (1 + αp × (T − 20))",
            (
                number("αi", say("growth of the instrument"), alphas[1], 12, "1/°C"),
                number("Ti", say("its temperature"), found.instrument_temperature_c, unit="°C"),
                number(
                    "αp",
                    say("growth of {material}", material=setup.material.words),
                    alphas[0],
                    12,
                    "1/°C",
                ),
                number("T", say("part temperature"), part_c, unit="°C"),
            ),
            THERMAL_SOURCE,
        ),
        Step(
            say("Taken to 20 °C"),
            scale.result(name, words, at_20_mm),
            "R × F",
            (
                scale.length("R", say("reading without zero error"), found.reading_mm),
                number("F", say("temperature factor"), factor, 12),
            ),
            THERMAL_SOURCE,
        ),
    ]
    contact = sizes.conversion(setup, logged.row)(at_20_mm)
    target, wires = setup.thread, found.wires
    if target is not None and wires is not None and setup.method == measuring.OVER_WIRES:
        return steps + OverWires(setup, target, wires, scale, at_20_mm, contact).steps()
    if target is not None and wires is not None and setup.method == measuring.OVER_BALLS:
        return (
            steps + OverBalls(setup, target, wires.effective_mm, scale, at_20_mm, contact).steps()
        )
    return steps
