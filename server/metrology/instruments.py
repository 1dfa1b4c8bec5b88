"""What a reading was taken with, and whether that is fine enough for the tolerance."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from server.metrology.materials import STEEL_EXPANSION_PER_C
from server.metrology.scatter import NO_REPEATS, Repeats
from server.metrology.tables import rows
from server.wording import joined, say

GOOD_RATIO = 10.0  # tolerance over instrument error; common practice
LEAST_RATIO = 4.0  # ASME B89.7.3.1, from memory: 4:1 is the usual least


class InstrumentKind(StrEnum):
    MICROMETER = "micrometer"
    CALLIPER = "calliper"
    CALLIPER_INSIDE = "calliper_inside"
    DEPTH_MICROMETER = "depth_micrometer"
    INSIDE_MICROMETER = "inside_micrometer"
    BORE_GAUGE = "bore_gauge"
    THREAD_MICROMETER = "thread_micrometer"
    INDICATOR = "indicator"
    LIMIT_GAUGE = "limit_gauge"  # GO and NOT GO: evidence, no size
    OTHER = "other"


# Standard deviation of one reading by a practised hand, however finely the instrument reads  [mm];
# common practice, to be outdone by the instrument's own repeats.
HAND_SCATTER_MM = {
    InstrumentKind.MICROMETER: 0.001,
    InstrumentKind.THREAD_MICROMETER: 0.001,
    InstrumentKind.DEPTH_MICROMETER: 0.001,
    InstrumentKind.INSIDE_MICROMETER: 0.002,
    InstrumentKind.BORE_GAUGE: 0.001,
    InstrumentKind.CALLIPER: 0.005,
    InstrumentKind.CALLIPER_INSIDE: 0.005,
}


@dataclass(frozen=True)
class Instrument:
    """One instrument of the crib.

    resolution_mm         least step that is read off  [mm], > 0
    max_error_mm          maximum permissible error +-  [mm]; None where the user gave none
    zero_offset_mm        what it shows at true zero, taken off every reading  [mm]
    is_zero_checked       True where that offset was read off before the job
    expansion_per_c       of its frame and screw  [1/K]
    force_n               measuring force  [N], None where not known
    record                how it repeated in earlier jobs
    """

    kind: InstrumentKind
    resolution_mm: float
    max_error_mm: float | None = None
    zero_offset_mm: float = 0.0
    is_zero_checked: bool = False
    expansion_per_c: float = STEEL_EXPANSION_PER_C
    force_n: float | None = None
    name: str = ""
    record: Repeats = NO_REPEATS

    @property
    def hand_scatter_mm(self) -> float:
        """What readings repeat to at best with this kind of instrument in the hand.  [mm]"""
        return HAND_SCATTER_MM.get(self.kind, 0.0)


@dataclass(frozen=True)
class MaxError:
    """A maximum permissible error and where it comes from.  [mm]"""

    max_error_mm: float
    is_default: bool
    source: str


@dataclass(frozen=True)
class Fineness:
    """How the instrument compares with the tolerance.

    ratio   tolerance over the error span, 10 or more is good, under 4 too coarse
    cure    what to do about it; "" where nothing need be done
    """

    ratio: float
    is_good: bool
    is_too_coarse: bool
    judgement: str
    cure: str = ""

    @property
    def words(self) -> str:
        return joined((self.judgement, self.cure), " ")


def max_error(instrument: Instrument, size_mm: float) -> MaxError:
    """The instrument's own maximum permissible error, or the default for its kind and size.

    Defaults are class values of DIN 863 and DIN 862 (marked is_default), since ISO 3611 and
    ISO 13385-1 leave the values to the maker; a kind without one counts two steps of resolution
    (common practice).
    """
    if instrument.max_error_mm is not None:
        return MaxError(instrument.max_error_mm, False, say("as given for the instrument"))
    fitting = [
        row
        for row in rows("instrument_mpe")
        if row["kind"] == instrument.kind.value
        and float(row["resolution_over_mm"]) < max(instrument.resolution_mm, 1e-12)
    ]
    coarsest = max((float(row["resolution_over_mm"]) for row in fitting), default=0.0)
    steps = [row for row in fitting if float(row["resolution_over_mm"]) == coarsest]
    if not steps:
        return MaxError(
            2 * instrument.resolution_mm,
            True,
            say("two steps of the resolution, common practice"),
        )
    row = next((row for row in steps if abs(size_mm) <= float(row["size_to_mm"])), steps[-1])
    basis = say("common practice")
    if row["standard"]:
        basis = say("class value of {standard}", standard=row["standard"])
    return MaxError(float(row["max_error_mm"]), True, basis)


def fineness(instrument: Instrument, size_mm: float, tolerance_mm: float) -> Fineness:
    """Whether the instrument is fine enough for a tolerance, by the 10:1 and 4:1 rules.

    The ratio is tolerance over the larger of resolution and maximum permissible error.
    Source: 10:1 common practice; 4:1 ASME B89.7.3.1, from memory.  ValueError for a tolerance <= 0.
    """
    if tolerance_mm <= 0:
        raise ValueError(f"tolerance is {tolerance_mm} mm; it must be above 0")
    error_mm = max(instrument.resolution_mm, max_error(instrument, size_mm).max_error_mm)
    ratio = tolerance_mm / error_mm if error_mm > 0 else float("inf")
    is_good, is_too_coarse = ratio >= GOOD_RATIO - 1e-9, ratio < LEAST_RATIO - 1e-9
    shown = f"{ratio:.1f}:1"
    if ratio > 100:
        said = say("Tolerance to instrument error is over 100:1; the 10:1 rule is met.")
        return Fineness(ratio, is_good, is_too_coarse, said)
    if is_good:
        said = say("Tolerance to instrument error is {ratio}; the 10:1 rule is met.", ratio=shown)
        return Fineness(ratio, is_good, is_too_coarse, said)
    if is_too_coarse:
        said = say("Too coarse for this tolerance: {ratio}, and 4:1 is the least.", ratio=shown)
        cure = say("Use a finer instrument, or average several readings for its scatter.")
    else:
        said = say(
            "Tolerance to instrument error is {ratio}: under 10:1 but over 4:1. It serves.",
            ratio=shown,
        )
        cure = say("Near a limit average several readings.")
    return Fineness(ratio, is_good, is_too_coarse, said, cure)
