"""How often the stated interval holds the truth: simulated readings with known truth.

Run as `python -m tests.bench.coverage [readings]`; prints one line a scenario.  An instrument's
error, a set of wires and a part's coefficient are drawn once a job, not once a reading.
"""

from __future__ import annotations

import math
import random
import sys
from dataclasses import dataclass

from server.metrology.decision import GuardRule, Verdict, range_verdict
from server.metrology.doubt import Budget, budget
from server.metrology.doubt_lines import (
    FLANK_ANGLE_RAD,
    Warmth,
    Wires,
    direct_lines,
    over_wires_lines,
)
from server.metrology.instruments import Instrument, InstrumentKind
from server.metrology.materials import LEAST_SPREAD_PER_C, Material, find
from server.metrology.model import Limits
from server.metrology.scatter import NO_REPEATS, Repeats, scatter
from server.metrology.thermal import (
    THERMOMETER_SPREAD_C,
    Touch,
    WarmSize,
    expansion_factor,
    part_temperature,
    warm_size,
)

STATES_A_JOB = 20
HALF_ANGLE_RAD = math.radians(30)


@dataclass(frozen=True)
class Scenario:
    """What is measured and how.

    note      "number" (a thermometer), a touch, or None where nothing was noted after a cut
    scatter_mm   how well hand and part repeat;  repeats  readings averaged
    repeats_before   readings at each of the job's first two states, which are not judged
    states    judged in each job;  1: nothing is known but what this state's own readings show
    record    states repeated three times in earlier jobs with the instrument
    is_rectangular   True where a rectangular term dominates, so that k = 2 covers more
    """

    name: str
    size_mm: float = 15.875
    material: str = "carbon steel"
    resolution_mm: float = 0.001
    max_error_mm: float = 0.004
    scatter_mm: float = 0.0005
    repeats: int = 1
    repeats_before: int = 1
    states: int = STATES_A_JOB
    record: int = 0
    shop_c: float = 20.0
    part_c: tuple[float, float] = (20.0, 20.0)
    note: str | Touch | None = "number"
    pitch_mm: float | None = None
    is_rectangular: bool = True


@dataclass(frozen=True)
class Outcome:
    """One simulated measurement: the truth, the size range and its budget."""

    truth_mm: float
    size: WarmSize
    budget: Budget

    @property
    def holds(self) -> bool:
        low_mm = self.size.low_mm - self.budget.doubt_mm
        return low_mm <= self.truth_mm <= self.size.high_mm + self.budget.doubt_mm


SCENARIOS = (
    Scenario("cold, micrometer, one reading"),
    Scenario(
        "cold, inch micrometer", resolution_mm=0.00254, max_error_mm=0.00254, scatter_mm=0.00127
    ),
    Scenario("cold, calliper", resolution_mm=0.01, max_error_mm=0.02, scatter_mm=0.005),
    Scenario("hot shop, aluminium", material="6061", shop_c=33, part_c=(31, 40), size_mm=50),
    Scenario("warm, thermometer", part_c=(25, 60), max_error_mm=0.002),
    Scenario("warm, brass, thermometer", material="brass", part_c=(25, 60), size_mm=40),
    Scenario("warm in the hand", part_c=(34, 46), note=Touch.WARM),
    Scenario("as the shop after a cut", part_c=(18, 28), note=Touch.SHOP),
    Scenario("not noted after a cut", part_c=(18, 30), note=None),
    Scenario("over wires, cold", pitch_mm=25.4 / 18),
    Scenario("over wires, warm, thermometer", pitch_mm=25.4 / 18, part_c=(25, 55)),
    Scenario("over wires, warm in the hand", pitch_mm=25.4 / 18, part_c=(34, 46), note=Touch.WARM),
    Scenario("cold, two readings averaged", repeats=2, scatter_mm=0.001),
    Scenario(
        "scatter far above a step, 2 readings",
        max_error_mm=0.001,
        scatter_mm=0.004,
        repeats=2,
        is_rectangular=False,
    ),
    Scenario(
        "scatter far above a step, 1 reading after repeats",
        max_error_mm=0.001,
        scatter_mm=0.004,
        repeats=1,
        repeats_before=3,
        is_rectangular=False,
    ),
    Scenario(
        "scatter above a step, 1 reading, known from earlier jobs",
        max_error_mm=0.001,
        scatter_mm=0.003,
        states=1,
        record=6,
        is_rectangular=False,
    ),
    Scenario(
        "scatter above a step, 2 readings, known from earlier jobs",
        max_error_mm=0.001,
        scatter_mm=0.003,
        repeats=2,
        states=1,
        record=6,
        is_rectangular=False,
    ),
    Scenario(
        "scatter rules, 3 readings",
        max_error_mm=0.001,
        scatter_mm=0.002,
        repeats=3,
        is_rectangular=False,
    ),
    Scenario(
        "scatter rules, 5 readings",
        max_error_mm=0.001,
        scatter_mm=0.002,
        repeats=5,
        is_rectangular=False,
    ),
    Scenario(
        "scatter rules, 10 readings",
        max_error_mm=0.0015,
        scatter_mm=0.003,
        repeats=10,
        is_rectangular=False,
    ),
    Scenario(
        "scatter rules, 5 readings, warm",
        max_error_mm=0.001,
        scatter_mm=0.003,
        repeats=5,
        part_c=(25, 45),
        is_rectangular=False,
    ),
)


def first_state(
    steps: float, repeats: int, *, is_warm: bool = False, max_error_mm: float = 0.001
) -> Scenario:
    """The first readings of a job, with an instrument nothing is known of, that scatter by
    `steps` of its resolution."""
    return Scenario(
        f"first state, {repeats} readings, {steps:g} steps{', warm' if is_warm else ''}"
        f"{'' if max_error_mm == 0.001 else ', coarse'}",
        max_error_mm=max_error_mm,
        scatter_mm=steps * 0.001,
        repeats=repeats,
        states=1,
        part_c=(25.0, 45.0) if is_warm else (20.0, 20.0),
        is_rectangular=False,
    )


FIRST_STATES = (
    *(first_state(steps, repeats) for repeats in (2, 3, 5) for steps in (0.5, 1, 2, 3, 4, 6, 8)),
    *(first_state(steps, repeats, is_warm=True) for repeats in (2, 3) for steps in (1, 2, 4)),
    *(first_state(steps, 3, max_error_mm=0.004) for steps in (2, 4, 8)),
    first_state(0.5, 1),
    first_state(1, 1),
    first_state(1, 1, is_warm=True),
)


def simulate(scenario: Scenario, readings: int, seed: int = 20) -> list[Outcome]:
    """`readings` simulated measurements of parts near scenario.size_mm."""
    world = random.Random(seed)
    outcomes: list[Outcome] = []
    while len(outcomes) < readings:
        job = _Job(scenario, world)
        job.record = job.repeated_before(world)
        if scenario.repeats_before > 1:
            for _ in range(2):
                job.measure(world, scenario.repeats_before)
        outcomes += [job.measure(world) for _ in range(scenario.states)]
    return outcomes[:readings]


def coverage(outcomes: list[Outcome]) -> float:
    """Fraction of the stated intervals that hold the truth."""
    return sum(outcome.holds for outcome in outcomes) / len(outcomes)


def wrongly_in_limits(
    outcomes: list[Outcome],
    is_internal: bool,
    past_doubts: float = 0.0,
    rule: GuardRule = GuardRule.FULL,
) -> float:
    """Fraction called In limits where every part's truth lies past its limit: by a hair, or by so
    many of its own doubts.

    Nowhere can In limits be wrong more often than at a hair.
    """
    wrong = sum(
        _in_limits(each, 1e-9 + past_doubts * each.budget.doubt_mm, is_internal, rule)
        for each in outcomes
    )
    return wrong / len(outcomes)


def wrong_among_in_limits(outcomes: list[Outcome], is_internal: bool, seed: int = 21) -> float:
    """Fraction wrong of all calls In limits, where truths spread evenly about the limit, +-2 U."""
    world = random.Random(seed)
    calls = wrong = 0
    for each in outcomes:
        past_mm = world.uniform(-2, 2) * each.budget.doubt_mm
        if _in_limits(each, past_mm, is_internal):
            calls += 1
            wrong += past_mm > 0
    return wrong / calls


def _in_limits(
    outcome: Outcome, past_mm: float, is_internal: bool, rule: GuardRule = GuardRule.FULL
) -> bool:
    """The verdict, with the metal-gone limit put so that the truth is past it by past_mm."""
    limit_mm = outcome.truth_mm + (-past_mm if is_internal else past_mm)
    limits = Limits(limit_mm - 1, limit_mm) if is_internal else Limits(limit_mm, limit_mm + 1)
    size, doubt = outcome.size, outcome.budget
    found = range_verdict(
        size.low_mm, size.high_mm, doubt.doubt_mm, doubt.u_guard_mm, limits, is_internal, rule
    )
    return found.verdict is Verdict.IN_LIMITS


class _Job:
    """What stays the same over the readings of one job."""

    def __init__(self, scenario: Scenario, world: random.Random) -> None:
        self.scenario = scenario
        self.material: Material = find(scenario.material)
        self.instrument = Instrument(
            InstrumentKind.MICROMETER, scenario.resolution_mm, scenario.max_error_mm
        )
        self.repeats = self.record = NO_REPEATS
        self.error_mm = world.uniform(-scenario.max_error_mm, scenario.max_error_mm)
        self.expansion = world.uniform(self.material.low_per_c, self.material.high_per_c)
        self.instrument_expansion = self.instrument.expansion_per_c + world.uniform(
            -LEAST_SPREAD_PER_C, LEAST_SPREAD_PER_C
        )
        self.wires = None
        if scenario.pitch_mm is not None:
            best_mm = scenario.pitch_mm / (2 * math.cos(HALF_ANGLE_RAD))
            self.wires = Wires(1.05 * best_mm, scenario.pitch_mm, HALF_ANGLE_RAD)
            self.wire_error_mm = world.uniform(-1, 1) * self.wires.half_width_mm
            self.force_mm = world.uniform(-1, 1) * self.wires.force_half_width_mm
            self.angle_rad = HALF_ANGLE_RAD + world.uniform(-1, 1) * FLANK_ANGLE_RAD

    def repeated_before(self, world: random.Random) -> Repeats:
        """What earlier jobs recorded of how this instrument repeats."""
        found = NO_REPEATS
        for _ in range(self.scenario.record):
            found = found.with_group(self.readings(world, world.uniform(-0.5, 0.5), 3))
        return found

    def readings(self, world: random.Random, true_mm: float, count: int) -> list[float]:
        step_mm, scatter_mm = self.scenario.resolution_mm, self.scenario.scatter_mm
        return [_rounded(world.gauss(true_mm, scatter_mm), step_mm) for _ in range(count)]

    def measure(self, world: random.Random, repeats: int | None = None) -> Outcome:
        scenario = self.scenario
        truth_mm = scenario.size_mm + world.uniform(-0.05, 0.05)
        part_c = world.uniform(*scenario.part_c)
        instrument_c = scenario.shop_c + world.uniform(-1, 1)
        factor = expansion_factor(self.expansion, part_c, self.instrument_expansion, instrument_c)
        true_reading_mm = self._over_wires(truth_mm) / factor + self.error_mm
        readings_mm = self.readings(world, true_reading_mm, repeats or scenario.repeats)
        note: float | Touch | None
        if scenario.note == "number":
            note = part_c + world.uniform(-THERMOMETER_SPREAD_C, THERMOMETER_SPREAD_C)
        else:
            note = scenario.note if isinstance(scenario.note, Touch) else None
        temperature = part_temperature(note, scenario.shop_c, 1.0, self.material.is_metal)
        found = scatter(
            readings_mm,
            scenario.resolution_mm,
            self.repeats,
            least_mm=self.instrument.hand_scatter_mm,
            record=self.record,
        )
        self.repeats = self.repeats.with_group(readings_mm)
        warmth = Warmth(temperature, self.material, scenario.shop_c)
        size = warm_size(
            found.mean_mm,
            temperature,
            self.material.expansion_per_c,
            self.instrument.expansion_per_c,
            scenario.shop_c,
            self._to_size,
        )
        lines = (
            direct_lines(self.instrument, found, warmth)
            if self.wires is None
            else over_wires_lines(self.instrument, found, self.wires, warmth)
        )
        return Outcome(truth_mm, size, budget(lines, found.count))

    def _over_wires(self, truth_mm: float) -> float:
        if self.wires is None:
            return truth_mm
        wire_mm = self.wires.diameter_mm + self.wire_error_mm
        return truth_mm + self.force_mm + _constant_mm(wire_mm, self.wires.pitch_mm, self.angle_rad)

    def _to_size(self, reading_mm: float) -> float:
        if self.wires is None:
            return reading_mm
        return reading_mm - _constant_mm(
            self.wires.diameter_mm, self.wires.pitch_mm, HALF_ANGLE_RAD
        )


def _constant_mm(wire_mm: float, pitch_mm: float, half_angle_rad: float) -> float:
    over = wire_mm * (1 + 1 / math.sin(half_angle_rad))
    return over - pitch_mm / (2 * math.tan(half_angle_rad))


def _rounded(value_mm: float, step_mm: float) -> float:
    return round(value_mm / step_mm) * step_mm


def main() -> None:
    readings = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    print(f"{readings} readings a scenario")
    heads = "covered", "wrong at limit", "wrong of calls", "at limit, 95 %", "mean doubt, µm"
    print(f"{'scenario':52}" + "".join(f"{head:>16}" for head in heads))
    for scenario in (*SCENARIOS, *FIRST_STATES):
        outcomes = simulate(scenario, readings)
        numbers = (
            coverage(outcomes),
            wrongly_in_limits(outcomes, is_internal=False),
            wrong_among_in_limits(outcomes, is_internal=False),
            wrongly_in_limits(outcomes, is_internal=False, rule=GuardRule.NINETY_FIVE),
            sum(each.budget.doubt_mm for each in outcomes) / len(outcomes) * 1000,
        )
        print(f"{scenario.name:52}" + "".join(f"{number:16.4f}" for number in numbers))


if __name__ == "__main__":
    main()
