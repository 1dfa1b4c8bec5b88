"""What a careful metrologist would add to the numbers: what to mend, and what would settle it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from sqlmodel import Session

from server.logbook.around import Around
from server.logbook.evaluate import GAUGED, Evaluation
from server.logbook.setup import Setup
from server.logbook.sizes import Sized, budget_of
from server.logbook.stages import StageSize
from server.metrology import decision, instruments, stations
from server.metrology.decision import Candidate, Verdict
from server.metrology.instruments import Instrument, InstrumentKind
from server.metrology.thermal import WarmState
from server.records.tables import EntryRow, FeatureRow, InstrumentRow
from server.wording import joined, say

INTERCHANGEABLE = (  # within a group one may stand in for another
    (InstrumentKind.MICROMETER, InstrumentKind.CALLIPER),
    (InstrumentKind.INSIDE_MICROMETER, InstrumentKind.BORE_GAUGE, InstrumentKind.CALLIPER_INSIDE),
)

CHANCE = say("Two readings say little of how they repeat, which is in the doubt.")


def fineness_words(instrument: Instrument, setup: Setup, *, with_cure: bool = True) -> str:
    """Said before the first cut where the instrument does not meet the 10:1 rule, else ""."""
    judged = instruments.fineness(instrument, setup.target.nominal_mm, setup.limits.tolerance_mm)
    said = judged.words if with_cure else judged.judgement
    return "" if judged.is_good else joined((instrument.name, said), ": ")


def is_close(found: Evaluation) -> bool:
    """True where it is said of this very size what would settle it, or that warmth comes first."""
    return found.current is not None and found.current.verdict is Verdict.TOO_CLOSE


def overdue_words(row: InstrumentRow | None, today: str) -> str:
    if row is None or not row.due or row.due > today:
        return ""
    return say(
        "{name} was due for its check on {due}; readings with it say so.",
        name=row.name,
        due=row.due,
    )


def instrument_warnings(around: Around, found: Evaluation, today: str) -> list[str]:
    """What is wrong with the instrument in use: overdue, or too coarse for the tolerance."""
    setup, with_cure = found.setup, not is_close(found)
    return warnings_with(around, setup, setup.instrument_id, today, with_cure=with_cure)


def warnings_with(
    around: Around, setup: Setup, instrument_id: int, today: str, *, with_cure: bool = True
) -> list[str]:
    """The same of any instrument for this feature.  today: as 2026-01-31."""
    if setup.method == GAUGED:
        return []
    said = [
        overdue_words(around.instrument_row(instrument_id), today),
        fineness_words(
            around.instrument(instrument_id, today + "T99", setup.method),
            setup,
            with_cure=with_cure,
        ),
    ]
    return [words for words in said if words]


def before_cutting(session: Session, feature: FeatureRow, today: str) -> list[str]:
    """What is wrong with the instrument that a feature is to be measured with."""
    around = Around(session)
    return warnings_with(around, around.setup(feature), feature.instrument_id, today)


def answer_cautions(around: Around, found: Evaluation, row: EntryRow) -> dict[str, Any]:
    """What goes with the answer to a reading: what would settle it, and what is doubtful."""
    instrument_id = row.instrument_id or found.setup.instrument_id
    return {
        "settle": settling(around, found, row.at) or None,
        "warnings": warnings_with(
            around, found.setup, instrument_id, row.at[:10], with_cure=not is_close(found)
        ),
    }


def settling(around: Around, found: Evaluation, at: str) -> str:
    """What would settle Too close to call: repeats, or an instrument of the crib; else "".

    Nothing in Wait, where warmth decides before any of them.
    """
    now = found.current
    if now is None or not is_close(found) or now.warm_state is WarmState.WAIT:
        return ""
    setup = found.setup
    last, used = last_counted(found, now)
    common = (setup.limits, setup.kind.is_internal, setup.decision_rule)
    ends_mm = now.low_mm, now.high_mm
    repeats = decision.repeats_to_settle(now.size_mm, now.budget, *common, ends_mm=ends_mm)
    others = [
        candidate(around, found, last, row, at)
        for row in around.instruments_in_use()
        if row.id not in used
        and row.kind in could_measure(last.instrument)
        and not overdue_words(row, at[:10])
    ]
    named = decision.instruments_to_settle(now.size_mm, others, *common, ends_mm=ends_mm)
    said = decision.settling_words(now.budget.count, repeats, named)
    by_chance = any(line.scatter is not None and line.scatter.is_pair for line in now.budget.lines)
    return joined((CHANCE, said), " ") if by_chance and repeats is not None else said


def could_measure(instrument: Instrument) -> tuple[str, ...]:
    """Kinds of instrument that take the same size as this one."""
    kind = instrument.kind
    group = next((kinds for kinds in INTERCHANGEABLE if kind in kinds), (kind,))
    return tuple(each.value for each in group)


def last_counted(found: Evaluation, now: StageSize) -> tuple[Sized, set[int]]:
    """The last of the readings that say the size, and the instruments its state was read with."""
    readings = next(stage.readings for stage in reversed(found.stages) if stage.readings)
    counted = [each for each in readings if each.entry_id in now.entry_ids]
    return counted[-1], {each.instrument_id for each in readings}


def candidate(
    around: Around, found: Evaluation, last: Sized, row: InstrumentRow, at: str
) -> Candidate:
    instrument = around.instrument(row.id or 0, at, found.setup.method)
    return Candidate(row.name, budget_of(found.setup, [replace(last, instrument=instrument)]))


def station_words(found: Evaluation, now: StageSize) -> list[str]:
    """Taper with its cure, and out-of-round, where several stations were measured."""
    said: list[str] = []
    taper = stations.taper(now.stations)
    if taper is not None:
        said.append(
            stations.cure_words(
                taper, None, found.setup.in_words, is_internal=found.setup.kind.is_internal
            )
        )
    span_mm = stations.out_of_round_mm(now.stations)
    if span_mm is not None:
        said.append(say("Out of round by {span} at one place.", span=found.setup.in_words(span_mm)))
    if now.judged is not None and now.judged.is_uncurable:
        said.append(
            say(
                "The stations differ by more than the tolerance: no cut brings all of it in until "
                "that is cured."
            )
        )
    return said
