"""How one feature is cut and measured: stored rows turned into the values the computation takes."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from sqlmodel import Session

from server.advice.model import CutKind
from server.logbook.problems import not_found, refuse
from server.logbook.shop import shop_row
from server.logbook.shop_instruments import kind_of, last_zero_check
from server.logbook.shop_materials import find_material
from server.metrology import designation, instruments
from server.metrology.decision import GuardRule
from server.metrology.dials import CompoundSetting, Counts, Dial, MeasuredFrom, Slide, Slides
from server.metrology.infeed import ToolTip
from server.metrology.materials import Material
from server.metrology.model import DesignationError, Kind, Limits, Rule, Target, ThreadTarget
from server.metrology.units import decimals_typed, read_number, shown, to_mm, usual_decimals
from server.metrology.wires import Wires
from server.records.tables import (
    FeatureRow,
    InstrumentRow,
    LatheRow,
    PartRow,
    PieceRow,
    WireSetRow,
)
from server.wording import joined, say, sentence

METHOD_WORDS = {
    "direct": say("Direct"),
    "over_wires": say("Over three wires"),
    "thread_micrometer": say("Thread micrometer"),
    "over_balls": say("Over two balls"),
    "gauges": say("GO and NOT GO gauges"),
}
CUT_KINDS = {
    Kind.OUTSIDE_DIAMETER: CutKind.TURN,
    Kind.GROOVE_DIAMETER: CutKind.TURN,
    Kind.BORE: CutKind.BORE,
    Kind.EXTERNAL_THREAD: CutKind.THREAD,
    Kind.INTERNAL_THREAD: CutKind.THREAD,
    Kind.LENGTH: CutKind.LENGTH,
}


@dataclass(frozen=True)
class Setup:
    """Everything about a feature that does not change while it is cut.  Lengths [mm]."""

    feature_id: int
    label: str
    target: Target
    kind: Kind
    limits: Limits  # of the feature's own size: pitch diameter for a thread
    aim_mm: float
    unit: str
    decimals: int
    method: str
    wires: Wires | None
    wires_at_zero_force: bool
    wires_are_measured: bool
    rule: Rule | None
    crest_diameter_mm: float | None
    crest_is_assumed: bool
    tip: ToolTip | None
    slides: Slides
    slide: Slide
    lathe_id: int
    instrument_id: int
    material: Material
    decision_rule: GuardRule
    past_chance_bound: float

    @property
    def thread(self) -> ThreadTarget | None:
        return self.target if isinstance(self.target, ThreadTarget) else None

    @property
    def cut_kind(self) -> CutKind:
        return CUT_KINDS[self.kind]

    @property
    def in_words(self) -> Callable[[float], str]:
        return lambda value_mm: f"{shown(value_mm, self.unit, self.decimals)} {self.unit}"


known_target = lru_cache(maxsize=2048)(designation.read)


def read_target(text: str, kind: str | None, unit: str) -> Target:
    """The limits of a designation; Refused (422) with the part that could not be read."""
    chosen: Kind | None = None
    if kind:
        if kind not in tuple(Kind):
            raise refuse(
                422,
                "not_a_choice",
                say(
                    "The kind “{kind}” is not known; use {choices}.",
                    kind=kind[:40],
                    choices=", ".join(Kind),
                ),
                "kind",
            )
        chosen = Kind(kind)
    try:
        return known_target(text, chosen, unit)
    except DesignationError as error:
        message = error.message
        if error.nearest:
            nearest = say("Nearest: {nearest}.", nearest=", ".join(error.nearest))
            message = joined((sentence(message), nearest), " ")
        raise refuse(422, error.code, message, "designation") from error


def own_limits(target: Target) -> Limits:
    """The limits that the verdict is about: the pitch diameter of a thread, else the size."""
    return target.pitch_diameter if isinstance(target, ThreadTarget) else target.size


def slides_of(lathe: LatheRow, angle_deg: float | None = None, angle_from: str = "") -> Slides:
    """The lathe's dials; a feature's own compound setting overrides the lathe's."""

    def dial(counts: str, graduation: str) -> Dial:
        known: Counts = "diameter" if counts == "diameter" else "travel"
        return Dial(known, read_number(graduation), lathe.unit)

    angle = lathe.compound_angle_deg if angle_deg is None else angle_deg
    measured: MeasuredFrom = (
        "axis" if (angle_from or lathe.compound_angle_from) == "axis" else "cross_slide"
    )
    return Slides(
        cross_slide=dial(lathe.cross_slide_counts, lathe.cross_slide_graduation),
        compound=dial(lathe.compound_counts, lathe.compound_graduation),
        compound_setting=CompoundSetting(math.radians(angle), measured),
        carriage=dial("travel", lathe.carriage_graduation or default_carriage(lathe.unit)),
    )


def default_carriage(unit: str) -> str:
    """Common practice: a carriage handwheel dial reads 0.01 in or 0.1 mm where none is noted."""
    return "0.01" if unit == "in" else "0.1"


def tip_of(shape: str, size: str, unit: str) -> ToolTip | None:
    if not shape:
        return None
    size_mm = to_mm(read_number(size), unit)
    return ToolTip(nose_radius_mm=size_mm) if shape == "nose_radius" else ToolTip(flat_mm=size_mm)


def wires_of(wire: str, unit: str, owned: WireSetRow | None) -> Wires | None:
    """The wires of a feature: the measured sizes of a set, or the size typed."""
    if owned is not None:
        sizes = [to_mm(read_number(text), owned.unit) for text in owned.measured.split()]
        if len(sizes) == 1:
            return Wires.nominal(sizes[0])
        if sizes:
            return Wires(sizes[0], (sizes[1], sizes[2]))
        return Wires.nominal(to_mm(read_number(owned.nominal), owned.unit))
    return Wires.nominal(to_mm(read_number(wire), unit)) if wire else None


def crest_of(feature: FeatureRow, target: Target) -> tuple[float | None, bool]:
    """Crest diameter as turned or bored, and whether it is only assumed (mid-tolerance)."""
    if not isinstance(target, ThreadTarget):
        return None, False
    if feature.crest_diameter:
        return to_mm(read_number(feature.crest_diameter), feature.unit), False
    return assumed_crest_mm(target), True


def assumed_crest_mm(target: ThreadTarget) -> float | None:
    """The crest of a blank turned (or bored) to the middle of its limits."""
    internal = target.kind is Kind.INTERNAL_THREAD
    crest = target.minor_diameter if internal else target.major_diameter
    if crest.low_mm is not None and crest.high_mm is not None:
        return crest.middle_mm
    return crest.high_mm if crest.low_mm is None else crest.low_mm


def setup_of(session: Session, feature: FeatureRow) -> Setup:
    part = session.get_one(PartRow, feature.part_id)
    lathe = session.get_one(LatheRow, feature.lathe_id)
    shop = shop_row(session)
    target = read_target(feature.designation, feature.kind, feature.unit)
    limits = own_limits(target)
    owned = session.get(WireSetRow, feature.wire_set_id) if feature.wire_set_id else None
    crest_mm, assumed = crest_of(feature, target)
    return Setup(
        feature_id=feature.id or 0,
        label=feature.label,
        target=target,
        kind=target.kind,
        limits=limits,
        aim_mm=to_mm(read_number(feature.aim), feature.unit) if feature.aim else limits.middle_mm,
        unit=feature.unit,
        decimals=decimals_shown(session, feature),
        method=feature.method,
        wires=wires_of(feature.wire, feature.unit, owned),
        wires_at_zero_force=owned is not None and owned.sized == "zero_force",
        wires_are_measured=owned is not None and bool(owned.measured),
        rule=Rule(feature.rule) if feature.rule else None,
        crest_diameter_mm=crest_mm,
        crest_is_assumed=assumed,
        tip=tip_of(feature.tool_shape, feature.tool_size, feature.unit),
        slides=slides_of(lathe, feature.compound_angle_deg, feature.compound_angle_from),
        slide=Slide(feature.slide),
        lathe_id=feature.lathe_id,
        instrument_id=feature.instrument_id,
        material=find_material(session, part.material),
        decision_rule=GuardRule(shop.decision_rule),
        past_chance_bound=shop.past_chance_bound,
    )


def decimals_shown(session: Session, feature: FeatureRow) -> int:
    """Four places in inch, three in mm, more where the instrument reads finer."""
    usual = usual_decimals(feature.unit)
    instrument = session.get_one(InstrumentRow, feature.instrument_id)
    return max(
        usual, decimals_typed(instrument.resolution) if instrument.unit == feature.unit else 0
    )


def instrument_of(session: Session, instrument_id: int, at: str) -> instruments.Instrument:
    """The instrument with its last zero check made by that time."""
    row = session.get(InstrumentRow, instrument_id)
    if row is None:
        raise not_found(say("instrument"), instrument_id)
    check = last_zero_check(session, instrument_id, at)
    return instruments.Instrument(
        kind=kind_of(row),
        resolution_mm=to_mm(read_number(row.resolution), row.unit),
        max_error_mm=to_mm(read_number(row.max_error), row.unit) if row.max_error else None,
        zero_offset_mm=check.value_mm if check else 0.0,
        is_zero_checked=check is not None,
        name=row.name,
    )


def piece_of(session: Session, piece_id: int) -> PieceRow:
    piece = session.get(PieceRow, piece_id)
    if piece is None:
        raise not_found(say("piece"), piece_id)
    return piece


def feature_of(session: Session, feature_id: int, part_id: int) -> FeatureRow:
    feature = session.get(FeatureRow, feature_id)
    if feature is None:
        raise not_found(say("feature"), feature_id)
    if feature.part_id != part_id:
        raise refuse(
            422,
            "wrong_part",
            say("Feature {number} belongs to another part than this piece.", number=feature_id),
            "feature_id",
        )
    return feature
