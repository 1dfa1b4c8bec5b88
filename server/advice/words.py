"""The sentences of the advice.  in_words turns mm into the user's unit."""

from __future__ import annotations

import math
from collections.abc import Sequence

from server.advice.choice import Option
from server.advice.model import CutKind, InWords, Job
from server.advice.response import Interval, Posterior, Prediction

_COUNTS = {1: "the last cut", 2: "the last two cuts", 3: "the last three cuts"}
_COARSE_DIAL = 0.5  # of the room between the guard bands
_COARSE_INSTRUMENT = 0.25  # guard over tolerance
_MOST_READINGS = 5
_LEAST_SAID = 1e-4
_MORE_LIKELY = 0.5
_CAREFUL = 0.75  # of what is left: more than that is no careful share
_WORTH_NAMING = 0.1  # standing metal over the deepest of the last cuts


def wait(minutes: float) -> str:
    return f"the part is warm: wait about {max(math.ceil(minutes), 1)} min, then measure again"


def surprise(reading_mm: float, expected_mm: float) -> str:
    """By how much is said where the cut is logged, against the landing that was shown with it."""
    side = "more metal" if reading_mm > expected_mm else "less metal"
    return (
        f"that reading shows {side} than the cut can explain: measure again before it is "
        "believed, and look at the tool edge and the jaws"
    )


def close_to_past(job: Job, in_words: InWords) -> str:
    return (
        f"the doubt of {in_words(job.guard_mm)} reaches past the limit where metal is gone, and "
        "another cut can only make that worse: measure again"
    )


def unread(in_words: InWords, stock_mm: float) -> str:
    left = f"left {in_words(stock_mm)}"
    if stock_mm < 0:
        left = f"gone {in_words(-stock_mm)} beyond the aim"
    return f"the last pass has not been read and should have {left}: measure first"


def disagree(in_words: InWords, stock_mm: float) -> str:
    return (
        f"the cuts so far leave {in_words(max(-stock_mm, 0.0))} beyond the aim, which the size "
        "does not show: measure again, and strike the reading that is wrong"
    )


def no_step(stock_mm: float, job: Job, in_words: InWords) -> str:
    return (
        f"{in_words(stock_mm)} is left and no step of {in_words(job.graduation_mm)} brings it "
        f"inside without a real chance of scrap: {either(ways_out(job))}"
    )


def bound_spent(option: Option, job: Job, in_words: InWords) -> str:
    """option: the one least likely to go past."""
    left = max(job.past_chance_bound - job.past_chance_spent, 0.0)
    allowed = f"you allow {percent(job.past_chance_bound)}"
    if job.past_chance_spent > 0:
        spent = "earlier cuts used up" if left == 0 else f"earlier cuts left {percent(left, 2)} of"
        allowed = f"{spent} the {percent(job.past_chance_bound)} that you allow"
    least = "a spring pass" if option.steps == 0 else f"a step of {in_words(option.depth_mm)}"
    if option.steps < 0:
        least = f"a pass set back by {in_words(-option.depth_mm)}"
    past = percent(option.past, 1 if option.past > 0.01 else 2)
    if option.past < _LEAST_SAID:
        past = f"up to {percent(_LEAST_SAID, 2)}"
    ways = ways_out(job) if option.steps > 0 else ["touch off anew", "take a sharper tool"]
    return (
        f"even {least} has {past} chance of going past, and {allowed}: "
        f"{either([*ways, 'allow more'])}"
    )


def ways_out(job: Job) -> list[str]:
    """Where no step will do.  A finer feed that is known here has been tried by then."""
    ways = ["split a graduation by eye", "take a sharper tool"]
    if job.finer_graduation_mm is None and job.kind is not CutKind.THREAD:
        ways.insert(0, "set the compound over as a fine feed")
    return ways


def either(ways: Sequence[str]) -> str:
    return f"{', '.join(ways[:-1])} or {ways[-1]}"


def again_first(why: str) -> str:
    return f"measure again first, as {why}"


def no_room(in_words: InWords, job: Job, stock_mm: float) -> str:
    where = "the size is near its middle"
    if stock_mm > job.stock_at_metal_limit_mm:
        where = "no more than a line of the dial is left"
    return (
        f"the doubt of {in_words(job.guard_mm)} leaves no room inside the tolerance, and {where}: "
        "measure again and take the mean"
    )


def why(option: Option, post: Posterior, in_words: InWords) -> str:
    """One sentence on why this step."""
    if option.steps == 0:
        if option.inside > _MORE_LIKELY:
            return f"{standing(post, in_words)}, and a spring pass is enough for it"
        return f"{standing(post, in_words)}, so a spring pass comes first"
    if option.steps < 0:
        return (
            f"{standing(post, in_words)}, which a full pass would overshoot with: back off past "
            "the backlash and come in again"
        )
    cuts = [i for i in post.intervals if i.dialled_mm > 0][-3:]
    if not cuts:
        stock, _ = post.stock()
        is_careful = option.depth_mm < _CAREFUL * stock
        step = "so a careful share comes off first" if is_careful else "the step allows for that"
        return f"no cut of this feature was measured yet, {step}"
    return taken(cuts, post, in_words)


def taken(cuts: Sequence[Interval], post: Posterior, in_words: InWords) -> str:
    """What the last cuts took against the dial; at least one was measured."""
    ratio = sum(i.removed_mm for i in cuts) / sum(i.dialled_mm for i in cuts)
    sentence = f"{_COUNTS[len(cuts)]} took {percent(ratio, 0)} of what was dialled"
    left = standing_mm(post)
    if ratio > 1.03 and left > 0:
        sentence += ", earlier cuts having left metal standing"
    elif left > _WORTH_NAMING * max(i.dialled_mm for i in cuts):
        sentence += f" and about {in_words(left)} still stands"
    return sentence


def standing_mm(post: Posterior) -> float:
    return sum(h.weight * (h.x - post.dial_mm - h.c) for h in post.hypotheses)


def standing(post: Posterior, in_words: InWords) -> str:
    return f"about {in_words(max(standing_mm(post), 0.0))} still stands from earlier cuts"


def percent(fraction: float, places: int = 1) -> str:
    return f"{100 * fraction:.{places}f} %"


def notes(option: Option, job: Job, in_words: InWords, least_mm: float) -> tuple[str, ...]:
    """Where dial or instrument is too coarse, and the way out; metal too thin to cut."""
    found = []
    tolerance = job.stock_at_metal_limit_mm - job.stock_at_past_limit_mm
    room = tolerance - 2 * job.guard_mm
    if room > 0 and job.graduation_mm > _COARSE_DIAL * room:
        found.append(
            f"One graduation is {in_words(job.graduation_mm)} on the size and the room inside the "
            f"limits {in_words(room)}: set the compound over as a fine feed, or split a graduation "
            "by eye."
        )
    if job.guard_mm > _COARSE_INSTRUMENT * tolerance:
        found.append(_coarse_instrument(job, in_words, tolerance))
    if option.bites < 0.5:
        found.append(
            f"Less than about {in_words(least_mm)} may rub and not cut: use a sharper edge, or "
            "expect nothing to come off."
        )
    return tuple(found)


def _coarse_instrument(job: Job, in_words: InWords, tolerance: float) -> str:
    start = (
        f"The doubt of the reading, {in_words(job.guard_mm)}, is "
        f"{percent(job.guard_mm / tolerance, 0)} of the tolerance: "
    )
    spare = (_COARSE_INSTRUMENT * tolerance / 2) ** 2 - job.common_uncertainty_mm**2
    if spare > 0 and job.reading_scatter_mm > 0:
        n = math.ceil(job.reading_scatter_mm**2 / spare)
        if 2 <= n <= _MOST_READINGS:
            return start + f"take the mean of {n} readings, or a finer instrument."
    return start + "a finer instrument would leave more room."


def compared(prediction: Prediction, is_inside: bool, is_surprise: bool, in_words: InWords) -> str:
    miss = prediction.reading_mm - prediction.mean_mm
    side = "more metal left" if miss > 0 else "less metal left"
    where = f"{in_words(abs(miss))} {side} than expected"
    if is_surprise:
        return f"{where}, outside the 99 % interval: measure again"
    return f"{where}, {'inside' if is_inside else 'outside'} the 90 % interval"


def learned(
    post: Posterior, left_behind: float, standing: float, scatter: float, in_words: InWords
) -> str:
    """The "what it learned" panel in one sentence."""
    return (
        f"a cut leaves about {percent(left_behind, 0)} of what it engages, so {in_words(standing)} "
        f"still stands; one cut repeats to about {in_words(scatter)}, from "
        f"{len(post.intervals)} measured {'step' if len(post.intervals) == 1 else 'steps'}"
    )
