"""From one logged reading to what it means: a size at 20 degrees C and how sure it is."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from server.logbook import measuring, places
from server.logbook.setup import Setup
from server.metrology import ball_groove, balls, doubt_balls, doubt_lines, groove, thermal
from server.metrology import scatter as repeatability
from server.metrology import wires as wire_rules
from server.metrology.doubt import Budget, Line, budget
from server.metrology.instruments import Instrument, max_error
from server.metrology.model import Kind, Limits, OutOfRange, Rule, ThreadTarget
from server.metrology.scatter import NO_REPEATS, Repeats
from server.metrology.thermal import TemperatureRange, Touch
from server.records.tables import EntryRow

DIRECT = "direct"
NOTHING_REPEATED: Mapping[Instrument, Repeats] = MappingProxyType({})
LARGEST_GROWTH = 100.0  # wires on an all but uncut crest say next to nothing
UNCORRECTED = (Touch.SHOP, None)  # nothing says that the part is warm: the range shows it


@dataclass(frozen=True)
class Contact:
    """One reading taken for its size.  [mm]"""

    size_mm: float
    case: str
    size_per_reading: float


@dataclass(frozen=True)
class Logged:
    """An entry with what the computation needs to know of its surroundings."""

    row: EntryRow
    is_struck: bool
    instrument: Instrument | None
    shop_c: float
    minutes: float  # since the piece's first entry, by the clock
    minutes_since_cut: float | None


@dataclass(frozen=True)
class Sized:
    """One reading as a size.  Lengths [mm].

    low_mm, high_mm  ends of the size where warmth makes it a range
    contact          direct, flank, corner, root, flush or uncut
    size_per_reading by which a doubt of the reading grows: 1 but for wires on the corners
    says_warm        False where nothing was noted, or that it feels as the shop
    """

    entry_id: int
    size_mm: float
    low_mm: float
    high_mm: float
    shift_low_mm: float
    shift_high_mm: float
    contact: str
    size_per_reading: float
    reading_mm: float  # zero error taken off
    central_c: float  # the part's temperature that the size is worked out at
    at_20_mm: float  # the reading there, taken to 20 degrees C
    temperature: TemperatureRange
    instrument: Instrument
    instrument_id: int
    instrument_temperature_c: float
    station: str
    minutes: float
    minutes_since_cut: float | None
    says_warm: bool
    wires: wire_rules.Wires | None

    @property
    def note_kind(self) -> str:
        """What readings share whose temperature was noted alike."""
        if self.temperature.is_number:
            return "degrees"
        return self.temperature.touch or "" if self.says_warm else ""

    @property
    def soon_for_min(self) -> float:
        """How long a part that nobody felt warm still counts as just cut.  [min]"""
        if self.minutes_since_cut is None:
            return 0.0
        return max(thermal.SOON_AFTER_A_CUT_MIN - self.minutes_since_cut, 0.0)

    @property
    def is_rough(self) -> bool:
        return self.contact not in (DIRECT, groove.ContactCase.FLANK.value)


def sized(setup: Setup, logged: Logged) -> Sized:
    """Raises OutOfRange or TouchNeedsMetal for a note that can't be."""
    row, instrument = logged.row, logged.instrument
    if row.value_mm is None or instrument is None:
        raise ValueError("only a reading has a size")
    note = row.temperature_c if row.temperature_c is not None else touch_of(row)
    temperature = thermal.part_temperature(
        note, logged.shop_c, logged.minutes_since_cut, setup.material.is_metal
    )
    instrument_c = logged.shop_c
    if row.instrument_temperature_c is not None:
        instrument_c = row.instrument_temperature_c
    contact = conversion(setup, row)
    reading_mm = row.value_mm - instrument.zero_offset_mm
    warm = thermal.warm_size(
        reading_mm,
        temperature,
        setup.material.expansion_per_c,
        instrument.expansion_per_c,
        instrument_c,
        lambda warm_mm: contact(warm_mm).size_mm,
    )
    central_c = logged.shop_c if note in UNCORRECTED else temperature.middle_c
    at_20_mm = thermal.size_at_20c_mm(
        reading_mm,
        setup.material.expansion_per_c,
        central_c,
        instrument.expansion_per_c,
        instrument_c,
    )
    found = contact(at_20_mm)
    return Sized(
        entry_id=row.id or 0,
        size_mm=found.size_mm,
        low_mm=warm.low_mm,
        high_mm=warm.high_mm,
        shift_low_mm=warm.shift_low_mm,
        shift_high_mm=warm.shift_high_mm,
        contact=found.case,
        size_per_reading=found.size_per_reading,
        reading_mm=reading_mm,
        central_c=central_c,
        at_20_mm=at_20_mm,
        temperature=temperature,
        instrument=instrument,
        instrument_id=row.instrument_id or setup.instrument_id,
        instrument_temperature_c=instrument_c,
        station=places.with_unit(row.station, row.unit, setup.unit),
        minutes=logged.minutes,
        minutes_since_cut=logged.minutes_since_cut,
        says_warm=note not in UNCORRECTED,
        wires=wires_used(setup, row),
    )


def touch_of(row: EntryRow) -> Touch | None:
    return Touch(row.touch) if row.touch else None


def wires_used(setup: Setup, row: EntryRow) -> wire_rules.Wires | None:
    return wire_rules.Wires.nominal(row.wire_mm) if row.wire_mm else setup.wires


def rule_in_force(setup: Setup, target: ThreadTarget, wires: wire_rules.Wires) -> Rule:
    if setup.rule is not None:
        return setup.rule
    if setup.method == measuring.OVER_BALLS:
        return balls.default_rule(target, wires.effective_mm)
    return wire_rules.default_rule(target, wires.effective_mm)


def squeeze_of(setup: Setup, target: ThreadTarget, wires: wire_rules.Wires) -> measuring.Squeeze:
    """Flattening over these wires; the certificate is that of the feature's own set."""
    return measuring.squeeze(
        target,
        wires,
        rule_in_force(setup, target, wires),
        setup.wires_at_zero_force and wires == setup.wires,
        setup.material.elastic_modulus_mpa,
    )


def flattening_applied_mm(setup: Setup, target: ThreadTarget, wires: wire_rules.Wires) -> float:
    """What is added to a reading over these wires for the measuring force.  [mm]"""
    is_certified = setup.wires_at_zero_force and wires == setup.wires
    return squeeze_of(setup, target, wires).applied_mm if is_certified else 0.0


def crest_limits(target: ThreadTarget) -> Limits:
    """Of what stands between the grooves: the major diameter outside, the minor inside."""
    inside = target.kind is Kind.INTERNAL_THREAD
    return target.minor_diameter if inside else target.major_diameter


def crest_under_wires_mm(setup: Setup, target: ThreadTarget) -> float:
    return setup.crest_diameter_mm or target.nominal_mm


def bore_under_balls_mm(setup: Setup, target: ThreadTarget) -> float:
    return setup.crest_diameter_mm or target.nominal_mm - target.pitch_mm


def conversion(setup: Setup, row: EntryRow) -> Callable[[float], Contact]:
    """From a reading at 20 degrees C to what it says."""
    target, wires = setup.thread, wires_used(setup, row)
    if target is not None and wires is not None:
        if setup.method == measuring.OVER_WIRES:
            return over_wires_conversion(setup, target, wires)
        if setup.method == measuring.OVER_BALLS:
            return over_balls_conversion(setup, target, wires.effective_mm)
    return lambda reading_mm: Contact(reading_mm, DIRECT, 1.0)


def over_wires_conversion(
    setup: Setup, target: ThreadTarget, wires: wire_rules.Wires
) -> Callable[[float], Contact]:
    """Where the wires lie decides the size: on the flanks, the corners, the root, or flush."""
    rule = rule_in_force(setup, target, wires)
    crest_mm = crest_under_wires_mm(setup, target)
    flattening_mm = flattening_applied_mm(setup, target, wires)

    def contact(reading_mm: float) -> Contact:
        try:
            found = groove.contact_case(
                reading_mm, crest_mm, target, wires, rule, setup.tip, flattening_mm
            )
        except OutOfRange:
            beyond_mm = reading_mm - crest_mm - 2 * wires.effective_mm
            uncut_mm = crest_mm + target.pitch_mm / (2 * math.tan(target.half_angle_rad))
            return Contact(uncut_mm + beyond_mm, "uncut", math.inf)
        if found.pitch_diameter_mm is None:
            seated_mm = wire_rules.pitch_diameter_mm(reading_mm, target, wires, rule, flattening_mm)
            return Contact(seated_mm, found.case.value, 1.0)
        return Contact(found.pitch_diameter_mm, found.case.value, found.size_per_reading)

    return contact


def over_balls_conversion(
    setup: Setup, target: ThreadTarget, ball_mm: float
) -> Callable[[float], Contact]:
    """Balls on the flanks or, while the groove is too narrow, on its corners."""
    rule = rule_in_force(setup, target, wire_rules.Wires.nominal(ball_mm))
    bore_mm = bore_under_balls_mm(setup, target)

    def contact(reading_mm: float) -> Contact:
        try:
            found = ball_groove.contact_case(reading_mm, bore_mm, target, ball_mm, rule)
        except OutOfRange:
            uncut_mm = bore_mm - target.pitch_mm / (2 * math.tan(target.half_angle_rad))
            return Contact(uncut_mm + reading_mm - bore_mm, "uncut", math.inf)
        return Contact(
            found.pitch_diameter_mm or reading_mm, found.case.value, found.size_per_reading
        )

    return contact


def shown_by(instrument: Instrument) -> Instrument:
    """The instrument whatever its zero was, under which its repeats are pooled."""
    return replace(instrument, zero_offset_mm=0.0, is_zero_checked=False, record=NO_REPEATS)


def budget_of(
    setup: Setup,
    readings: Sequence[Sized],
    repeats: Mapping[Instrument, Repeats] = NOTHING_REPEATED,
) -> Budget:
    """The doubt of the mean of readings taken at one state; repeats: of the states before."""
    last = readings[-1]
    wires = last.wires
    scatter = repeatability.scatter(
        [reading.at_20_mm for reading in readings],
        last.instrument.resolution_mm,
        repeats.get(shown_by(last.instrument), NO_REPEATS),
        least_mm=last.instrument.hand_scatter_mm,
        record=last.instrument.record,
    )
    warmth = doubt_lines.Warmth(last.temperature, setup.material, last.instrument_temperature_c)
    target = setup.thread
    if target is None or wires is None or setup.method not in measuring.METHODS:
        return budget(doubt_lines.direct_lines(last.instrument, scatter, warmth), scatter.count)
    lines = (
        doubt_balls.over_balls_lines
        if setup.method == measuring.OVER_BALLS
        else doubt_lines.over_wires_lines
    )
    wired = lines(last.instrument, scatter, doubtful_wires(setup, target, wires), warmth)
    return budget([*wired, *crest_lines(setup, target, readings)], scatter.count)


def growth_of(readings: Sequence[Sized]) -> float:
    """By how much a doubt of the mean reading grows on its way to the size, 1 on the flanks."""
    growth = math.fsum(reading.size_per_reading for reading in readings) / len(readings)
    return min(max(1.0, growth), LARGEST_GROWTH)


def crest_lines(setup: Setup, target: ThreadTarget, readings: Sequence[Sized]) -> list[Line]:
    """What the crest (or bore) brings in while wires or balls stand on its corners: half its
    tolerance where it is assumed, else what the instrument may be out by."""
    last, limits = readings[-1], crest_limits(target)
    half_mm = max_error(last.instrument, target.nominal_mm).max_error_mm
    if setup.crest_is_assumed and limits.low_mm is not None and limits.high_mm is not None:
        half_mm = limits.tolerance_mm / 2
    elif setup.crest_is_assumed:  # one end is all that the standard says
        half_mm = target.pitch_diameter.tolerance_mm
    if not last.is_rough or last.wires is None or half_mm <= 0:
        return []
    over_balls = setup.method == measuring.OVER_BALLS
    crest_mm = (bore_under_balls_mm if over_balls else crest_under_wires_mm)(setup, target)
    ends_mm = []
    for end_mm in (crest_mm - half_mm, crest_mm + half_mm):
        other = replace(setup, crest_diameter_mm=end_mm)
        to_size = (
            over_balls_conversion(other, target, last.wires.effective_mm)
            if over_balls
            else over_wires_conversion(other, target, last.wires)
        )
        ends_mm.append(to_size(last.at_20_mm).size_mm)
    most_mm = max(abs(end_mm - last.size_mm) for end_mm in ends_mm)
    slope = most_mm / half_mm / growth_of(readings)
    return doubt_lines.crest_lines(half_mm, slope, setup.crest_is_assumed)


def doubtful_wires(
    setup: Setup, target: ThreadTarget, wires: wire_rules.Wires
) -> doubt_lines.Wires:
    """What the wires or balls bring into the doubt.

    Wires certified to zero force under a rule that leaves the flattening out: all of it is doubt.
    """
    force_mm = doubt_lines.FORCE_RESIDUAL_MM
    if setup.method == measuring.OVER_WIRES and setup.wires_at_zero_force:
        squeezed = squeeze_of(setup, target, wires)
        if wires == setup.wires and not squeezed.is_applied:
            force_mm = max(force_mm, squeezed.flattening.total_mm)
    return doubt_lines.Wires(
        wires.effective_mm,
        target.pitch_mm,
        target.half_angle_rad,
        half_width_mm=(
            doubt_lines.MEASURED_WIRES_MM
            if setup.wires_are_measured and wires == setup.wires
            else doubt_lines.NOMINAL_WIRES_MM
        ),
        force_half_width_mm=force_mm,
    )
