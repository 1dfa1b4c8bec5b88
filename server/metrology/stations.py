"""Several readings along and around one diameter, and what gauges prove."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from server.metrology.decision import GuardRule, Verdict, verdict
from server.metrology.model import Limits
from server.wording import joined, say


@dataclass(frozen=True)
class Station:
    """One size and where it was taken.

    size_mm, doubt_mm, u_mm   at 20 degrees C, with its doubt
    position_mm   along the axis from the chuck toward the tailstock; None where not noted
    angle_deg     around the axis; None where not noted
    """

    size_mm: float
    doubt_mm: float
    u_mm: float
    position_mm: float | None = None
    angle_deg: float | None = None
    name: str = ""


@dataclass(frozen=True)
class Taper:
    """A straight line through the diameters along the axis.

    per_length    change of diameter over length, dimensionless; positive: larger at the tailstock
    over_mm       change of diameter over the stations' own length
    length_mm     from the first to the last station
    """

    per_length: float
    over_mm: float
    length_mm: float


@dataclass(frozen=True)
class StationsVerdict:
    """The verdict on all stations of one feature.

    verdict           the worst: Past the limit, else Stock left, Too close to call, In limits
    smallest, largest the stations at the two ends of what was measured
    metal_on          the station with most metal on;  metal_gone  the one with least
    spread_mm         largest minus smallest
    is_uncurable      True where the spread is more than the tolerance: no cut brings all of it in
                      until taper or out-of-round is cured
    """

    verdict: Verdict
    smallest: Station
    largest: Station
    metal_on: Station
    metal_gone: Station
    spread_mm: float
    is_uncurable: bool


@dataclass(frozen=True)
class GaugeEvidence:
    """What GO and NOT GO gauges prove.  No size comes of it.

    verdict   what they say together, None where one alone or both in conflict leave it open
    """

    verdict: Verdict | None
    words: str


def taper(stations: Sequence[Station]) -> Taper | None:
    """Taper by least squares through the mean diameter at each position.

    None where fewer than two positions are noted.
    """
    means = _means_by_position(stations)
    if len(means) < 2:
        return None
    mean_x = sum(x for x, _ in means) / len(means)
    mean_y = sum(y for _, y in means) / len(means)
    spread = sum((x - mean_x) ** 2 for x, _ in means)
    slope = sum((x - mean_x) * (y - mean_y) for x, y in means) / spread
    length_mm = means[-1][0] - means[0][0]
    return Taper(slope, slope * length_mm, length_mm)


def out_of_round_mm(stations: Sequence[Station]) -> float | None:
    """Largest minus smallest diameter at one position, the worst position counting.  [mm]

    None where no position has two readings at different angles.  Two-point readings do not show
    an odd number of lobes, as from a three-jaw chuck: common practice is a V-block or three-point
    instrument for those.
    """
    around: dict[float | None, list[Station]] = {}
    for station in stations:
        if station.angle_deg is not None:
            around.setdefault(station.position_mm, []).append(station)
    spans = [
        max(s.size_mm for s in group) - min(s.size_mm for s in group)
        for group in around.values()
        if len({s.angle_deg for s in group}) > 1
    ]
    return max(spans, default=None)


def tailstock_shift_mm(taper: Taper, between_centres_mm: float) -> float:
    """How far to move the tailstock toward the operator, the tool's side.  [mm]

    between_centres_mm   length of the work between centres, > 0
    Half the change of diameter over that length; negative: away from the operator.  Moved toward
    the tool, the tailstock end is cut smaller.  Derived: taper x length / 2.
    Raises ValueError.
    """
    if between_centres_mm <= 0:
        raise ValueError(f"length between centres is {between_centres_mm} mm; it must be above 0")
    return taper.per_length * between_centres_mm / 2


def compound_shift_rad(taper: Taper) -> float:
    """How far to swing a compound that turns the diameter.  [rad]

    Positive: so that the tailstock end of its travel comes nearer the axis.
    Derived: half the included angle, atan(taper / 2).
    """
    return math.atan(taper.per_length / 2)


def cure_words(
    taper: Taper,
    between_centres_mm: float | None,
    length: Callable[[float], str],
    is_internal: bool = False,
) -> str:
    """What the taper is and what cures it; length gives a length for the eye, from mm.

    between_centres_mm   None where not known: the tailstock's shift is given for the stations' own
                         length, and what a compound that turns the diameter is swung by
    """
    if abs(taper.over_mm) < 1e-9:
        return say("No taper between the stations.")
    said, swing = _taper_words(taper, length), _compound_words(taper)
    if is_internal:
        return say("{taper}: turned with the compound, {swing}.", taper=said, swing=swing)
    is_toward = taper.per_length > 0
    if between_centres_mm is not None:
        shift = length(abs(tailstock_shift_mm(taper, between_centres_mm)))
        if is_toward:
            return say(
                "{taper}: move the tailstock {shift} toward the operator.", taper=said, shift=shift
            )
        return say(
            "{taper}: move the tailstock {shift} away from the operator.", taper=said, shift=shift
        )
    shift, each = length(abs(taper.over_mm) / 2), length(taper.length_mm)
    if is_toward:
        return say(
            "{taper}: between centres move the tailstock {shift} toward the operator for every "
            "{each} of their distance; turned with the compound, {swing}.",
            taper=said,
            shift=shift,
            each=each,
            swing=swing,
        )
    return say(
        "{taper}: between centres move the tailstock {shift} away from the operator for every "
        "{each} of their distance; turned with the compound, {swing}.",
        taper=said,
        shift=shift,
        each=each,
        swing=swing,
    )


def _taper_words(taper: Taper, length: Callable[[float], str]) -> str:
    more, over = length(abs(taper.over_mm)), length(taper.length_mm)
    if taper.per_length > 0:
        return say("{more} larger at the tailstock end over {length}", more=more, length=over)
    return say("{more} larger at the chuck end over {length}", more=more, length=over)


def _compound_words(taper: Taper) -> str:
    angle_rad = compound_shift_rad(taper)
    degrees = math.degrees(abs(angle_rad))
    if degrees < 0.0005:
        return say("that is less than a compound can be swung by")
    if angle_rad > 0:
        return say(
            "swing it {angle}° so that the tailstock end of its travel comes nearer to the axis",
            angle=f"{degrees:.3f}",
        )
    return say(
        "swing it {angle}° so that the tailstock end of its travel comes away from the axis",
        angle=f"{degrees:.3f}",
    )


def worst_verdict(
    stations: Sequence[Station],
    limits: Limits,
    is_internal: bool,
    rule: GuardRule = GuardRule.FULL,
) -> StationsVerdict:
    """The verdict on the worst station of each side.  ValueError where there is none.

    Each station is judged with its own doubt.  Past the limit at one place is past for the piece;
    after it, metal still on at one place keeps the piece unfinished.
    """
    if not stations:
        raise ValueError("no station to judge")
    smallest = min(stations, key=lambda station: station.size_mm)
    largest = max(stations, key=lambda station: station.size_mm)
    found = {verdict(s.size_mm, s.doubt_mm, s.u_mm, limits, is_internal, rule) for s in stations}
    spread_mm = largest.size_mm - smallest.size_mm
    both = limits.low_mm is not None and limits.high_mm is not None
    return StationsVerdict(
        verdict=next(one for one in _WORST_FIRST if one in found),
        smallest=smallest,
        largest=largest,
        metal_on=smallest if is_internal else largest,
        metal_gone=largest if is_internal else smallest,
        spread_mm=spread_mm,
        is_uncurable=both and spread_mm > limits.tolerance_mm,
    )


def gauge_evidence(
    go_enters: bool | None, not_go_enters: bool | None, is_internal: bool, is_thread: bool
) -> GaugeEvidence:
    """What was proved by a GO and a NOT GO gauge (ring or gap outside, plug inside).

    go_enters, not_go_enters   None where that gauge was not tried
    Source: Taylor's principle; ISO 1502 and ASME B1.2 for threads, from memory.
    """
    return GaugeEvidence(
        _GAUGE_VERDICTS.get((go_enters, not_go_enters)),
        joined(
            (
                _go_words(go_enters, is_internal, is_thread),
                _not_go_words(not_go_enters, is_internal, is_thread),
                _CONFLICT if (go_enters, not_go_enters) == (False, True) else "",
            ),
            " ",
        )
        or say("No gauge tried."),
    )


_WORST_FIRST = (Verdict.PAST_LIMIT, Verdict.STOCK_LEFT, Verdict.TOO_CLOSE, Verdict.IN_LIMITS)

_GAUGE_VERDICTS: dict[tuple[bool | None, bool | None], Verdict] = {
    (True, False): Verdict.IN_LIMITS,
    (True, True): Verdict.PAST_LIMIT,
    (None, True): Verdict.PAST_LIMIT,
    (False, False): Verdict.STOCK_LEFT,
    (False, None): Verdict.STOCK_LEFT,
}

_CONFLICT = say(
    "The two disagree: look for a burr, a wrong pitch or angle, taper, or gauges mixed up; "
    "it is not in limits."
)


_GO_ENTERS = {  # is it internal, is it a thread
    (False, False): say("GO enters: nowhere beyond the high limit."),
    (False, True): say("GO enters: nowhere beyond the high limit, form and lead included."),
    (True, False): say("GO enters: nowhere beyond the low limit."),
    (True, True): say("GO enters: nowhere beyond the low limit, form and lead included."),
}
_NOT_GO_ENTERS = {
    (False, False): say("NOT GO enters: the size is past its low limit."),
    (False, True): say("NOT GO enters: the pitch diameter is past its low limit."),
    (True, False): say("NOT GO enters: the size is past its high limit."),
    (True, True): say("NOT GO enters: the pitch diameter is past its high limit."),
}
_NOT_GO_STAYS_OUT = {
    (False, False): say("NOT GO does not enter: the size is not past its low limit."),
    (False, True): say("NOT GO does not enter: the pitch diameter is not past its low limit."),
    (True, False): say("NOT GO does not enter: the size is not past its high limit."),
    (True, True): say("NOT GO does not enter: the pitch diameter is not past its high limit."),
}


def _go_words(enters: bool | None, is_internal: bool, is_thread: bool) -> str:
    if enters is None:
        return ""
    if enters:
        return _GO_ENTERS[is_internal, is_thread]
    if is_thread:
        return say("GO does not enter: metal is still on, or form, lead or a burr stops it.")
    return say("GO does not enter: metal is still on, or a burr stops it.")


def _not_go_words(enters: bool | None, is_internal: bool, is_thread: bool) -> str:
    if enters is None:
        return ""
    return (_NOT_GO_ENTERS if enters else _NOT_GO_STAYS_OUT)[is_internal, is_thread]


def _means_by_position(stations: Sequence[Station]) -> list[tuple[float, float]]:
    sizes: dict[float, list[float]] = {}
    for station in stations:
        if station.position_mm is not None:
            sizes.setdefault(station.position_mm, []).append(station.size_mm)
    return [(x, sum(group) / len(group)) for x, group in sorted(sizes.items())]
