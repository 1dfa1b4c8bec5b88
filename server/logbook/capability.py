"""One feature over the pieces of a lot: drift, what centres the next one, first and last."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from server.logbook.setup import Setup
from server.metrology import capability, dials, infeed
from server.metrology.capability import LEAST_FOR_DRIFT, LEAST_PIECES, Capability, Drift
from server.metrology.decision import IN_A_SENTENCE, Verdict
from server.metrology.dials import ON_DIAL
from server.metrology.units import from_mm, to_mm
from server.wording import joined, say


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
    found = {
        "number": first.number,
        "verdict": word_of(first.verdict),
        "place": place_words(setup, off_mm),
    }
    if first.verdict == Verdict.PAST_LIMIT.value or not low_mm <= first.size_mm <= high_mm:
        return say(
            "First piece, {number}: {verdict}, {place}. Correct the setting before the next piece.",
            **found,
        )
    if low_mm + quarter_mm <= first.size_mm <= high_mm - quarter_mm:
        return say(
            "First piece, {number}: {verdict}, {place}, in the middle half of the limits: the "
            "setting stands.",
            **found,
        )
    return say(
        "First piece, {number}: {verdict}, {place}, outside the middle half of the limits: look at "
        "the setting.",
        **found,
    )


def place_words(setup: Setup, off_mm: float) -> str:
    size = setup.in_words(abs(off_mm))
    if size == setup.in_words(0.0):
        return say("on the aim")
    if off_mm > 0:
        return say("{size} above the aim", size=size)
    return say("{size} below the aim", size=size)


def last_words(setup: Setup, first: LotSize, last: LotSize) -> str:
    change_mm = last.size_mm - first.size_mm
    doubt_mm = (first.doubt_mm**2 + last.doubt_mm**2) ** 0.5
    found = {
        "number": last.number,
        "verdict": word_of(last.verdict),
        "change": setup.in_words(abs(change_mm)),
        "doubt": setup.in_words(doubt_mm),
    }
    if abs(change_mm) <= doubt_mm:
        return say(
            "Last piece, {number}: {verdict}; no different from the first within ± {doubt}.",
            **found,
        )
    if change_mm > 0:
        return say(
            "Last piece, {number}: {verdict}; {change} larger than the first, ± {doubt}.", **found
        )
    return say(
        "Last piece, {number}: {verdict}; {change} smaller than the first, ± {doubt}.", **found
    )


def word_of(verdict: str) -> str:
    return IN_A_SENTENCE[Verdict(verdict)] if verdict else say("no verdict")


def capability_words(lot: FeatureLot) -> str:
    """The figures with their intervals, or what is missing for them."""
    found, count = lot.capability, len(lot.finished)
    if found is None and count < LEAST_PIECES:
        return say(
            "Cp and Cpk are shown from {least} finished pieces on; this lot has {count}. From "
            "fewer they would say more than is known.",
            least=LEAST_PIECES,
            count=count,
        )
    if found is None:
        return say("The sizes do not scatter at all: the instrument is too coarse for a figure.")
    return say(
        "Cp {cp} (95 % between {cp_low} and {cp_high}), Cpk {cpk} (between {cpk_low} and "
        "{cpk_high}), from {count} pieces taken as scattering normally.",
        cp=f"{found.cp:.2f}",
        cp_low=f"{found.cp_interval[0]:.2f}",
        cp_high=f"{found.cp_interval[1]:.2f}",
        cpk=f"{found.cpk:.2f}",
        cpk_low=f"{found.cpk_interval[0]:.2f}",
        cpk_high=f"{found.cpk_interval[1]:.2f}",
        count=found.count,
    )


def drift_words(lot: FeatureLot) -> str:
    """Which way the size goes from piece to piece, and how sure that is."""
    line, is_new_tool = lot.drift, lot.since > 1
    if line is None:
        found = {"least": LEAST_FOR_DRIFT, "since": lot.since}
        if is_new_tool:
            return say(
                "A drift is looked for from {least} finished pieces on since piece {since}, after "
                "the tool was changed.",
                **found,
            )
        return say("A drift is looked for from {least} finished pieces on.", **found)
    if line.is_sure:
        return sure_drift_words(lot, line)
    drift = {"since": lot.since, "count": line.count, "rate": rate_words(lot.setup, line)}
    if is_new_tool:
        return say(
            "No sure drift since piece {since}, after the tool was changed, over {count} pieces: "
            "{rate}.",
            **drift,
        )
    return say("No sure drift over {count} pieces: {rate}.", **drift)


def sure_drift_words(lot: FeatureLot, line: Drift) -> str:
    wears = (line.per_piece_mm > 0) != lot.setup.kind.is_internal
    drift = {
        "since": lot.since,
        "count": line.count,
        "rate": rate_words(lot.setup, line),
        "cause": say("as a tool that wears leaves it")
        if wears
        else say("not what a worn tool does"),
    }
    if lot.since > 1:
        return say(
            "The size drifts since piece {since}, after the tool was changed, over {count} pieces "
            "by {rate}: {cause}.",
            **drift,
        )
    return say("The size drifts over {count} pieces by {rate}: {cause}.", **drift)


def rate_words(setup: Setup, line: Drift) -> str:
    places = setup.decimals + 1
    each, low, high = (
        f"{from_mm(value, setup.unit):+.{places}f}".replace("-", "−")
        for value in (line.per_piece_mm, line.low_mm, line.high_mm)
    )
    return say(
        "{each} a piece (95 % between {low} and {high})",
        each=f"{each} {setup.unit}",
        low=low,
        high=high,
    )


def centring_words(lot: FeatureLot) -> str:
    """What to dial for the next piece."""
    found, setup = lot.centring, lot.setup
    if found is None:
        return ""
    basis = (
        say("follows the drift")
        if found.follows_drift
        else say("from the middle of the pieces so far")
    )
    expected = setup.in_words(found.expected_mm)
    if found.dial == 0:
        return say(
            "The next piece should come to {size} ({basis}): leave the setting as it is.",
            size=expected,
            basis=basis,
        )
    setting = {"step": f"{abs(found.dial):f} {found.dial_unit}", "where": ON_DIAL[setup.slide]}
    return joined(
        (
            say("The next piece should come to {size} ({basis}).", size=expected, basis=basis),
            say("To centre it, finish {step} further in {where}.", **setting)
            if found.dial > 0
            else say("To centre it, finish {step} less far in {where}.", **setting),
        ),
        " ",
    )
