"""Parts, their features and their pieces."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, func, select

from server.logbook.feature_wires import check_wires
from server.logbook.problems import (
    not_found,
    number_typed,
    one_of,
    optional_text,
    positive_typed,
    refuse,
    short_text,
)
from server.logbook.setup import METHOD_WORDS, own_limits, read_target, slides_of
from server.logbook.shop import note_change, stamp
from server.logbook.shop_materials import find_material
from server.metrology.dials import Slide, SlideCannotFeed, size_per_dial
from server.metrology.infeed import ToolTip
from server.metrology.model import Kind, OutOfRange, Target, ThreadTarget
from server.metrology.units import MM_PER_INCH, to_mm
from server.records.tables import (
    FeatureRow,
    InstrumentRow,
    LatheRow,
    PartRow,
    PieceRow,
    WireSetRow,
)
from server.wording import either, say

MOST_PARTS = 200
KIND_WORDS = {
    Kind.OUTSIDE_DIAMETER: say("Outside diameter"),
    Kind.BORE: say("Bore"),
    Kind.EXTERNAL_THREAD: say("External thread"),
    Kind.INTERNAL_THREAD: say("Internal thread"),
    Kind.GROOVE_DIAMETER: say("Groove diameter"),
    Kind.LENGTH: say("Length"),
}


def add_part(
    session: Session, name: str, number: str, material: str, unit: str, now: datetime
) -> PartRow:
    part = PartRow(
        name=short_text(name, "name", say("The name")),
        number=optional_text(number, "number", say("The number"), 80),
        material=short_text(material, "material", say("The material"), 80),
        unit=one_of(unit, ("in", "mm"), "unit", say("The unit")),
        created_at=stamp(now),
    )
    find_material(session, part.material)
    session.add(part)
    session.flush()
    note_change(session, now, "", "part opened", part.name, changes_shop=False)
    return part


def part_of(session: Session, part_id: int) -> PartRow:
    part = session.get(PartRow, part_id)
    if part is None:
        raise not_found(say("part"), part_id)
    return part


def newest_parts(session: Session) -> list[PartRow]:
    """The parts worked on of late, to pick one from."""
    return list(session.exec(select(PartRow).order_by(col(PartRow.id).desc()).limit(MOST_PARTS)))


@dataclass(frozen=True)
class NewFeature:
    """As typed; "" or None where nothing was."""

    label: str
    designation: str
    method: str  # the usual one of its kind where empty
    slide: str
    lathe_id: int
    instrument_id: int
    kind: str = ""
    unit: str = ""  # the part's where empty
    wire: str = ""
    wire_set_id: int | None = None
    aim: str = ""
    nose_radius: str = ""
    flat: str = ""
    crest_diameter: str = ""
    compound_angle_deg: float | None = None
    compound_angle_from: str = ""
    rule: str = ""


def add_feature(session: Session, part: PartRow, new: NewFeature, now: datetime) -> FeatureRow:
    """One size to reach.  Refused where the target, the method, the slide or the tool can't be."""
    unit = one_of(new.unit or part.unit, ("in", "mm"), "unit", say("The unit"))
    target = read_target(new.designation, new.kind or None, unit)
    method = checked_method(new.method or usual_method(target), target)
    shape, size = checked_tool(new, target, unit)
    lathe = session.get(LatheRow, new.lathe_id)
    if lathe is None:
        raise not_found(say("lathe"), new.lathe_id)
    if session.get(InstrumentRow, new.instrument_id) is None:
        raise not_found(say("instrument"), new.instrument_id)
    if new.wire_set_id is not None and session.get(WireSetRow, new.wire_set_id) is None:
        raise not_found(say("wire set"), new.wire_set_id)
    feature = FeatureRow(
        part_id=part.id or 0,
        label=short_text(new.label, "label", say("The label"), 80),
        designation=new.designation.strip(),
        kind=target.kind.value,
        method=method,
        unit=unit,
        wire=new.wire.strip(),
        wire_set_id=new.wire_set_id,
        aim=checked_aim(new.aim, target, unit),
        slide=one_of(new.slide, tuple(Slide), "slide", say("The slide")),
        lathe_id=new.lathe_id,
        instrument_id=new.instrument_id,
        tool_shape=shape,
        tool_size=size,
        crest_diameter=checked_crest(new.crest_diameter, target, unit),
        compound_angle_deg=checked_angle(new.compound_angle_deg),
        compound_angle_from=new.compound_angle_from
        and one_of(
            new.compound_angle_from, ("cross_slide", "axis"), "angle_from", say("The scale")
        ),
        rule=new.rule and one_of(new.rule, ("handbook", "exact"), "rule", say("The rule")),
        created_at=stamp(now),
    )
    check_slide(feature, lathe, target.kind)
    check_wires(session, feature, target)
    session.add(feature)
    session.flush()
    note_change(session, now, "", "feature added", f"{part.name}: {feature.label}")
    return feature


def usual_method(target: Target) -> str:
    """How its kind is measured where nobody said."""
    usual = {Kind.EXTERNAL_THREAD: "over_wires", Kind.INTERNAL_THREAD: "over_balls"}
    return usual.get(target.kind, "direct")


def checked_method(method: str, target: Target) -> str:
    one_of(method, tuple(METHOD_WORDS), "method", say("The method"))
    fits = {
        Kind.EXTERNAL_THREAD: ("over_wires", "thread_micrometer", "gauges"),
        Kind.INTERNAL_THREAD: ("over_balls", "thread_micrometer", "gauges"),
    }.get(target.kind, ("direct", "gauges"))
    if method not in fits:
        ways = [say("“{name}”", name=METHOD_WORDS[each]) for each in fits]
        raise refuse(
            422,
            "method_unusable",
            say(
                "{kind} can't be measured by “{method}”; use {methods}.",
                kind=KIND_WORDS[target.kind],
                method=METHOD_WORDS[method],
                methods=either(ways),
            ),
            "method",
        )
    return method


def checked_tool(new: NewFeature, target: Target, unit: str) -> tuple[str, str]:
    """(shape, size as typed) of the threading tool's tip, or two empty texts."""
    given = [(name, getattr(new, name).strip()) for name in ("nose_radius", "flat")]
    typed = [(name, text) for name, text in given if text]
    if not typed:
        return "", ""
    if len(typed) > 1:
        message = say("A tool has a nose radius or a flat, not both.")
        raise refuse(422, "two_tips", message, "flat")
    name, text = typed[0]
    value = number_typed(text, name)
    if value < 0:
        raise refuse(
            422, "out_of_range", say("{number} is below 0; type 0 or more.", number=text), name
        )
    if isinstance(target, ThreadTarget):
        size_mm = to_mm(value, unit)
        tip = ToolTip(nose_radius_mm=size_mm) if name == "nose_radius" else ToolTip(size_mm)
        try:
            tip.check_fits(target.pitch_mm, target.half_angle_rad)
        except OutOfRange as error:
            raise refuse(
                422,
                "out_of_range",
                say(
                    "{width} {unit} is too wide for this thread: the tip must be below {most} "
                    "{unit}.",
                    width=text,
                    unit=unit,
                    most=f"{(error.upper or 0) / (MM_PER_INCH if unit == 'in' else 1):.4f}",
                ),
                name,
            ) from error
    return name, text


def checked_aim(text: str, target: Target, unit: str) -> str:
    if not text.strip():
        return ""
    aim_mm = to_mm(positive_typed(text, "aim", say("The aim")), unit)
    low_mm, high_mm = own_limits(target).both()
    if not low_mm - 1e-9 <= aim_mm <= high_mm + 1e-9:
        factor = MM_PER_INCH if unit == "in" else 1
        raise refuse(
            422,
            "aim_outside",
            say(
                "The aim {aim} is outside the limits {low} to {high} {unit}.",
                aim=text.strip(),
                low=f"{low_mm / factor:.4f}",
                high=f"{high_mm / factor:.4f}",
                unit=unit,
            ),
            "aim",
        )
    return text.strip()


def checked_crest(text: str, target: Target, unit: str) -> str:
    if not text.strip():
        return ""
    crest_mm = to_mm(positive_typed(text, "crest_diameter", say("The crest diameter")), unit)
    if isinstance(target, ThreadTarget):
        pitch_diameter_mm = target.pitch_diameter.middle_mm
        if target.kind is Kind.EXTERNAL_THREAD:
            possible = pitch_diameter_mm < crest_mm < target.nominal_mm + target.pitch_mm
        else:
            possible = target.nominal_mm - 3 * target.pitch_mm < crest_mm < pitch_diameter_mm
        if not possible:
            raise refuse(
                422,
                "out_of_range",
                say(
                    "A crest diameter of {diameter} {unit} leaves no thread to cut here.",
                    diameter=text.strip(),
                    unit=unit,
                ),
                "crest_diameter",
            )
    return text.strip()


def checked_angle(angle_deg: float | None) -> float | None:
    if angle_deg is not None and not 0 <= angle_deg <= 90:
        raise refuse(
            422,
            "out_of_range",
            say("The compound angle is {angle}°; it must be 0° to 90°.", angle=angle_deg),
            "compound.angle_deg",
        )
    return angle_deg


def check_slide(feature: FeatureRow, lathe: LatheRow, kind: Kind) -> None:
    slides = slides_of(lathe, feature.compound_angle_deg, feature.compound_angle_from)
    try:
        size_per_dial(Slide(feature.slide), slides, kind)
    except SlideCannotFeed as error:
        raise refuse(422, "slide_cannot_feed", error.message, "slide") from error


def change_setup(
    session: Session,
    feature_id: int,
    slide: str,
    compound_angle_deg: float | None,
    compound_angle_from: str,
    now: datetime,
) -> FeatureRow:
    """Another slide or compound angle from here on; cuts already logged keep what they meant."""
    feature = session.get(FeatureRow, feature_id)
    if feature is None:
        raise not_found(say("feature"), feature_id)
    feature.slide = one_of(slide, tuple(Slide), "slide", say("The slide"))
    if compound_angle_deg is not None:
        feature.compound_angle_deg = checked_angle(compound_angle_deg)
        feature.compound_angle_from = one_of(
            compound_angle_from, ("cross_slide", "axis"), "angle_from", say("The scale")
        )
    target = read_target(feature.designation, feature.kind, feature.unit)
    check_slide(feature, session.get_one(LatheRow, feature.lathe_id), target.kind)
    session.add(feature)
    note_change(session, now, "", "set-up changed", f"feature {feature_id}: {slide}")
    return feature


def add_piece(session: Session, part: PartRow, serial: str, now: datetime) -> PieceRow:
    session.exec(select(PartRow.id).where(PartRow.id == part.id).with_for_update()).one()
    last = session.exec(select(func.max(PieceRow.number)).where(PieceRow.part_id == part.id)).one()
    piece = PieceRow(
        part_id=part.id or 0,
        number=(last or 0) + 1,
        serial=optional_text(serial, "serial", say("The serial"), 80),
        opened_at=stamp(now),
    )
    session.add(piece)
    session.flush()
    note_change(
        session,
        now,
        "",
        "piece opened",
        f"{part.name}, piece {piece.number}",
        changes_shop=False,
    )
    return piece


def features_of(session: Session, part_id: int) -> list[FeatureRow]:
    return list(
        session.exec(
            select(FeatureRow).where(FeatureRow.part_id == part_id).order_by(col(FeatureRow.id))
        )
    )
