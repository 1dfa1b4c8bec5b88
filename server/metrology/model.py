"""The values that the rest of the metrology speaks in."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from server.metrology.units import shown
from server.wording import joined, say

UNITS_OF_RANGES = {"rpm": say("rpm"), "deg": say("deg")}  # those that are words


class Kind(StrEnum):
    """One size to reach."""

    OUTSIDE_DIAMETER = "outside_diameter"
    BORE = "bore"
    EXTERNAL_THREAD = "external_thread"
    INTERNAL_THREAD = "internal_thread"
    GROOVE_DIAMETER = "groove_diameter"
    LENGTH = "length"

    @property
    def is_thread(self) -> bool:
        return self in (Kind.EXTERNAL_THREAD, Kind.INTERNAL_THREAD)

    @property
    def is_internal(self) -> bool:
        """True where cutting makes the size grow."""
        return self in (Kind.BORE, Kind.INTERNAL_THREAD)


class Rule(StrEnum):
    """How a size over wires is turned into a pitch diameter."""

    HANDBOOK = "handbook"
    EXACT = "exact"


@dataclass(frozen=True)
class Limits:
    """Low and high limit of a size at 20 degrees C.  [mm]  None where the standard gives none."""

    low_mm: float | None
    high_mm: float | None

    @property
    def tolerance_mm(self) -> float:
        low, high = self.both()
        return high - low

    @property
    def middle_mm(self) -> float:
        low, high = self.both()
        return (low + high) / 2

    def both(self) -> tuple[float, float]:
        """(low, high); ValueError where the standard leaves one of them open."""
        if self.low_mm is None or self.high_mm is None:
            raise ValueError(say("the standard gives only one of the two limits"))
        return self.low_mm, self.high_mm


@dataclass(frozen=True)
class ThreadTarget:
    """Everything a standard says of one thread.  Lengths [mm], angle [rad], all at 20 degrees C."""

    designation: str  # our own canonical spelling
    family: str  # unified, metric, acme, stub_acme, trapezoidal, whitworth, pipe_g ...
    kind: Kind
    nominal_mm: float
    pitch_mm: float
    lead_mm: float
    starts: int
    half_angle_rad: float
    hand: str  # "right" or "left"
    tolerance_class: str
    major_diameter: Limits
    pitch_diameter: Limits
    minor_diameter: Limits
    basic_pitch_diameter_mm: float
    allowance_mm: float  # >= 0: taken off the external, added to the internal (position G)
    unit: str  # the standard's own: "in" or "mm"
    decimals: int  # places the standard prints in that unit
    source: str  # standard, edition, clause
    notes: tuple[str, ...] = ()  # "outside the standard's range", "formula recalled, unchecked" ...


@dataclass(frozen=True)
class PlainTarget:
    """A plain size with its limits.  Lengths [mm] at 20 degrees C."""

    designation: str
    family: str  # iso286, ansi_b4_1, stated
    kind: Kind
    nominal_mm: float
    tolerance_class: str
    size: Limits
    unit: str
    decimals: int
    source: str
    notes: tuple[str, ...] = ()


Target = ThreadTarget | PlainTarget


class DesignationError(ValueError):
    """What a person wrote as a designation can't be turned into limits.

    code      "designation_unreadable" or "not_in_standard"
    part      the piece of the text that could not be read
    accepted  what would be, in words
    nearest   designations close by that would be read, best first
    """

    def __init__(
        self,
        message: str,
        *,
        code: str = "designation_unreadable",
        part: str = "",
        accepted: str = "",
        nearest: tuple[str, ...] = (),
    ) -> None:
        super().__init__(message)
        self.message = message
        self.code = code
        self.part = part
        self.accepted = accepted
        self.nearest = nearest


class OutOfRange(ValueError):
    """A number lies outside what a formula holds for."""

    def __init__(
        self, what: str, value: float, lower: float | None, upper: float | None, unit: str
    ) -> None:
        self.what = what
        self.value = value
        self.lower = lower
        self.upper = upper
        self.unit = unit
        super().__init__(self.words("mm"))

    def words(self, unit: str) -> str:
        """What it is and what it must be, lengths in the unit given ("in" or "mm")."""
        found = {"what": self.what, "size": self._size(self.value, unit)}
        lower, upper = self.lower, self.upper
        if lower is None and upper is None:
            return say("the {what} {size} can't be", **found)
        if upper is None:
            limit = self._size(lower or 0, unit)
            return say("the {what} is {size}; it must be above {limit}", limit=limit, **found)
        if lower is None:
            limit = self._size(upper, unit)
            return say("the {what} is {size}; it must be below {limit}", limit=limit, **found)
        return say(
            "the {what} is {size}; it must be {lower} to {upper}",
            lower=self._number(lower, unit),
            upper=self._size(upper, unit),
            **found,
        )

    def _size(self, value: float, unit: str) -> str:
        named = unit if self.unit == "mm" else UNITS_OF_RANGES.get(self.unit, self.unit)
        return joined((self._number(value, unit), named), " ")

    def _number(self, value: float, unit: str) -> str:
        return shown(value, unit) if self.unit == "mm" else f"{value:g}"
