"""One feature over the pieces of a lot: drift, what centres the next one, first and last."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from server.logbook.setup import Setup
from server.metrology import capability, dials, infeed
from server.metrology.capability import LEAST_FOR_DRIFT, LEAST_PIECES, Capability, Drift
from server.metrology.decision import VERDICT_WORDS, Verdict
from server.metrology.units import from_mm, to_mm


@dataclass(frozen=True)
class LotSize:
    """The final size of one piece, or where an open one stands.  [mm]"""

    piece_id: int
    number: int
    serial: str
    state: str  # "", good, scrap, concession
    size_mm: float
    doubt_mm: float
    verdict: str
    at: str


@dataclass(frozen=True)
class Centring:
    """What to dial so that the next piece lands on the aim.  Lengths [mm]

    expected_mm  size the next piece would come to with the setting as it is
    stock_mm     how much more comes off then, on the size; negative: less
    dial         whole graduations in the dial's own count and unit, toward leaving metal
    """

    expected_mm: float
    stock_mm: float
    dial: Decimal
    dial_unit: str
    follows_drift: bool


@dataclass(frozen=True)
class FeatureLot:
    """One feature of a lot, oldest piece first; since is the first piece after a tool change."""

    setup: Setup
    sizes: tuple[LotSize, ...]
    since: int
    drift: Drift | None
    capability: Capability | None
    centring: Centring | None
    first: str
    last: str

    @property
    def finished(self) -> tuple[LotSize, ...]:
        return tuple(size for size in self.sizes if size.state)


def feature_lot(setup: Setup, sizes: tuple[LotSize, ...], since: int) -> FeatureLot:
    """since  number of the first piece after the tool was last changed"""
    finished = [size for size in sizes if size.state]
    with_tool = [size for size in finished if size.number >= since]
    line = capability.drift(
        [float(size.number) for size in with_tool], [size.size_mm for size in with_tool]
    )
    centring = centring_of(setup, with_tool, line)
    return FeatureLot(
        setup=setup,
        sizes=sizes,
        since=since,
        drift=line,
        capability=capability.capability([size.size_mm for size in finished], setup.limits),
        centring=centring,
        first=first_words(setup, finished[0]) if finished else "",
        last=last_words(setup, finished[0], finished[-1]) if len(finished) > 1 else "",
    )


def centring_of(setup: Setup, sizes: list[LotSize], line: Drift | None) -> Centring | None:
    """From the drift line where it is sure, else from the median; None before the first size."""
    if not sizes:
        return None
    follows = line is not None and line.is_sure
    if line is not None and follows:
        expected_mm = line.at_mm(sizes[-1].number + 1)
    else:
        ordered = sorted(size.size_mm for size in sizes)
        half = len(ordered) // 2
        expected_mm = (ordered[half] + ordered[-half - 1]) / 2
    stock_mm = infeed.stock_on_size_mm(expected_mm, setup.aim_mm, setup.kind)
    dial = setup.slides.dial(setup.slide)
    step_mm = dials.dial_step_mm(stock_mm, setup.slide, setup.slides, setup.kind)
    step = dial.leaving_metal(step_mm)
    if abs(step_mm - to_mm(float(step), dial.unit)) > abs(step_mm):
        step = Decimal(0)  # a whole line would land farther off than the setting as it is
    return Centring(expected_mm, stock_mm, step, dial.unit, follows)


def first_words(setup: Setup, first: LotSize) -> str:
    """Common practice of first pieces: inside the middle half of the tolerance the setting stands.

    Source: the middle half is the target zone of pre-control (recalled).
    """
    low_mm, high_mm = setup.limits.both()
    quarter_mm = (high_mm - low_mm) / 4
    off_mm = first.size_mm - setup.aim_mm
    where = f"First piece, {first.number}: {word_of(first.verdict)}"
    away = f"{setup.in_words(abs(off_mm))} {'above' if off_mm > 0 else 'below'} the aim"
    if setup.in_words(abs(off_mm)) == setup.in_words(0.0):
        away = "on the aim"
    if first.verdict == Verdict.PAST_LIMIT.value or not low_mm <= first.size_mm <= high_mm:
        return f"{where}, {away}. Correct the setting before the next piece."
    if low_mm + quarter_mm <= first.size_mm <= high_mm - quarter_mm:
        return f"{where}, {away}, in the middle half of the limits: the setting stands."
    return f"{where}, {away}, outside the middle half of the limits: look at the setting."


def last_words(setup: Setup, first: LotSize, last: LotSize) -> str:
    change_mm = last.size_mm - first.size_mm
    doubt_mm = (first.doubt_mm**2 + last.doubt_mm**2) ** 0.5
    where = f"Last piece, {last.number}: {word_of(last.verdict)}"
    amount = f"{setup.in_words(abs(change_mm))} {'larger' if change_mm > 0 else 'smaller'}"
    if abs(change_mm) <= doubt_mm:
        return f"{where}; no different from the first within ± {setup.in_words(doubt_mm)}."
    return f"{where}; {amount} than the first, ± {setup.in_words(doubt_mm)}."


def word_of(verdict: str) -> str:
    return VERDICT_WORDS[Verdict(verdict)].lower() if verdict else "no verdict"


def capability_words(lot: FeatureLot) -> str:
    """The figures with their intervals, or what is missing for them."""
    found, count = lot.capability, len(lot.finished)
    if found is None and count < LEAST_PIECES:
        return (
            f"Cp and Cpk are shown from {LEAST_PIECES} finished pieces on; this lot has {count}. "
            "From fewer they would say more than is known."
        )
    if found is None:
        return "The sizes do not scatter at all: the instrument is too coarse for a figure."
    return (
        f"Cp {found.cp:.2f} (95 % between {found.cp_interval[0]:.2f} and "
        f"{found.cp_interval[1]:.2f}), Cpk {found.cpk:.2f} (between {found.cpk_interval[0]:.2f} "
        f"and {found.cpk_interval[1]:.2f}), from {found.count} pieces taken as scattering normally."
    )


def drift_words(lot: FeatureLot) -> str:
    """Which way the size goes from piece to piece, and how sure that is."""
    line, setup = lot.drift, lot.setup
    since = f" since piece {lot.since}, after the tool was changed," if lot.since > 1 else ""
    if line is None:
        return (
            f"A drift is looked for from {LEAST_FOR_DRIFT} finished pieces on{since.rstrip(',')}."
        )
    places = setup.decimals + 1
    each, low, high = (
        f"{from_mm(value, setup.unit):+.{places}f}".replace("-", "−")
        for value in (line.per_piece_mm, line.low_mm, line.high_mm)
    )
    span = f"{each} {setup.unit} a piece (95 % between {low} and {high})"
    if not line.is_sure:
        return f"No sure drift{since} over {line.count} pieces: {span}."
    larger = line.per_piece_mm > 0
    wears = larger != setup.kind.is_internal
    cause = ": as a tool that wears leaves it" if wears else ": not what a worn tool does"
    return f"The size drifts{since} over {line.count} pieces by {span}{cause}."


def centring_words(lot: FeatureLot) -> str:
    """What to dial for the next piece."""
    found, setup = lot.centring, lot.setup
    if found is None:
        return ""
    basis = "follows the drift" if found.follows_drift else "from the middle of the pieces so far"
    expected = setup.in_words(found.expected_mm)
    if found.dial == 0:
        return f"The next piece should come to {expected} ({basis}): leave the setting as it is."
    way = "further in" if found.dial > 0 else "less far in"
    return (
        f"The next piece should come to {expected} ({basis}). To centre it, finish "
        f"{abs(found.dial):f} {found.dial_unit} {way} on the {setup.slide.value.replace('_', '-')} "
        "dial."
    )
