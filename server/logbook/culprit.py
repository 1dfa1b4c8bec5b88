"""Which cut took a feature past its limit, and how that differs from what was advised."""

from __future__ import annotations

from collections.abc import Sequence

from server.advice.model import Action, Cut
from server.logbook.evaluate import Evaluation
from server.logbook.replay import ADVISED_CUTS, SAME_STEP_MM, PieceLog
from server.logbook.stages import Stage
from server.metrology import infeed
from server.metrology.decision import Verdict
from server.metrology.units import to_mm
from server.records.tables import EntryRow
from server.wording import joined, say

NO_CUT_ADVISED = {
    Action.MEASURE_AGAIN: say("The advice was: measure again."),
    Action.WAIT: say("The advice was: wait."),
    Action.FINER_FEED: say("The advice was: finer feed."),
}


def went_wrong(log: PieceLog, rows: Sequence[EntryRow], found: Evaluation) -> dict[int, str]:
    """What to say beside the reading that first showed the loss, by entry; {} where none is."""
    stage = lost_stage(found)
    if stage is None or stage.size is None or not stage.readings:
        return {}
    setup = found.setup
    low_mm, high_mm = setup.limits.both()
    past_mm = high_mm if setup.kind.is_internal else low_mm
    over_mm = -infeed.stock_on_size_mm(stage.size.size_mm, past_mm, setup.kind)
    said = say("This cut went past the limit by {size}.", size=setup.in_words(over_mm))
    entry_id = stage.readings[0].entry_id
    return {entry_id: joined((said, advice_words(log, rows, found, entry_id)), " ")}


def lost_stage(found: Evaluation) -> Stage | None:
    """The first state past the limit that no later reading took back."""
    if found.known is None or found.known.verdict is not Verdict.PAST_LIMIT:
        return None
    lost: Stage | None = None
    for stage in found.stages:
        if stage.size is None:
            continue
        if stage.size.verdict is not Verdict.PAST_LIMIT:
            lost = None
        elif lost is None:
            lost = stage
    if lost is None or not any(isinstance(move, Cut) for move in lost.moves):
        return None
    return lost


def advice_words(log: PieceLog, rows: Sequence[EntryRow], found: Evaluation, entry_id: int) -> str:
    """How the cut stood to the advice that was shown before it."""
    before, dialled_mm = dialled_before(rows, entry_id)
    cut = log.answer_body(before).get("next_cut") if before else None
    if not cut:
        return say("No cut was advised before it.")
    unit = log.answer_body(before)["reading"]["unit"]
    if cut.get("action") not in ADVISED_CUTS:
        return NO_CUT_ADVISED[Action(cut["action"])]
    advised_mm = to_mm(float(cut.get("dial_step") or 0.0), unit)
    in_words = found.setup.in_words
    if dialled_mm > advised_mm + SAME_STEP_MM:
        dialled = in_words(dialled_mm)
        if advised_mm < 0:
            return say(
                "A step back of {size} was advised, {dialled} was dialled.",
                size=in_words(-advised_mm),
                dialled=dialled,
            )
        if cut["action"] == "spring_pass":
            return say("A spring pass was advised, {dialled} was dialled.", dialled=dialled)
        return say(
            "{advised} was advised, {dialled} was dialled.",
            advised=in_words(advised_mm),
            dialled=dialled,
        )
    landing = cut["landing"]["expected"]
    return say(
        "It was dialled as advised and expected to land at {size}.",
        size=in_words(to_mm(float(landing), unit)),
    )


def dialled_before(rows: Sequence[EntryRow], entry_id: int) -> tuple[int, float]:
    """(the reading before an entry, 0 for none; what was dialled since, in the dial's count)."""
    before, dialled_mm = 0, 0.0
    for row in rows:
        dialled_mm += row.dial_step_mm or 0.0
        if row.id == entry_id:
            break
        if row.type == "reading":
            before, dialled_mm = row.id or 0, 0.0
    return before, dialled_mm
