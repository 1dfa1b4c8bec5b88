"""Whether a reading can be what it says, before it is stored."""

from __future__ import annotations

from collections.abc import Callable

from server.advice.model import Cut, Reset
from server.logbook.evaluate import Evaluation
from server.logbook.setup import Setup
from server.logbook.sizes import Sized
from server.logbook.stages import Stage, StageSize
from server.metrology import dials, infeed
from server.metrology.model import Kind
from server.metrology.units import MM_PER_INCH, UNIT_WORDS
from server.wording import joined, say

DECIMAL_SLIPS = (0.1, 10.0, 0.01, 100.0)
THIMBLE_TURN_MM = {"in": 0.025 * MM_PER_INCH, "mm": 0.5}  # common practice: 40 tpi, 0.5 mm screw
LARGEST_LEFT_STANDING = 0.6  # of a cut, by a slender boring bar
CUT_SCATTER_MM = 0.03  # on diameter: what a manual dial and a tool's seat add to one cut
OTHER_STATION_MM = 0.05  # taper and out-of-round between two places of one feature; common practice
LOST_ZERO_MM = 1.0  # after a new zero, tool or chucking the dial says little of the move


def doubt_in_words(
    setup: Setup,
    before: Evaluation,
    candidate: Sized,
    cut_mm: float | None,
    as_if_read: Callable[[float], Sized | None],
    unit: str,
) -> str | None:
    """Why a reading is hard to believe, with the usual blunder named; None where it is not.

    candidate      the reading as a size;  as_if_read  the size, were the reading so many times it
    cut_mm         dialled since the last reading, on diameter; None for a repeat at one state
    """
    reason = fault(setup, before, candidate, cut_mm)
    if reason is None:
        return None

    def would_fit(factor: float) -> bool:
        misread = as_if_read(factor)
        return misread is not None and fault(setup, before, misread, cut_mm) is None

    if would_fit(1 / MM_PER_INCH if unit == "in" else MM_PER_INCH):
        other = "mm" if unit == "in" else "in"
        inch_or_mm = say(
            "It would fit if it was read in {other}: is it {unit} or {other}?",
            unit=UNIT_WORDS[unit],
            other=UNIT_WORDS[other],
        )
        return joined((reason, inch_or_mm), " ")
    if any(would_fit(factor) for factor in DECIMAL_SLIPS):
        point = say("It would fit with the decimal point in another place: look at it again.")
        return joined((reason, point), " ")
    return joined((reason, blunder(setup, before, candidate, cut_mm, unit)), " ")


def fault(setup: Setup, before: Evaluation, candidate: Sized, cut_mm: float | None) -> str | None:
    if before.known is None:
        return first_fault(setup, candidate)
    return later_fault(setup, before, candidate, cut_mm)


def first_fault(setup: Setup, candidate: Sized) -> str | None:
    """A first reading should lie between a raw blank and a little past the limit."""
    stock_mm = infeed.stock_on_size_mm(candidate.size_mm, setup.aim_mm, setup.kind)
    words = setup.in_words
    target = setup.thread
    if target is None:
        most_mm = 0.3 * setup.target.nominal_mm + 10
    elif setup.kind is Kind.EXTERNAL_THREAD:
        crest_mm = setup.crest_diameter_mm or target.nominal_mm
        most_mm = crest_mm - setup.aim_mm + 1.05 * target.pitch_mm
        if candidate.contact == "uncut":
            return say(
                "That is more than the wires would read on the crest before any thread is cut."
            )
    else:
        most_mm = 3 * target.pitch_mm
    least_mm = -(0.25 * setup.limits.tolerance_mm + 0.005 * setup.target.nominal_mm + 0.15)
    if stock_mm > most_mm:
        return say(
            "That leaves {stock} to cut, more than this size can have.", stock=words(stock_mm)
        )
    if stock_mm < least_mm - setup.limits.tolerance_mm / 2:
        return say("That is {length} past the aim, on the first reading.", length=words(-stock_mm))
    return None


def later_fault(
    setup: Setup, before: Evaluation, candidate: Sized, cut_mm: float | None
) -> str | None:
    known = before.known
    if known is None:
        return None
    words = setup.in_words
    sign = -1 if setup.kind.is_internal else 1
    known_mm, elsewhere_mm = last_size_there(before, known, candidate)
    removed_mm = sign * (known_mm - candidate.size_mm)
    pending, lost_zero = pending_moves(before)
    dialled_mm = (cut_mm or 0.0) + pending
    slack_mm = reading_slack_mm(setup, before, candidate) + elsewhere_mm
    is_repeat = cut_mm is None and not has_pending_cut(before)
    if is_repeat:
        if abs(removed_mm) <= slack_mm:
            return None
        change = words(abs(removed_mm))
        if candidate.size_mm < known_mm:
            return say(
                "Nothing was cut, yet it reads {change} less than the last time.", change=change
            )
        return say("Nothing was cut, yet it reads {change} more than the last time.", change=change)
    slack_mm += CUT_SCATTER_MM + (LOST_ZERO_MM if lost_zero else 0)
    most_mm = max(dialled_mm, 0.0) + standing_mm(before, dialled_mm) + slack_mm
    if removed_mm > most_mm:
        return say(
            "It says {removed} came off; {dialled} was dialled and at most {most} can have.",
            removed=words(removed_mm),
            dialled=words(dialled_mm),
            most=words(most_mm),
        )
    if removed_mm < -slack_mm:
        return say("It says the work grew by {length} under the tool.", length=words(-removed_mm))
    if dialled_mm > slack_mm and removed_mm < 0.15 * dialled_mm - slack_mm:
        return say(
            "{dialled} was dialled, yet it says next to nothing came off.",
            dialled=words(dialled_mm),
        )
    return None


def last_size_there(before: Evaluation, known: StageSize, candidate: Sized) -> tuple[float, float]:
    """(the last size at the candidate's station, or the feature's with room for another place)."""
    last = next(stage for stage in reversed(before.stages) if stage.size is not None)
    there = [each for each in last.readings if each.station == candidate.station]
    if not there:
        return known.size_mm, OTHER_STATION_MM
    return (there[-1].size_mm if known.stations else known.size_mm), 0.0


def reading_slack_mm(setup: Setup, before: Evaluation, candidate: Sized) -> float:
    """By how much two readings of the same thing may differ: scatter, warmth, one dial line."""
    known = before.known
    if known is None:
        return 0.0
    warmth_mm = (known.high_mm - known.low_mm) + (candidate.high_mm - candidate.low_mm)
    slide = setup.slides.dial(setup.slide)
    line_mm = slide.graduation_mm * dials.size_per_dial(setup.slide, setup.slides, setup.kind)
    scatter_mm = 4 * 2**0.5 * known.budget.u_per_reading_mm
    return scatter_mm + warmth_mm + max(0.01, 0.3 * line_mm)


def pending_moves(before: Evaluation) -> tuple[float, bool]:
    """(dialled since the last reading and already logged, whether an event came between)."""
    total_mm, lost = 0.0, False
    for stage in reversed(before.stages):
        if stage.size is not None:
            break
        total_mm += sum(move.depth_mm for move in stage.moves if isinstance(move, Cut))
        lost = lost or any(isinstance(move, Reset) for move in stage.moves)
    return total_mm, lost


def has_pending_cut(before: Evaluation) -> bool:
    last = before.stages[-1] if before.stages else None
    return (
        last is not None and last.size is None and any(isinstance(move, Cut) for move in last.moves)
    )


def standing_mm(before: Evaluation, dialled_mm: float) -> float:
    """Most that earlier cuts can have left standing: what is missing so far, and a springy share
    of the largest cut taken."""
    measured = [stage for stage in before.stages if stage.size is not None]
    deepest_mm = max([abs(dialled_mm), *(cut_of(stage) for stage in before.stages)])
    missing_mm = 0.0
    if len(measured) >= 2:
        first, last = measured[0].size, measured[-1].size
        if first is not None and last is not None:
            dialled = sum(cut_of(stage) for stage in before.stages if stage is not measured[0])
            missing_mm = dialled - abs(first.size_mm - last.size_mm)
    return max(missing_mm, LARGEST_LEFT_STANDING * deepest_mm, 0.0)


def cut_of(stage: Stage) -> float:
    return sum(move.depth_mm for move in stage.moves if isinstance(move, Cut))


def blunder(
    setup: Setup, before: Evaluation, candidate: Sized, cut_mm: float | None, unit: str
) -> str:
    """The usual blunder that would explain it, named."""
    known = before.known
    is_over_wires = setup.method == "over_wires"
    if known is None:
        if is_over_wires:
            return say(
                "Check the decimal point, the unit or other wires than noted, then confirm or "
                "type it again."
            )
        return say("Check the decimal point, the unit, then confirm or type it again.")
    sign = -1 if setup.kind.is_internal else 1
    pending, _ = pending_moves(before)
    expected_mm = known.size_mm - sign * ((cut_mm or 0.0) + pending)
    off_mm = candidate.size_mm - expected_mm
    turn_mm = THIMBLE_TURN_MM[unit]
    if abs(abs(off_mm) - turn_mm) < 0.2 * turn_mm:
        return say(
            "It is close to one thimble turn ({length}) off: read the sleeve again, then confirm "
            "or type it again.",
            length=setup.in_words(turn_mm),
        )
    if is_over_wires:
        return say(
            "Usual causes: one thimble turn, a misread digit, inch for mm or other wires than "
            "noted, a burr or a chip. Measure again, then confirm or type it again."
        )
    return say(
        "Usual causes: one thimble turn, a misread digit, inch for mm, a burr or a chip. Measure "
        "again, then confirm or type it again."
    )
