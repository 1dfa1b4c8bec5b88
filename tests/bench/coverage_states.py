"""What the readings of one state say together, judged as the program judges them.

Run as `python -m tests.bench.coverage_states [states]`.  Readings that know the warmth unequally
well are not averaged; a size measured again until it is in limits is tried at the limit itself.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from server.logbook.setup import Setup
from server.logbook.sizes import Logged
from server.logbook.stages import StageSize, sized_stages
from server.metrology import designation
from server.metrology.decision import GuardRule, Verdict
from server.metrology.dials import CompoundSetting, Dial, Slide, Slides
from server.metrology.instruments import Instrument, InstrumentKind
from server.metrology.materials import LEAST_SPREAD_PER_C, find
from server.metrology.model import Kind, Limits, PlainTarget
from server.metrology.scatter import NO_REPEATS
from server.metrology.thermal import THERMOMETER_SPREAD_C, Touch, expansion_factor
from server.records.tables import EntryRow

SIZE_MM = 50.0
HAND_C = (34.0, 46.0)  # what warm in the hand stands for
MOST_READINGS = 4
Note = Touch | str | None  # "number": a thermometer


@dataclass(frozen=True)
class Mixed:
    """One state of a cooling part, read once with each note; the last is with a colder part."""

    name: str
    notes: tuple[Note, ...]
    scatter_mm: float = 0.001
    max_error_mm: float = 0.001
    cools: tuple[float, ...] = ()  # of the first temperature, what is left over 20 C at each


MIXED = (
    Mixed("warm in the hand, then a thermometer", (Touch.WARM, "number")),
    Mixed("warm in the hand twice, then a thermometer twice", (Touch.WARM,) * 2 + ("number",) * 2),
    Mixed("a thermometer, then warm in the hand", ("number", Touch.WARM)),
    Mixed("nothing noted, then a thermometer", (None, "number"), cools=(0.4, 0.4)),
    Mixed("nothing noted, then as the shop", (None, Touch.SHOP), cools=(0.3, 0.3)),
    Mixed(
        "warm in the hand, then cold by a thermometer", (Touch.WARM, "number"), cools=(1.0, 0.05)
    ),
    Mixed(
        "warm in the hand, then a thermometer three times, scatter of 3 steps",
        (Touch.WARM, "number", "number", "number"),
        scatter_mm=0.003,
    ),
)


def setup(limits: Limits) -> Setup:
    """A plain diameter of carbon steel, turned by a cross-slide."""
    target = designation.read(f"{SIZE_MM} ±0.1", Kind.OUTSIDE_DIAMETER, "mm")
    assert isinstance(target, PlainTarget)
    dial = Dial("diameter", Decimal("0.02"), "mm")
    return Setup(
        feature_id=1,
        label="Seat",
        target=target,
        kind=target.kind,
        limits=limits,
        aim_mm=SIZE_MM,
        unit="mm",
        decimals=3,
        method="direct",
        wires=None,
        wires_at_zero_force=False,
        wires_are_measured=False,
        rule=None,
        crest_diameter_mm=None,
        crest_is_assumed=False,
        tip=None,
        slides=Slides(dial, dial, CompoundSetting(0.0, "cross_slide"), dial),
        slide=Slide.CROSS_SLIDE,
        lathe_id=1,
        instrument_id=1,
        material=find("carbon steel"),
        decision_rule=GuardRule.FULL,
        past_chance_bound=0.005,
    )


class Bench:
    """A part, a micrometer with an error of its own, and what is read."""

    def __init__(
        self, world: random.Random, max_error_mm: float, scatter_mm: float, recorded: int = 0
    ) -> None:
        """recorded: states read three times in earlier jobs."""
        self.world, self.scatter_mm = world, scatter_mm
        record = NO_REPEATS
        for _ in range(recorded):
            record = record.with_group([self.rounded(SIZE_MM) for _ in range(3)])
        self.instrument = Instrument(InstrumentKind.MICROMETER, 0.001, max_error_mm, record=record)
        self.error_mm = world.uniform(-max_error_mm, max_error_mm)
        material = find("carbon steel")
        self.part_per_c = world.uniform(material.low_per_c, material.high_per_c)
        self.tool_per_c = self.instrument.expansion_per_c + world.uniform(
            -LEAST_SPREAD_PER_C, LEAST_SPREAD_PER_C
        )
        self.truth_mm = SIZE_MM + world.uniform(-0.05, 0.05)

    def rounded(self, true_mm: float) -> float:
        return round(self.world.gauss(true_mm, self.scatter_mm) / 0.001) * 0.001

    def reading(self, number: int, part_c: float, note: Note) -> Logged:
        tool_c = 20 + self.world.uniform(-1, 1)
        factor = expansion_factor(self.part_per_c, part_c, self.tool_per_c, tool_c)
        row = EntryRow(
            id=number + 1,
            piece_id=1,
            feature_id=1,
            type="reading",
            entry_key=str(number),
            body="",
            at="",
            unit="mm",
            value_mm=self.rounded(self.truth_mm / factor + self.error_mm),
            touch=note.value if isinstance(note, Touch) else "",
        )
        if note == "number":
            row.temperature_c = part_c + self.world.uniform(
                -THERMOMETER_SPREAD_C, THERMOMETER_SPREAD_C
            )
        return Logged(row, False, self.instrument, 20.0, float(number), 1.0 + number)


def said(log: Sequence[Logged], limits: Limits) -> StageSize:
    """What the readings of one state say after the last of them."""
    (stage,) = sized_stages(setup(limits), log)
    assert stage.size is not None
    return stage.size


def holds(mixed: Mixed, states: int, seed: int = 30) -> float:
    """Fraction of states whose stated interval holds the truth."""
    world = random.Random(seed)
    wide = Limits(SIZE_MM - 1, SIZE_MM + 1)
    held = 0
    for _ in range(states):
        bench = Bench(world, mixed.max_error_mm, mixed.scatter_mm)
        over_c = world.uniform(*HAND_C) - 20
        left = mixed.cools or (1.0,) * len(mixed.notes)
        log = [
            bench.reading(number, 20 + over_c * share, note)
            for number, (share, note) in enumerate(zip(left, mixed.notes, strict=True))
        ]
        size = said(log, wide)
        low_mm = min(size.low_mm, size.size_mm) - size.doubt_mm
        high_mm = max(size.high_mm, size.size_mm) + size.doubt_mm
        held += low_mm <= bench.truth_mm <= high_mm
    return held / states


@dataclass(frozen=True)
class Repeated:
    """How often In limits was said, and how often of these the truth was past the limit."""

    states: int
    calls: int
    wrong: int

    @property
    def wrong_of_all(self) -> float:
        return self.wrong / self.states

    @property
    def wrong_of_calls(self) -> float:
        return self.wrong / self.calls


def repeated(
    scatter_mm: float,
    max_error_mm: float,
    states: int,
    *,
    recorded: int = 0,
    spread_doubts: float = 0.0,
    seed: int = 31,
) -> Repeated:
    """Every Too close to call is measured again, up to four readings, the first In limits counts.

    spread_doubts   truths spread evenly about the limit by as many doubts of the first reading;
                    0: every truth a hair past it
    """
    world = random.Random(seed)
    wrong = calls = 0
    for _ in range(states):
        bench = Bench(world, max_error_mm, scatter_mm, recorded)
        log = [bench.reading(0, 20.0, "number")]
        far = Limits(SIZE_MM - 1, SIZE_MM + 1)
        spread_mm = spread_doubts * said(log, far).doubt_mm if spread_doubts else 0.0
        past_mm = world.uniform(-spread_mm, spread_mm) + 1e-9
        limits = Limits(bench.truth_mm + past_mm, bench.truth_mm + 1)
        while (verdict := said(log, limits).verdict) is Verdict.TOO_CLOSE:
            if len(log) == MOST_READINGS:
                break
            log.append(bench.reading(len(log), 20.0, "number"))
        calls += verdict is Verdict.IN_LIMITS
        wrong += verdict is Verdict.IN_LIMITS and past_mm > 0
    return Repeated(states, calls, wrong)


def main() -> None:
    states = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    print(f"{states} states each")
    for mixed in MIXED:
        print(f"held  {holds(mixed, states):.4f}  {mixed.name}")
    for recorded, scatters_mm in ((0, (0.0005, 0.001)), (6, (0.001, 0.002, 0.004))):
        for scatter_mm in scatters_mm:
            for max_error_mm in (0.001, 0.004):
                given = scatter_mm, max_error_mm, states
                at_limit = repeated(*given, recorded=recorded).wrong_of_all
                near = repeated(*given, recorded=recorded, spread_doubts=2.0).wrong_of_calls
                print(
                    f"wrong {at_limit:.4f} at the limit, {near:.4f} of calls near it  repeated, "
                    f"scatter {scatter_mm}, error {max_error_mm} mm, {recorded} states recorded"
                )


if __name__ == "__main__":
    main()
