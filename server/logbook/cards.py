"""Everything one target card shows, as plain values; of what is stored, only the tool crib."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlmodel import Session

from server.logbook import card_infeed, card_turning, measuring
from server.logbook.card_infeed import Infeed
from server.logbook.card_turning import Turning
from server.logbook.card_typed import Asked, asked
from server.logbook.crib_wires import OwnedWires, SortedWires, owned_wires, sort_wires
from server.logbook.measuring import Measured
from server.logbook.problems import Problem, reason_of
from server.logbook.setup import own_limits, slides_of
from server.metrology import aim as aims
from server.metrology import balls, designation, fits, units
from server.metrology import wires as wire_rules
from server.metrology.aim import Fit, ThreadBeforePlating
from server.metrology.balls import BallRange, BallUnusable
from server.metrology.dials import Slides
from server.metrology.fits import FitPair
from server.metrology.model import Limits, OutOfRange, Rule, Target, ThreadTarget
from server.metrology.wires import WireRange, Wires, WireUnusable
from server.records.tables import LatheRow
from server.wording import say, sentence

ROOM_SHARE = 0.05  # of the usable range, between its end and a size that is recommended there


@dataclass(frozen=True)
class Gauges:
    """Wires or balls for a thread.  [mm]

    fits      which sizes can be used
    crib      the shop's own sets; None for balls
    chosen    the set of the crib in use; None where the size was typed or is only recommended
    origin    typed, crib or recommended
    measured  None where no wire can be used; why is in problem
    other     the same limits by the rule that is not in force
    """

    fits: WireRange | BallRange
    crib: SortedWires | None
    chosen: OwnedWires | None
    origin: str
    measured: Measured | None
    other: Measured | None
    problem: str = ""


@dataclass(frozen=True)
class CardNumbers:
    """One card.  [mm]; aims are of the size itself, the pitch diameter for a thread."""

    asked: Asked
    target: Target
    unit: str
    aim_mm: float
    aim_is_moved: bool
    aims_mm: Mapping[Fit, float]
    pair: FitPair | None
    gauges: Gauges | None
    infeed: Infeed | None
    turning: Turning | None
    before_plating: ThreadBeforePlating | Limits | None
    lathe_name: str
    notes: tuple[str, ...]
    problems: tuple[Problem, ...]

    @property
    def limits(self) -> Limits:
        return own_limits(self.target)


@dataclass(frozen=True)
class Lathe:
    """A lathe of the crib as the card uses it."""

    name: str
    slides: Slides


def look_up(session: Session, fields: Mapping[str, str], unit: str) -> CardNumbers:
    """The card for what was typed.  Raises model.DesignationError."""
    wanted = asked(fields, unit)
    is_thread = isinstance(wanted.target, ThreadTarget)
    lathe = _lathe(session, wanted) if wanted.lathe_id else None
    return card(wanted, owned_wires(session) if is_thread else (), lathe)


def _lathe(session: Session, wanted: Asked) -> Lathe | None:
    row = session.get(LatheRow, wanted.lathe_id)
    if row is None:
        return None
    if wanted.compound is None:
        return Lathe(row.name, slides_of(row))
    setting = wanted.compound
    return Lathe(row.name, slides_of(row, _degrees(setting.angle_rad), setting.measured_from))


def _degrees(angle_rad: float) -> float:
    return round(angle_rad / units.radians(1), 9)


def card(
    wanted: Asked, owned: Sequence[OwnedWires] = (), lathe: Lathe | None = None
) -> CardNumbers:
    """Works it all out; a secondary number that can't be is a problem, the rest still stands."""
    target = wanted.target
    collected = list(wanted.problems)
    limits = own_limits(target)
    aim_mm = limits.middle_mm if wanted.aim_mm is None else wanted.aim_mm
    gauges, fed, turned = None, None, None
    slides = lathe.slides if lathe else None
    if isinstance(target, ThreadTarget):
        gauges = _gauges(target, wanted, owned, collected)
        measured = gauges.measured if gauges else None
        fed = card_infeed.infeed(target, wanted, aim_mm, measured, slides)
        collected += fed.problems if fed else ()
    else:
        turned = card_turning.turning(target, wanted, aim_mm, slides)
        collected += turned.problems if turned else ()
    return CardNumbers(
        asked=wanted,
        target=target,
        unit=wanted.unit,
        aim_mm=aim_mm,
        aim_is_moved=wanted.aim_mm is not None and abs(aim_mm - limits.middle_mm) > 1e-9,
        aims_mm={fit: aims.aim_mm(limits, target.kind, fit) for fit in Fit},
        pair=None
        if isinstance(target, ThreadTarget)
        else fits.pair(designation.normalised(wanted.text)),
        gauges=gauges,
        infeed=fed,
        turning=turned,
        before_plating=_before_plating(target, wanted, collected),
        lathe_name=lathe.name if lathe else "",
        notes=target.notes + (fed.notes if fed else ()),
        problems=tuple(collected),
    )


def _gauges(
    target: ThreadTarget, wanted: Asked, owned: Sequence[OwnedWires], collected: list[Problem]
) -> Gauges | None:
    try:
        if target.kind.is_internal:
            return _with_wires(target, wanted, balls.usable(target), None, collected)
        usable = wire_rules.usable(target, wanted.crest_mm)
        return _with_wires(target, wanted, usable, sort_wires(target, owned, usable), collected)
    except OutOfRange as error:
        collected.append(Problem("out_of_range", sentence(error.words(wanted.unit)), "designation"))
        return None


def _with_wires(
    target: ThreadTarget,
    wanted: Asked,
    usable: WireRange | BallRange,
    crib: SortedWires | None,
    collected: list[Problem],
) -> Gauges:
    """The wire in use: the set picked, the size typed, the crib's nearest, else the recommended."""
    picked = _picked(wanted, crib, collected)
    if picked is not None:
        wires, chosen, origin = picked.wires, picked, "crib"
    elif wanted.wire_mm is not None:
        wires, chosen, origin = Wires.nominal(wanted.wire_mm), None, "typed"
    elif crib is not None and crib.nearest is not None:
        wires, chosen, origin = crib.nearest.wires, crib.nearest, "crib"
    else:
        size_mm = _recommended_mm(usable, wanted.unit)
        if size_mm is None:
            words: str = say(
                "No wire is usable at every size within the limits: type the crest as turned."
            )
            return Gauges(usable, crib, None, "recommended", None, None, words)
        wires, chosen, origin = Wires.nominal(size_mm), None, "recommended"
    at_zero_force = chosen is not None and chosen.at_zero_force
    try:
        measured = measuring.measured_over(
            target, wires, wanted.rule, at_zero_force, crest_mm=wanted.crest_mm
        )
        other_rule = Rule.EXACT if measured.rule is Rule.HANDBOOK else Rule.HANDBOOK
        other = measuring.measured_over(
            target, wires, other_rule, at_zero_force, crest_mm=wanted.crest_mm
        )
    except (WireUnusable, BallUnusable) as error:
        words = error.sentence(wanted.unit)
        field = "wire_set_id" if picked is not None else "wire"
        collected.append(Problem("wire_unusable", words, field))
        return Gauges(usable, crib, chosen, origin, None, None, words)
    return Gauges(usable, crib, chosen, origin, measured, other)


def _picked(wanted: Asked, crib: SortedWires | None, collected: list[Problem]) -> OwnedWires | None:
    if wanted.wire_set_id is None or crib is None:
        return None
    every = (*crib.usable, *(each for each, _ in crib.unusable))
    for each in every:
        if each.set_id == wanted.wire_set_id:
            return each
    message = say("There is no wire set with number {number}.", number=wanted.wire_set_id)
    collected.append(Problem("not_found", message, "wire_set_id"))
    return None


def _recommended_mm(usable: WireRange | BallRange, unit: str) -> float | None:
    """The best size as written; where best itself is unusable, the nearest with room to spare.

    None where no size is usable.
    """
    if usable.smallest_mm > usable.largest_mm:
        return None
    room_mm = 0.0
    if not usable.holds(usable.best_mm):
        room_mm = ROOM_SHARE * (usable.largest_mm - usable.smallest_mm)
    exact_mm = min(max(usable.best_mm, usable.smallest_mm + room_mm), usable.largest_mm - room_mm)
    places = units.usual_decimals(unit)
    written_mm = units.to_mm(round(units.from_mm(exact_mm, unit), places), unit)
    return written_mm if usable.holds(written_mm) else exact_mm


def _before_plating(
    target: Target, wanted: Asked, collected: list[Problem]
) -> ThreadBeforePlating | Limits | None:
    if wanted.coat is None:
        return None
    try:
        if isinstance(target, ThreadTarget):
            return aims.thread_before_plating(target, wanted.coat)
        return aims.plain_before_plating(target, wanted.coat)
    except ValueError as error:
        message = sentence(reason_of(error, wanted.unit))
        collected.append(Problem("out_of_range", message, "plating"))
    return None
