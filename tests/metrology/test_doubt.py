"""Budgets against published ones, a general uncertainty library and Monte Carlo."""

from __future__ import annotations

import math
import random
from itertools import groupby

import pytest
import uncertainties
import uncertainties.umath
from hypothesis import given, settings
from hypothesis import strategies as st

from server.metrology.distributions import student_quantile
from server.metrology.doubt import Budget, Line, Shape, budget, coverage_factor
from server.metrology.doubt_lines import (
    MEASURED_WIRES_MM,
    NOMINAL_WIRES_MM,
    Warmth,
    Wires,
    direct_lines,
    over_wires_lines,
    plain_lines,
    temperature_lines,
)
from server.metrology.instruments import Instrument, InstrumentKind
from server.metrology.materials import find
from server.metrology.scatter import scatter
from server.metrology.thermal import TemperatureRange, expansion_factor
from tests.reference_rows import rows

INCH = 25.4
MICROMETER = Instrument(InstrumentKind.MICROMETER, 0.001, 0.004)
INCH_MICROMETER = Instrument(InstrumentKind.MICROMETER, 0.0001 * INCH, 0.0001 * INCH)
COLD = TemperatureRange(20.0, 20.0, "20 °C", True, 0.5)
TOTALS = {"u", "U", "dof", "U99", "k"}
EXAMPLES = {
    name: list(group)
    for name, group in groupby(rows("budget_examples"), key=lambda row: row["example"])
}


def _line(row: dict[str, str]) -> Line:
    return Line(
        row["name"],
        float(row["spread"]),
        Shape(row["shape"]),
        sensitivity=float(row["sensitivity"]),
        dof=float(row["dof"]) if row["dof"] else math.inf,
        unit=row["unit"],
    )


@pytest.mark.parametrize("example", EXAMPLES)
def test_published_budgets_come_out_to_their_printed_digits(example: str) -> None:
    lines = [row for row in EXAMPLES[example] if row["name"] not in TOTALS]
    for row in lines:
        if row["printed"]:
            assert _line(row).standard_uncertainty_mm == pytest.approx(
                float(row["printed"]), abs=float(row["half_digit"])
            ), row["name"]
    total = budget(map(_line, lines))
    u99 = student_quantile(0.995, max(1, math.floor(total.dof))) if total.dof < 1e6 else 2.576
    found = {
        "u": total.u_mm,
        "dof": total.dof,
        "k": total.coverage_factor,
        "U": total.doubt_mm,
        "U99": u99 * total.u_mm,
    }
    printed = [row for row in EXAMPLES[example] if row["name"] in TOTALS]
    assert printed
    for row in printed:
        assert found[row["name"]] == pytest.approx(
            float(row["printed"]), abs=float(row["half_digit"])
        ), row["name"]


def test_most_of_the_budgets_were_read_in_print_four_of_them_of_lengths() -> None:
    published = {
        row["example"] for row in rows("budget_examples") if row["obtained"] == "published"
    }
    assert len(published) >= 7
    lengths = {row["example"] for row in rows("budget_examples") if row["unit"] in ("nm", "um")}
    assert len(published & lengths) >= 4


def _random_lines(world: random.Random) -> list[Line]:
    return [
        Line(
            f"line {i}",
            10 ** world.uniform(-4, -2),
            world.choice(list(Shape)),
            sensitivity=world.uniform(-5, 5),
            divisor=world.choice([None, None, 2.0]),
            dof=world.choice([math.inf, world.uniform(2, 60)]),
            is_common=world.random() < 0.5,
        )
        for i in range(world.randint(1, 9))
    ]


_STANDARD = {
    Shape.NORMAL: 1.0,
    Shape.RECTANGULAR: 1 / math.sqrt(3),
    Shape.TRIANGULAR: 1 / math.sqrt(6),
    Shape.U_SHAPED: 1 / math.sqrt(2),
}


@pytest.mark.parametrize("seed", range(200))
def test_a_general_uncertainty_library_agrees(seed: int) -> None:
    lines = _random_lines(random.Random(seed))
    inputs = [
        uncertainties.ufloat(
            1.0, line.spread * (_STANDARD[line.shape] if line.divisor is None else 0.5)
        )
        for line in lines
    ]
    total = sum(line.sensitivity * x for line, x in zip(lines, inputs, strict=True))
    found = budget(lines)
    assert found.u_mm == pytest.approx(total.std_dev, rel=0.01)
    assert math.hypot(found.u_common_mm, found.u_per_reading_mm) == pytest.approx(found.u_mm)


@pytest.mark.parametrize("seed", range(200))
def test_the_library_agrees_on_real_budgets_with_its_own_derivatives(seed: int) -> None:
    """The pitch diameter as a formula of its inputs: the library differentiates it itself."""
    world = random.Random(seed)
    half_angle = math.radians(world.choice([14.5, 15, 27.5, 30]))
    pitch = world.uniform(0.5, 5)
    wire = pitch / (2 * math.cos(half_angle)) * world.uniform(0.9, 1.2)
    reading, part_c, tool_c = world.uniform(3, 90), world.uniform(15, 60), world.uniform(15, 35)
    material = find(world.choice(["1018", "304", "6061", "brass", "grey iron"]))
    note = TemperatureRange(part_c, part_c, "", True, 0.5)
    instrument = Instrument(
        InstrumentKind.MICROMETER, 10 ** world.uniform(-3.3, -2), 10 ** world.uniform(-3, -2)
    )
    wires = Wires(
        wire,
        pitch,
        half_angle,
        half_width_mm=world.choice([MEASURED_WIRES_MM, NOMINAL_WIRES_MM]),
        pitch_half_width_mm=world.choice([0.0, 0.003]),
    )
    found = budget(
        over_wires_lines(
            instrument,
            scatter([reading], instrument.resolution_mm),
            wires,
            Warmth(note, material, tool_c),
        )
    )

    def about(value: float, half_width: float) -> uncertainties.UFloat | float:
        return uncertainties.ufloat(value, half_width / math.sqrt(3)) if half_width else value

    m = about(reading, instrument.resolution_mm / 2) + about(0, instrument.max_error_mm or 0)
    m += uncertainties.ufloat(0, instrument.resolution_mm / 2)  # scatter: half a step
    m += about(0, wires.force_half_width_mm)
    part = 1 + about(material.expansion_per_c, material.spread_per_c) * (about(part_c, 0.5) - 20)
    tool = 1 + about(instrument.expansion_per_c, 1e-6) * (about(tool_c, 1.0) - 20)
    w, p = about(wire, wires.half_width_mm), about(pitch, wires.pitch_half_width_mm)
    a = about(half_angle, wires.flank_angle_half_width_rad)
    sine, cosine = uncertainties.umath.sin(a), uncertainties.umath.cos(a)
    e = m * tool / part - w * (1 + 1 / sine) + p / 2 * cosine / sine
    assert found.u_mm == pytest.approx(e.std_dev, rel=0.01)


def _draw(world: random.Random, line: Line) -> float:
    if line.shape is Shape.NORMAL:
        return world.gauss(0, line.spread)
    if line.shape is Shape.RECTANGULAR:
        return world.uniform(-line.spread, line.spread)
    if line.shape is Shape.TRIANGULAR:
        return world.triangular(-line.spread, line.spread)
    return line.spread * math.sin(world.uniform(-math.pi, math.pi))


@pytest.mark.parametrize("seed", range(5))
def test_a_monte_carlo_of_the_same_budget_agrees_within_its_scatter(seed: int) -> None:
    world = random.Random(1000 + seed)
    lines = [line for line in _random_lines(world) if line.divisor is None]
    lines.append(Line("one more", 0.002))
    trials = 20_000
    squares = []
    for _ in range(trials):
        error = sum(line.sensitivity * _draw(world, line) for line in lines)
        squares.append(error * error)
    variance = sum(squares) / trials
    fourth = sum(square * square for square in squares) / trials
    standard_error = math.sqrt((fourth - variance**2) / trials)
    assert abs(variance - budget(lines).u_mm ** 2) < 4 * standard_error


def test_plain_form_is_resolution_and_instrument_error_alone() -> None:
    """resolution d/sqrt 12, maximum permissible error m/sqrt 3 (GUM 4.3.7), U = 2 u."""
    found = budget(plain_lines(INCH_MICROMETER, 16.0))
    inch_u = math.hypot(0.0001 / math.sqrt(12), 0.0001 / math.sqrt(3))
    assert found.doubt_mm == pytest.approx(2 * inch_u * INCH)
    assert found.coverage_factor == 2.0


def test_with_nothing_else_known_the_doubt_stays_close_to_the_plain_form() -> None:
    """0.0001 in and 0.0001 in: the plain form says 0.00013 in, a reading by hand 0.00016 in."""
    plain = budget(plain_lines(INCH_MICROMETER, 16.0))
    warmth = Warmth(TemperatureRange(18, 22, "not noted"), find("carbon steel"), 20.0)
    full = budget(direct_lines(INCH_MICROMETER, scatter([16.0], 0.0001 * INCH), warmth))
    assert plain.doubt_mm < full.doubt_mm < 1.3 * plain.doubt_mm
    assert full.doubt_mm / INCH < 0.00017
    assert full.coverage_factor == 2.0


def _named(found: Budget) -> dict[str, float]:
    return {line.name: line.standard_uncertainty_mm * 1000 for line in found.lines}


def test_the_over_wires_budget_has_the_reference_lines() -> None:
    """uncertainty.md B, um: MPE 4 -> 2.31, wires +-1 -> 1.73, pitch +-3 -> 1.50, force +-2 -> 1.15.

    Computed there; inputs are assumptions of that table.
    """
    best_mm = 1.5 / (2 * math.cos(math.radians(30)))
    wires = Wires(
        best_mm, 1.5, math.radians(30), 0.001, pitch_half_width_mm=0.003, force_half_width_mm=0.002
    )
    named = _named(budget(over_wires_lines(MICROMETER, scatter([10.8], 0.001), wires)))
    assert named["instrument error"] == pytest.approx(2.31, abs=0.005)
    assert named["wire diameter"] == pytest.approx(1.73, abs=0.005)
    assert named["pitch"] == pytest.approx(1.50, abs=0.005)
    assert named["measuring force"] == pytest.approx(1.15, abs=0.006)
    assert named.get("half angle", 0) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("half_angle_deg", "wire", "pitch"),
    [(30, 3.0, 0.866), (14.5, 4.99, 1.933), (15, 4.86, 1.866), (27.5, 3.17, 0.960)],
)
def test_sensitivities_match_the_reference(
    half_angle_deg: float, wire: float, pitch: float
) -> None:
    """wires.md 6: dE/dw = -(1 + 1/sin a), dE/dP = 1/(2 tan a)."""
    wires = Wires(1.0, 1.5, math.radians(half_angle_deg), pitch_half_width_mm=0.001)
    lines = over_wires_lines(MICROMETER, scatter([20.0], 0.001), wires)
    slope = {line.name: line.sensitivity for line in lines}
    assert -slope["wire diameter"] == pytest.approx(wire, abs=0.006)
    assert slope["pitch"] == pytest.approx(pitch, abs=0.0006)


def test_an_off_size_wire_brings_the_flank_angle_in() -> None:
    """wires.md 6: 1.2 best on M10x1.5, 2.6 um per 0.25 degrees."""
    wire_mm = 1.2 * 1.5 / (2 * math.cos(math.radians(30)))
    lines = over_wires_lines(
        MICROMETER, scatter([11.0], 0.001), Wires(wire_mm, 1.5, math.radians(30))
    )
    found = next(line for line in lines if line.name == "half angle")
    assert found.sensitivity * found.spread * 1000 == pytest.approx(2.6, abs=0.05)


def test_wires_sized_with_the_same_micrometer_share_its_error() -> None:
    """uncertainty.md: a bias b in both gives -b/sin a: 2 b at 60 degrees, 4 b at 29."""
    for half_angle_deg, times in ((30, 2.0), (14.5, 3.99)):
        wires = Wires(1.0, 1.5, math.radians(half_angle_deg), is_same_micrometer=True)
        lines = over_wires_lines(MICROMETER, scatter([20.0], 0.001), wires)
        error = next(line for line in lines if line.name == "instrument error")
        assert abs(error.sensitivity) == pytest.approx(times, abs=0.005)


def test_wires_and_instrument_cancel_in_what_came_off() -> None:
    wires = Wires(1.0, 1.5, math.radians(30), NOMINAL_WIRES_MM)
    found = budget(over_wires_lines(MICROMETER, scatter([20.0], 0.001), wires))
    better = budget(
        over_wires_lines(
            Instrument(InstrumentKind.MICROMETER, 0.001, 0.0001),
            scatter([20.0], 0.001),
            Wires(1.0, 1.5, math.radians(30), 1e-6),
        )
    )
    assert found.u_common_mm > 5 * found.u_per_reading_mm
    assert found.u_per_reading_mm == better.u_per_reading_mm


def test_the_thermometer_counts_once_and_a_touch_not_at_all_in_the_doubt() -> None:
    steel = find("carbon steel")
    number = Warmth(TemperatureRange(40, 40, "40 °C", True, 0.5), steel, 20.0)
    touch = Warmth(TemperatureRange(34, 46, "warm in the hand"), steel, 20.0)
    by_number = {line.name: line for line in temperature_lines(25.0, MICROMETER, number)}
    by_touch = {line.name: line for line in temperature_lines(25.0, MICROMETER, touch)}
    assert by_number["part temperature"].standard_uncertainty_mm == pytest.approx(
        25 * 11.7e-6 * 0.5 / math.sqrt(3)
    )
    assert "part temperature" not in by_touch
    assert by_touch["part expansion"].sensitivity == pytest.approx(25 * 26)


def test_temperature_sensitivities_are_those_of_the_correction() -> None:
    steel, step = find("carbon steel"), 1e-3
    warmth = Warmth(TemperatureRange(40, 40, "", True, 0.5), steel, 23.0)
    slopes = {line.name: line.sensitivity for line in temperature_lines(25.0, MICROMETER, warmth)}

    def size(part_c: float, instrument_c: float) -> float:
        return 25 * expansion_factor(11.7e-6, part_c, 11.5e-6, instrument_c)

    by_part = (size(40 + step, 23) - size(40 - step, 23)) / (2 * step)
    by_instrument = (size(40, 23 + step) - size(40, 23 - step)) / (2 * step)
    assert slopes["part temperature"] == pytest.approx(by_part, rel=1e-3)
    assert slopes["instrument temperature"] == pytest.approx(by_instrument, rel=1e-3)


def test_repeat_readings_are_averaged_and_shrink_only_the_scatter() -> None:
    one = budget(direct_lines(MICROMETER, scatter([20.0], 0.001)))
    four = budget(direct_lines(MICROMETER, scatter([20.0, 20.0, 20.0, 20.0], 0.001)))
    assert _named(four)["scatter of readings"] == _named(one)["scatter of readings"] / 2
    assert _named(four)["instrument error"] == _named(one)["instrument error"]
    assert one.with_repeats(4).u_mm == pytest.approx(four.u_mm)
    assert scatter([20.0, 20.002], 0.001).mean_mm == pytest.approx(20.001)


def test_a_logged_zero_check_is_one_more_line() -> None:
    checked = Instrument(InstrumentKind.MICROMETER, 0.001, 0.004, 0.002, is_zero_checked=True)
    names = [line.name for line in direct_lines(checked, scatter([20.0], 0.001))]
    assert "zero check" in names
    assert "zero check" not in [
        line.name for line in direct_lines(MICROMETER, scatter([20.0], 0.001))
    ]


def test_every_line_says_why_it_is_there() -> None:
    wires = Wires(1.0, 1.5, math.radians(30), pitch_half_width_mm=0.001)
    warmth = Warmth(TemperatureRange(40, 40, "", True, 0.5), find("brass"), 25.0)
    lines = over_wires_lines(MICROMETER, scatter([20.0], 0.001), wires, warmth)
    assert all(line.note for line in lines)
    assert len({line.name for line in lines}) == len(lines)


def test_few_readings_take_a_larger_factor_and_say_so() -> None:
    """GUM Table G.2, from memory: t for 95.45 % is 2.87 at 4 degrees of freedom."""
    k, reason = coverage_factor(4.9)
    assert k == pytest.approx(2.87, abs=0.005)
    assert "4 effective degrees of freedom" in reason
    assert coverage_factor(20.0)[0] == 2.0
    assert coverage_factor(math.inf) == (2.0, "k = 2, about 95 %")


def test_an_empty_budget_has_no_doubt() -> None:
    found = budget([])
    assert (found.u_mm, found.doubt_mm, found.dof) == (0.0, 0.0, math.inf)
    with pytest.raises(ValueError, match="at least 1"):
        found.with_repeats(0)


@given(st.lists(st.floats(0, 1), min_size=1, max_size=6), st.floats(0, 1))
@settings(max_examples=60)
def test_one_more_line_never_lowers_the_doubt(spreads: list[float], more: float) -> None:
    lines = [Line(str(i), spread) for i, spread in enumerate(spreads)]
    assert budget([*lines, Line("more", more)]).doubt_mm >= budget(lines).doubt_mm - 1e-12


def test_inch_and_millimetre_budgets_agree() -> None:
    lines = plain_lines(INCH_MICROMETER, 16.0)
    in_inch = [Line(line.name, line.spread / INCH, line.shape) for line in lines]
    assert budget(in_inch).doubt_mm * INCH == pytest.approx(budget(lines).doubt_mm)


def test_cold_and_settled_the_temperature_hardly_counts() -> None:
    warmth = Warmth(COLD, find("carbon steel"), 20.0)
    with_it = budget(direct_lines(MICROMETER, scatter([15.875], 0.001), warmth))
    without = budget(direct_lines(MICROMETER, scatter([15.875], 0.001)))
    assert with_it.doubt_mm < 1.01 * without.doubt_mm
