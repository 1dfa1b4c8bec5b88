"""A unified thread with every part known: its spelling, and whether it can be cut at all."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from server.metrology.model import DesignationError
from server.metrology.threads import unified_series as series_table
from server.metrology.threads.unified_limits import InchLimits
from server.wording import say

_ENGAGED_OVER_DIAMETER = (Decimal(4), Decimal(6), Decimal(8))  # tpi of 4-, 6- and 8-UN
_MINOR_HEIGHT = Decimal("1.08253175")


@dataclass(frozen=True)
class UnifiedThread:
    """A unified thread with every part known.  Lengths [in]."""

    diameter: Decimal
    tpi: Decimal
    form: str  # UN, UNR or UNJ
    name: str  # C, F, EF, S or empty for the constant-pitch series
    tolerance_class: str
    hand: str
    engagement: Decimal | None  # as stated
    starts: int
    in_series: bool

    @property
    def series(self) -> str:
        return self.form + self.name

    @property
    def engagement_used(self) -> Decimal | None:
        """Length of engagement in the formula [in]; None for nine pitches."""
        if self.engagement is not None or not self.in_series or self.name in ("EF", "S"):
            return self.engagement
        coarse = self.name in ("C", "F") or self.tpi in _ENGAGED_OVER_DIAMETER
        return self.diameter if coarse else None

    @property
    def designation(self) -> str:
        tpi = series_table.tpi_name(self.tpi)
        pitch = tpi if self.starts == 1 else self._pitch_and_lead()
        size = series_table.size_name(self.diameter)
        if size.isdigit() and series_table.is_number_size(int(size), self.tpi):
            size += ".000"
        ends = [f"{size}-{pitch} {self.series}"]
        ends.append(self.tolerance_class)
        if self.hand == "left":
            ends.append("LH")
        stated = "" if self.engagement is None else f" LE={self.engagement.normalize():f}"
        return "-".join(ends) + stated

    def _pitch_and_lead(self) -> str:
        step, lead = (f"{count / self.tpi:.6f}".rstrip("0") for count in (1, self.starts))
        return f"{step}P-{lead}L"


def not_in_standard(
    part: str, fault: str, diameter: Decimal, tpi: Decimal | None
) -> DesignationError:
    near = series_table.nearest(diameter, tpi if tpi and tpi > 0 else None)
    return DesignationError(
        say("{fault}; near it are {nearest}.", fault=fault, nearest=", ".join(near)),
        code="not_in_standard",
        part=part,
        accepted=say("a size and pitch of a standard series, or UNS for a special one"),
        nearest=near,
    )


def refuse_forbidden(thread: UnifiedThread) -> None:
    """DesignationError for a size, pitch or engagement that no thread can have."""
    pair = f"{series_table.size_name(thread.diameter)}-{series_table.tpi_name(thread.tpi)}"
    pitch = 1 / thread.tpi
    if thread.diameter - _MINOR_HEIGHT * pitch <= thread.diameter / 10:
        fault = say(
            "“{part}” leaves no core: the thread would be as deep as the part is thick", part=pair
        )
        raise not_in_standard(pair, fault, thread.diameter, thread.tpi)
    if thread.diameter > 40 or thread.tpi > 120:
        fault = say("“{part}” is far outside what the standard's formulas were made for", part=pair)
        raise not_in_standard(pair, fault, thread.diameter, thread.tpi)
    engagement = thread.engagement
    if engagement is not None and not pitch <= engagement <= 20:
        raise DesignationError(
            say(
                "An engagement of {engagement} in is not between one pitch and 20 in.",
                engagement=engagement,
            ),
            code="not_in_standard",
            part=f"LE={engagement}",
            accepted=say("one pitch to 20 in"),
        )


def refuse_without_flank(thread: UnifiedThread, found: InchLimits) -> None:
    """DesignationError where the tolerances would eat the whole flank."""
    if not (found.minor_high < found.pitch_low and found.pitch_high < found.major_low):
        pair = f"{series_table.size_name(thread.diameter)}-{series_table.tpi_name(thread.tpi)}"
        fault = say(
            "“{part}” is too fine for its size: the tolerances would leave no flank", part=pair
        )
        raise not_in_standard(pair, fault, thread.diameter, thread.tpi)


def range_notes(thread: UnifiedThread, found: InchLimits) -> list[str]:
    notes: list[str] = []
    is_external = thread.tolerance_class.endswith("A")
    if thread.engagement is not None:
        notes.append(
            say(
                "outside the standard's range of series: tolerance for {length} in of engagement",
                length=thread.engagement,
            )
        )
    elif not thread.in_series:
        notes.append(
            say("outside the standard's range of series: tolerance for nine pitches of engagement")
        )
    if not Decimal("0.06") <= thread.diameter <= 6 or not 4 <= thread.tpi <= 80:
        notes.append(say("outside the standard's range: computed by its formulas"))
    elif thread.tolerance_class.startswith("1") and (
        thread.name not in ("C", "F") or thread.diameter < Decimal("0.25")
    ):
        notes.append(
            say("outside the standard's range: class 1 is printed for UNC and UNF from 1/4")
        )
    if not is_external and thread.tpi < 4:
        notes.append(say("minor diameter: formula recalled, unchecked"))
    if thread.form == "UNJ":
        notes.append(say("formula recalled, unchecked"))
    elif is_external and thread.form == "UN":
        flat = found.major_high or thread.diameter
        flat -= _MINOR_HEIGHT / thread.tpi
        notes.append(
            say(
                "minor diameter: as printed, for a rounded root; a flat root may reach {flat} in",
                flat=f"{flat:.4f}",
            )
        )
    if thread.starts > 1:
        notes.append(say("several starts: limits of the single-start thread of this pitch"))
    return notes
