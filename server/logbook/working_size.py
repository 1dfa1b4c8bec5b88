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

THERMAL_SOURCE = "ISO 1; ISO/TR 16015 (recalled)"


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
            f"If the part is at {degrees:g} °C",
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
        factor = number("k", "mm in an inch, exact", MM_PER_INCH, 1)
        typed = row.value_mm if row.unit == "mm" else row.value_mm / MM_PER_INCH
        steps.append(
            Step(
                f"The reading in {setup.unit}",
                scale.result("V", "reading", row.value_mm),
                "v / k" if row.unit == "mm" else "v × k",
                (number("v", "typed", typed, unit=row.unit), factor),
                "international inch, 1959",
            )
        )
    offset_mm = instrument.zero_offset_mm
    steps.append(
        Step(
            "Zero error taken off",
            scale.result("R", "reading without zero error", row.value_mm - offset_mm),
            "V − z",
            (
                scale.length("V", "reading", row.value_mm),
                scale.length("z", "shown at true zero", offset_mm),
            ),
            f"last zero check of {instrument.name}" if instrument.is_zero_checked else "",
            "" if instrument.is_zero_checked else "No zero check is logged: nothing is taken off.",
        )
    )
    return steps


def _temperature_steps(logged: Logged, found: Sized) -> list[Step]:
    row, span = logged.row, found.temperature
    used = number_result("T", "part temperature", found.central_c, 4, "°C")
    if span.is_number and row.temperature_unit == "F":
        typed = number("t", "noted", from_celsius(found.central_c, "F"), unit="°F")
        return [Step("Part temperature", used, "(t − 32) / 1.8", (typed,), "exact by definition")]
    if span.is_number:
        return [Step("Part temperature", used, source="as noted")]
    ends = (
        number("low", "coldest it may be", span.low_c, unit="°C"),
        number("high", "warmest it may be", span.high_c, unit="°C"),
    )
    words = f"“{span.words}” means {span.low_c:g} to {span.high_c:g} °C"
    if found.central_c == span.middle_c and row.touch not in ("", "shop"):
        return [
            Step(
                "Part temperature, middle of the range",
                used,
                "(low + high) / 2",
                ends,
                "touch ranges, common practice; skin-contact figures of ASTM C1055",
                words + ".",
            )
        ]
    return [
        Step(
            "Part temperature",
            used,
            source="shop temperature of the day",
            note=f"{words}; nothing says that the part is warm, so the size is worked out at shop "
            "temperature and the range stands beside it.",
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
    name, words = ("D20", "size at 20 °C") if is_direct else ("M20", "reading at 20 °C")
    steps = [
        Step(
            "Temperature factor",
            number_result("F", "size at 20 °C over reading", factor, 9),
            "(1 + αi × (Ti − 20)) / (1 + αp × (T − 20))",
            (
                number("αi", "growth of the instrument", alphas[1], 12, "1/°C"),
                number("Ti", "its temperature", found.instrument_temperature_c, unit="°C"),
                number("αp", f"growth of {setup.material.name}", alphas[0], 12, "1/°C"),
                number("T", "part temperature", part_c, unit="°C"),
            ),
            THERMAL_SOURCE,
        ),
        Step(
            "Taken to 20 °C",
            scale.result(name, words, at_20_mm),
            "R × F",
            (
                scale.length("R", "reading without zero error", found.reading_mm),
                number("F", "temperature factor", factor, 12),
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
