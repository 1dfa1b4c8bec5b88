"""The next cut: which step costs least, in passes, scrap and parts left outside."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from server.advice import words
from server.advice.ahead import OUTSIDE_COST
from server.advice.choice import Chooser, Option, best_option
from server.advice.hypothesis import normal_cdf
from server.advice.model import (
    Action,
    Comparison,
    Entry,
    InWords,
    Job,
    Landing,
    NextCut,
    Prior,
    Reading,
)
from server.advice.physics import prior_for
from server.advice.response import Posterior, posterior

_LOW, _HIGH = 0.05, 0.95
_Z90 = 1.6449
_LEAST_RATIO = 0.4
_ROOT_TWO_PI = math.sqrt(2 * math.pi)
_FAR = 5.0  # deviations beyond which a normal tail is nothing here
_CLOSE_ENOUGH_MM = 1e-5
_MOST_NEWTON = 14
_HOPELESS = 12.0  # costs more than leaving the feature outside and setting up a finer feed
_POOR = 5.0  # costs so much that a finer feed is worth a look
_FINER_GAIN = 2.5  # passes that a finer feed must save to be worth setting up
_SURPRISE_TAIL = 0.005
_NEAR = 0.01  # chance of lying inside the metal-on limit above which an unread pass is read
_WORTH_SETTLING = 0.25  # chance that a repeat settles a close call, below which none is asked for
_ROUGHING = 2.5  # more than so many deepest cuts left: no need to measure


def next_cut(
    history: Sequence[Entry],
    job: Job,
    verdict: str,
    in_words: InWords,
    *,
    prior: Prior | None = None,
    wait_minutes: float | None = None,
) -> NextCut | None:
    """What to dial next, or None when no cut is worth making or the piece is past the limit.

    Where no step of the dial keeps within the bound: MEASURE_AGAIN if a repeat reading may open
    one or settle a close call, else FINER_FEED without a step.

    history       passes, readings and events of this feature on this piece, oldest first, struck
                  ones left out; ends with the reading just logged, or with cuts after it
    verdict       "stock_left", "in_limits", "too_close" or "past_limit", on the last size
    in_words      a length in mm as the user reads it, unit included
    prior         what earlier pieces taught (learned.sharpened); the physics of job.kind if None
    wait_minutes  the last reading is in state Wait: how long until it settles

    Raises ValueError where the history has no reading at all.
    """
    if verdict == "past_limit":
        return None
    believed = prior_for(job, prior)
    post = posterior(history, job, believed)
    if wait_minutes is not None:
        return _as_it_is(post, job, Action.WAIT, words.wait(wait_minutes))
    if post.surprise is not None:
        why = words.surprise(post.surprise.reading.stock_mm, post.surprise.expected_mm)
        return _as_it_is(post, job, Action.MEASURE_AGAIN, why)
    if verdict == "in_limits" and not _leaving_costs_more_than_a_pass(post, job):
        return None
    stock, variance = post.stock()
    if not post.is_read and _may_be_near(stock, variance, job):
        return _as_it_is(post, job, Action.MEASURE_AGAIN, words.unread(in_words, stock))
    if verdict == "stock_left" and post.is_read and stock <= min(job.stock_at_past_limit_mm, 0.0):
        return _as_it_is(post, job, Action.MEASURE_AGAIN, words.disagree(in_words, stock))
    if verdict == "too_close" and post.is_read:
        reason = _no_more_cutting(stock, job, in_words)
        if reason is not None:
            return _as_it_is(post, job, Action.MEASURE_AGAIN, reason)
    step = _step(post, job)
    if step.fits:
        return _advised(post, step, job, in_words)
    stuck = _no_step(post, step, job, in_words)
    if not post.is_read or _may_open_a_step(post, history, job, believed):
        return _measured_again(stuck)
    if verdict == "in_limits":
        return None
    if verdict == "too_close" and _may_settle(history, job):
        return _measured_again(stuck)
    return stuck


def measure_first(
    history: Sequence[Entry], job: Job, in_words: InWords, *, prior: Prior | None = None
) -> NextCut:
    """What to do after a cut that has not been read, whatever the size was before it."""
    post = posterior(history, job, prior_for(job, prior))
    stock, _ = post.stock()
    return _as_it_is(post, job, Action.MEASURE_AGAIN, words.unread(in_words, stock))


def _measured_again(stuck: NextCut) -> NextCut:
    return replace(
        stuck,
        action=Action.MEASURE_AGAIN,
        why=words.again_first(stuck.why),
        why_else=stuck.why,
    )


def _may_open_a_step(post: Posterior, history: Sequence[Entry], job: Job, believed: Prior) -> bool:
    """Whether a repeat that comes out as it well may would leave a step worth taking."""
    return any(
        _step(posterior([*history, repeat], job, believed), job).fits
        for repeat in _repeats(post, job)
    )


def _repeats(post: Posterior, job: Job) -> list[Reading]:
    """What a repeat reading may well be: a deviation to either side of what is believed."""
    stock, variance = post.stock()
    spread = math.sqrt(variance + job.reading_scatter_mm**2)
    return [Reading(stock + side * spread, job.reading_scatter_mm) for side in (1.0, -1.0)]


def _may_settle(history: Sequence[Entry], job: Job) -> bool:
    """Whether one more reading averaged in has a fair chance to leave the guard band."""
    same: list[float] = []
    for entry in reversed(history):
        if not isinstance(entry, Reading):
            break
        same.append(entry.stock_mm)
    if not same:  # something else happened since: a repeat is no repeat of it
        return False
    n = len(same)
    mean = sum(same) / n
    common2, scatter2 = job.common_uncertainty_mm**2, job.reading_scatter_mm**2
    if scatter2 == 0:
        return False
    guard = job.guard_mm * math.sqrt((common2 + scatter2 / (n + 1)) / (common2 + scatter2 / n))
    shift = math.sqrt(scatter2 / (n * (n + 1)))
    limits = (job.stock_at_metal_limit_mm, job.stock_at_past_limit_mm)
    off = min(abs(mean - limit) for limit in limits)
    clear = 1 - normal_cdf((guard - off) / shift) + normal_cdf((-guard - off) / shift)
    return clear > _WORTH_SETTLING


def _may_be_near(stock: float, variance: float, job: Job) -> bool:
    spread = max((variance + job.common_uncertainty_mm**2) ** 0.5, 1e-9)
    return normal_cdf((job.stock_at_metal_limit_mm - stock) / spread) > _NEAR


def _no_more_cutting(stock: float, job: Job, in_words: InWords) -> str | None:
    """Why a size too close to call is measured again and not cut; None where it is cut."""
    tolerance = job.stock_at_metal_limit_mm - job.stock_at_past_limit_mm
    middle = (job.stock_at_metal_limit_mm + job.stock_at_past_limit_mm) / 2
    if job.guard_mm >= tolerance / 2 and stock <= max(middle, job.graduation_mm):
        return words.no_room(in_words, job, stock)
    if stock <= min(middle, 0.0):
        return words.close_to_past(job, in_words)
    return None


def _leaving_costs_more_than_a_pass(post: Posterior, job: Job) -> bool:
    mean, variance = post.stock()
    spread = (variance + job.common_uncertainty_mm**2) ** 0.5
    if spread == 0:
        return False
    outside = normal_cdf((mean - job.stock_at_metal_limit_mm) / spread)
    return OUTSIDE_COST * outside > 2.0


@dataclass(frozen=True)
class _Step:
    """The step that costs least.  is_beyond: not within the bound; fits: it is worth taking."""

    chooser: Chooser
    option: Option
    action: Action
    graduation_mm: float
    is_beyond: bool = False
    fits: bool = True


def _step(post: Posterior, job: Job) -> _Step:
    chooser = Chooser(post, job)
    deepest = max(_deepest(post, job, chooser.aim_mm), job.graduation_mm)
    option = best_option(chooser, job.graduation_mm, deepest)
    near = job.graduation_mm + (job.stock_at_metal_limit_mm - job.stock_at_past_limit_mm)
    is_beyond = not chooser.allows(option)
    is_stuck = post.is_read and chooser.stock_mm < near
    if is_beyond or (is_stuck and option.cost > _POOR):
        cost = math.inf if is_beyond else option.cost
        finer = _finer_feed(post, job, cost, deepest)
        if finer is not None:
            return finer
    action = Action.SPRING_PASS if option.steps == 0 else Action.CUT
    fits = not is_beyond and not (is_stuck and option.cost > _HOPELESS)
    return _Step(chooser, option, action, job.graduation_mm, is_beyond, fits)


def _finer_feed(post: Posterior, job: Job, coarse_cost: float, deepest: float) -> _Step | None:
    """A finer feed, where no step of the dial in use will do and it is worth setting up."""
    grain = job.finer_graduation_mm
    if grain is None:
        return None
    chooser = Chooser(post, replace(job, graduation_mm=grain))
    finer = best_option(chooser, grain, deepest)
    if finer.steps <= 0:  # no reason to set it up
        return None
    if not chooser.allows(finer) or finer.cost >= min(coarse_cost - _FINER_GAIN, _HOPELESS):
        return None
    return _Step(chooser, finer, Action.FINER_FEED, grain)


def _no_step(post: Posterior, step: _Step, job: Job, in_words: InWords) -> NextCut:
    if step.is_beyond:
        why = words.bound_spent(step.option, job, in_words)
    else:
        why = words.no_step(step.chooser.stock_mm, job, in_words)
    return _as_it_is(post, job, Action.FINER_FEED, why)


def _deepest(post: Posterior, job: Job, aim_mm: float) -> float:
    """No deeper than the stock, unless these very passes took less than was dialled."""
    mean, _ = post.stock()
    stock = max((min(mean, post.last_reading_mm) if post.is_read else mean) - aim_mm, 0.0)
    dialled = sum(i.dialled_mm for i in post.intervals)
    removed = sum(i.removed_mm for i in post.intervals)
    doubt = 3 * job.reading_scatter_mm
    deepest = stock
    if dialled > 0 and removed + doubt < dialled:
        deepest = stock / max((removed + doubt) / dialled, _LEAST_RATIO)
    if job.deepest_cut_mm is not None:
        deepest = min(deepest, job.deepest_cut_mm)
    return deepest


def _advised(post: Posterior, step: _Step, job: Job, in_words: InWords) -> NextCut:
    option, deepest = step.option, job.deepest_cut_mm
    is_roughing = deepest is not None and option.expected_mm > _ROUGHING * deepest
    return NextCut(
        action=step.action,
        step_mm=option.depth_mm,
        steps=option.steps,
        graduation_mm=step.graduation_mm,
        landing=_landing(step.chooser.branches(option.depth_mm), option.expected_mm, job),
        chance_in_limits=option.inside,
        chance_past_limit=option.past,
        measure_after=not is_roughing,
        why=words.why(option, post, in_words),
        notes=words.notes(option, job, in_words, post.least_cut_mm()),
    )


def _landing(
    parts: Sequence[tuple[float, float, float, float]], expected: float, job: Job
) -> Landing:
    extra = (job.common_uncertainty_mm**2 + job.reading_scatter_mm**2) / 2
    lines = [(w, m, (v + extra) ** 0.5) for w, m, v, _ in parts]
    total = sum(w for w, _, _ in lines)
    return Landing(expected, _quantile(lines, _LOW * total), _quantile(lines, _HIGH * total))


def _quantile(lines: Sequence[tuple[float, float, float]], share: float) -> float:
    """Where that much weight of a mixture of (weight, mean, deviation) lies below: Newton's
    method, halving the bracket where a step would leave it."""
    low = min(m - 4 * s for _, m, s in lines)
    high = max(m + 4 * s for _, m, s in lines)
    at = (low + high) / 2
    for _ in range(_MOST_NEWTON):
        below = density = 0.0
        for w, m, s in lines:
            z = (at - m) / s
            if z > _FAR:
                below += w
            elif z > -_FAR:
                below += w * normal_cdf(z)
                density += w * math.exp(-0.5 * z * z) / s
        if below < share:
            low = at
        else:
            high = at
        step = (share - below) * _ROOT_TWO_PI / density if density > 0 else math.inf
        ahead = at + step if low < at + step < high else (low + high) / 2
        if abs(ahead - at) < _CLOSE_ENOUGH_MM:
            return ahead
        at = ahead
    return at


def _as_it_is(post: Posterior, job: Job, action: Action, why: str) -> NextCut:
    mean, variance = post.stock()
    spread = max((variance + job.common_uncertainty_mm**2) ** 0.5, 1e-9)
    past = normal_cdf((job.stock_at_past_limit_mm - mean) / spread)
    over = normal_cdf((mean - job.stock_at_metal_limit_mm) / spread)
    return NextCut(
        action=action,
        step_mm=0.0,
        steps=0,
        graduation_mm=job.graduation_mm,
        landing=Landing(mean, mean - _Z90 * spread, mean + _Z90 * spread),
        chance_in_limits=1 - past - over,
        chance_past_limit=past,
        measure_after=True,
        why=why,
    )


def comparison(
    history: Sequence[Entry], job: Job, in_words: InWords, *, prior: Prior | None = None
) -> Comparison | None:
    """How the last reading compared with its landing; None where nothing was predicted."""
    prediction = posterior(history, job, prior_for(job, prior)).prediction
    if prediction is None:
        return None
    low = prediction.mean_mm - _Z90 * prediction.deviation_mm
    high = prediction.mean_mm + _Z90 * prediction.deviation_mm
    inside = _LOW <= prediction.tail <= _HIGH
    is_surprise = not _SURPRISE_TAIL < prediction.tail < 1 - _SURPRISE_TAIL
    return Comparison(
        expected_mm=prediction.mean_mm,
        low_mm=low,
        high_mm=high,
        reading_mm=prediction.reading_mm,
        is_inside=inside,
        is_surprise=is_surprise,
        sentence=words.compared(prediction, inside, is_surprise, in_words),
    )
