"""The sentences of the advice.  in_words turns mm into the user's unit."""

from __future__ import annotations

import math
from collections.abc import Sequence

from server.advice.choice import Option
from server.advice.model import CutKind, InWords, Job
from server.advice.response import Interval, Posterior, Prediction
from server.wording import either, say, say_n

_COUNTS = {2: say("two"), 3: say("three")}
_COARSE_DIAL = 0.5  # of the room between the guard bands
_COARSE_INSTRUMENT = 0.25  # guard over tolerance
_MOST_READINGS = 5
_LEAST_SAID = 1e-4
_MORE_LIKELY = 0.5
_CAREFUL = 0.75  # of what is left: more than that is no careful share
_WORTH_NAMING = 0.1  # standing metal over the deepest of the last cuts


def wait(minutes: float) -> str:
    return say(
        "the part is warm: wait about {minutes} min, then measure again",
        minutes=max(math.ceil(minutes), 1),
    )


def surprise(reading_mm: float, expected_mm: float) -> str:
    """By how much is said where the cut is logged, against the landing that was shown with it."""
    if reading_mm > expected_mm:
        return say(
            "that reading shows more metal than the cut can explain: measure again before it is "
            "believed, and look at the tool edge and the jaws"
        )
    return say(
        "that reading shows less metal than the cut can explain: measure again before it is "
        "believed, and look at the tool edge and the jaws"
    )


def close_to_past(job: Job, in_words: InWords) -> str:
    return say(
        "the doubt of {doubt} reaches past the limit where metal is gone, and another cut can "
        "only make that worse: measure again",
        doubt=in_words(job.guard_mm),
    )


def unread(in_words: InWords, stock_mm: float) -> str:
    if stock_mm < 0:
        return say(
            "the last pass has not been read and should have gone {size} beyond the aim: "
            "measure first",
            size=in_words(-stock_mm),
        )
    return say(
        "the last pass has not been read and should have left {size}: measure first",
        size=in_words(stock_mm),
    )


def disagree(in_words: InWords, stock_mm: float) -> str:
    return say(
        "the cuts so far leave {size} beyond the aim, which the size does not show: measure "
        "again, and strike the reading that is wrong",
        size=in_words(max(-stock_mm, 0.0)),
    )


def no_step(stock_mm: float, job: Job, in_words: InWords) -> str:
    return say(
        "{size} is left and no step of {step} brings it inside without a real chance of scrap: "
        "{ways}",
        size=in_words(stock_mm),
        step=in_words(job.graduation_mm),
        ways=either(ways_out(job)),
    )


def bound_spent(option: Option, job: Job, in_words: InWords) -> str:
    """option: the one least likely to go past."""
    past: str = percent(option.past, 1 if option.past > 0.01 else 2)
    if option.past < _LEAST_SAID:
        past = say("up to {share}", share=percent(_LEAST_SAID, 2))
    ways = ways_out(job)
    if option.steps <= 0:
        ways = [say("touch off anew"), say("take a sharper tool")]
    said = {
        "past": past,
        "allowed": _allowed(job),
        "ways": either([*ways, say("allow more")]),
    }
    if option.steps == 0:
        return say(
            "even a spring pass has {past} chance of going past, and {allowed}: {ways}", **said
        )
    depth = in_words(abs(option.depth_mm))
    if option.steps < 0:
        return say(
            "even a pass set back by {depth} has {past} chance of going past, and {allowed}: "
            "{ways}",
            depth=depth,
            **said,
        )
    return say(
        "even a step of {depth} has {past} chance of going past, and {allowed}: {ways}",
        depth=depth,
        **said,
    )


def _allowed(job: Job) -> str:
    """What of the chance that the user allows is left."""
    bound = percent(job.past_chance_bound)
    if job.past_chance_spent <= 0:
        return say("you allow {bound}", bound=bound)
    left = max(job.past_chance_bound - job.past_chance_spent, 0.0)
    if left == 0:
        return say("earlier cuts used up the {bound} that you allow", bound=bound)
    return say(
        "earlier cuts left {left} of the {bound} that you allow",
        left=percent(left, 2),
        bound=bound,
    )


def ways_out(job: Job) -> list[str]:
    """Where no step will do.  A finer feed that is known here has been tried by then."""
    ways: list[str] = [say("split a graduation by eye"), say("take a sharper tool")]
    if job.finer_graduation_mm is None and job.kind is not CutKind.THREAD:
        ways.insert(0, say("set the compound over as a fine feed"))
    return ways


def again_first(why: str) -> str:
    return say("measure again first, as {why}", why=why)


def no_room(in_words: InWords, job: Job, stock_mm: float) -> str:
    doubt = in_words(job.guard_mm)
    if stock_mm > job.stock_at_metal_limit_mm:
        return say(
            "the doubt of {doubt} leaves no room inside the tolerance, and no more than a line "
            "of the dial is left: measure again and take the mean",
            doubt=doubt,
        )
    return say(
        "the doubt of {doubt} leaves no room inside the tolerance, and the size is near its "
        "middle: measure again and take the mean",
        doubt=doubt,
    )


def why(option: Option, post: Posterior, in_words: InWords) -> str:
    """One sentence on why this step."""
    if option.steps <= 0:
        return _why_no_deeper(option, in_words(max(standing_mm(post), 0.0)))
    cuts = [i for i in post.intervals if i.dialled_mm > 0][-3:]
    if cuts:
        return taken(cuts, post, in_words)
    stock, _ = post.stock()
    if option.depth_mm < _CAREFUL * stock:
        return say("no cut of this feature was measured yet, so a careful share comes off first")
    return say("no cut of this feature was measured yet, the step allows for that")


def _why_no_deeper(option: Option, standing: str) -> str:
    """Why a spring pass, or a pass set back."""
    if option.steps < 0:
        return say(
            "about {size} still stands from earlier cuts, which a full pass would overshoot "
            "with: back off past the backlash and come in again",
            size=standing,
        )
    if option.inside > _MORE_LIKELY:
        return say(
            "about {size} still stands from earlier cuts, and a spring pass is enough for it",
            size=standing,
        )
    return say(
        "about {size} still stands from earlier cuts, so a spring pass comes first", size=standing
    )


def taken(cuts: Sequence[Interval], post: Posterior, in_words: InWords) -> str:
    """What the last cuts took against the dial; at least one was measured."""
    ratio = sum(i.removed_mm for i in cuts) / sum(i.dialled_mm for i in cuts)
    count, share, left = _COUNTS.get(len(cuts), ""), percent(ratio, 0), standing_mm(post)
    if ratio > 1.03 and left > 0:
        return say_n(
            len(cuts),
            "the last cut took {share} of what was dialled, earlier cuts having left metal "
            "standing",
            "the last {count} cuts took {share} of what was dialled, earlier cuts having left "
            "metal standing",
            count=count,
            share=share,
        )
    if left > _WORTH_NAMING * max(i.dialled_mm for i in cuts):
        return say_n(
            len(cuts),
            "the last cut took {share} of what was dialled and about {size} still stands",
            "the last {count} cuts took {share} of what was dialled and about {size} still stands",
            count=count,
            share=share,
            size=in_words(left),
        )
    return say_n(
        len(cuts),
        "the last cut took {share} of what was dialled",
        "the last {count} cuts took {share} of what was dialled",
        count=count,
        share=share,
    )


def standing_mm(post: Posterior) -> float:
    return sum(h.weight * (h.x - post.dial_mm - h.c) for h in post.hypotheses)


def percent(fraction: float, places: int = 1) -> str:
    return f"{100 * fraction:.{places}f} %"


def notes(option: Option, job: Job, in_words: InWords, least_mm: float) -> tuple[str, ...]:
    """Where dial or instrument is too coarse, and the way out; metal too thin to cut."""
    found: list[str] = []
    tolerance = job.stock_at_metal_limit_mm - job.stock_at_past_limit_mm
    room = tolerance - 2 * job.guard_mm
    if room > 0 and job.graduation_mm > _COARSE_DIAL * room:
        found.append(
            say(
                "One graduation is {step} on the size and the room inside the limits {room}: set "
                "the compound over as a fine feed, or split a graduation by eye.",
                step=in_words(job.graduation_mm),
                room=in_words(room),
            )
        )
    if job.guard_mm > _COARSE_INSTRUMENT * tolerance:
        found.append(_coarse_instrument(job, in_words, tolerance))
    if option.bites < 0.5:
        found.append(
            say(
                "Less than about {size} may rub and not cut: use a sharper edge, or expect "
                "nothing to come off.",
                size=in_words(least_mm),
            )
        )
    return tuple(found)


def _coarse_instrument(job: Job, in_words: InWords, tolerance: float) -> str:
    doubt, share = in_words(job.guard_mm), percent(job.guard_mm / tolerance, 0)
    spare = (_COARSE_INSTRUMENT * tolerance / 2) ** 2 - job.common_uncertainty_mm**2
    if spare > 0 and job.reading_scatter_mm > 0:
        n = math.ceil(job.reading_scatter_mm**2 / spare)
        if 2 <= n <= _MOST_READINGS:
            return say(
                "The doubt of the reading, {doubt}, is {share} of the tolerance: take the mean "
                "of {count} readings, or a finer instrument.",
                doubt=doubt,
                share=share,
                count=n,
            )
    return say(
        "The doubt of the reading, {doubt}, is {share} of the tolerance: a finer instrument "
        "would leave more room.",
        doubt=doubt,
        share=share,
    )


def compared(prediction: Prediction, is_inside: bool, is_surprise: bool, in_words: InWords) -> str:
    miss = prediction.reading_mm - prediction.mean_mm
    size = in_words(abs(miss))
    found = (
        say("{size} more metal left than expected", size=size)
        if miss > 0
        else say("{size} less metal left than expected", size=size)
    )
    if is_surprise:
        return say("{found}, outside the 99 % interval: measure again", found=found)
    if is_inside:
        return say("{found}, inside the 90 % interval", found=found)
    return say("{found}, outside the 90 % interval", found=found)


def learned(
    post: Posterior, left_behind: float, standing: float, scatter: float, in_words: InWords
) -> str:
    """The "what it learned" panel in one sentence."""
    return say_n(
        len(post.intervals),
        "a cut leaves about {share} of what it engages, so {standing} still stands; one cut "
        "repeats to about {scatter}, from {n} measured step",
        "a cut leaves about {share} of what it engages, so {standing} still stands; one cut "
        "repeats to about {scatter}, from {n} measured steps",
        share=percent(left_behind, 0),
        standing=in_words(standing),
        scatter=in_words(scatter),
    )
