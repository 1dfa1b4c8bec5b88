"""What the passes taught: for the user's eye, and for the shop's next piece."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, fields

from server.advice import words
from server.advice.hypothesis import Hypothesis, depth_share, moments
from server.advice.model import CutKind, Entry, InWords, Job, Learned, LearnedPass, Prior
from server.advice.physics import prior_for, scaled
from server.advice.physics import starting_prior as _physics
from server.advice.response import Posterior, posterior

_BETWEEN_PIECES = {"odds": 0.35, "scatter": 0.25, "least": 0.4}  # spread of logarithms
_DRIFT = 0.12  # forgetting: what a piece adds to the doubt of those before it
_KEPT = 0.85  # share of the earlier pieces' count and offsets that the next one keeps
_TAUGHT = 0.95  # of the prior variance: above that a piece taught nothing
_OFFSET_RANGE_MM = (0.004, 0.06)


def starting_prior(kind: CutKind) -> Prior:
    """What physics says of a cut of this kind, before this shop has taught anything."""
    return _physics(kind)


def sharpened(prior: Prior, history: Sequence[Entry], job: Job) -> Prior:
    """The prior for the next feature on the same lathe, material and kind of cut.

    Call once per finished piece, oldest first; earlier pieces fade by a fixed share each time.
    A history that teaches nothing leaves the prior as it is.
    """
    try:
        post = posterior(history, job, prior_for(job, prior))
    except ValueError:
        return prior
    if not post.intervals:
        return prior
    in_force = scaled(prior, job.kind, job.graduation_mm)
    odds, odds_spread = _updated(
        in_force.left_behind_odds,
        in_force.odds_spread,
        _log_moments(post, lambda h: h.odds),
        _BETWEEN_PIECES["odds"],
    )
    scatter, scatter_spread = _updated(
        in_force.cut_scatter_mm,
        in_force.scatter_spread,
        _log_moments(post, lambda h: math.sqrt(h.q2)),
        _BETWEEN_PIECES["scatter"],
    )
    least, least_spread = _updated(
        in_force.least_cut_mm,
        in_force.least_cut_spread,
        _log_moments(post, lambda h: h.least),
        _BETWEEN_PIECES["least"],
    )
    taught = Prior(
        left_behind_odds=odds,
        odds_spread=odds_spread,
        offset_mm=_offset(prior, post),
        least_cut_mm=least,
        least_cut_spread=least_spread,
        cut_scatter_mm=scatter,
        scatter_spread=scatter_spread,
        pieces=_KEPT * prior.pieces + 1,
    )
    return scaled(taught, job.kind, job.graduation_mm, back=True)


def _log_moments(post: Posterior, of: Callable[[Hypothesis], float]) -> tuple[float, float]:
    return moments((h.weight, math.log(of(h)), 0.0) for h in post.hypotheses)


def _updated(
    median: float, spread: float, found: tuple[float, float], between: float
) -> tuple[float, float]:
    """Median and spread after one more piece, the prior's own share taken out of what it found.

    A Kalman step on the logarithm: pieces scatter by `between` about what the lathe does, and that
    itself drifts.
    """
    mean, variance = math.log(median), spread * spread
    found_mean, found_variance = found
    if found_variance >= _TAUGHT * variance:
        return median, spread
    found_variance = max(found_variance, 1e-4)
    piece_variance = 1 / (1 / found_variance - 1 / variance)
    piece_mean = piece_variance * (found_mean / found_variance - mean / variance)
    lathe_variance = max(variance - between * between, 1e-3)
    gain = lathe_variance / (lathe_variance + piece_variance + between * between)
    left = (1 - gain) * lathe_variance + _DRIFT * _DRIFT
    return math.exp(mean + gain * (piece_mean - mean)), min(
        math.sqrt(left + between * between), spread
    )


def _offset(prior: Prior, post: Posterior) -> float:
    mean, variance = moments((h.weight, h.c, h.cc) for h in post.hypotheses)
    square = (mean - post.first_reading_mm) ** 2 + variance
    kept = _KEPT * prior.offset_mm**2 + (1 - _KEPT) * square
    low, high = _OFFSET_RANGE_MM
    return min(max(math.sqrt(kept), low), high)


def learned(
    history: Sequence[Entry], job: Job, in_words: InWords, *, prior: Prior | None = None
) -> Learned | None:
    """The "what it learned" panel; None before two readings with a cut between them."""
    try:
        post = posterior(history, job, prior_for(job, prior))
    except ValueError:
        return None
    if not post.intervals:
        return None
    share = depth_share(post.last_reading_mm, post.depth_mm)
    phi, phi_variance = moments(
        (h.weight, h.odds / (1 + h.odds), h.cell * (h.odds / (1 + h.odds) ** 2) ** 2)
        for h in post.hypotheses
    )
    offset, offset_variance = moments((h.weight, h.c, h.cc) for h in post.hypotheses)
    least = post.least_cut_mm()
    scatter, _ = moments((h.weight, math.sqrt(h.q2), 0.0) for h in post.hypotheses)
    standing = max(words.standing_mm(post), 0.0)
    return Learned(
        passes=_fitted(post, phi, offset, least),
        left_behind=phi,
        left_behind_uncertainty=math.sqrt(phi_variance),
        offset_mm=offset - post.first_reading_mm,
        offset_uncertainty_mm=math.sqrt(offset_variance),
        standing_mm=standing,
        least_cut_mm=least,
        cut_scatter_mm=scatter,
        sentence=words.learned(post, _at_share(phi, share), standing, scatter, in_words),
    )


def _at_share(phi: float, share: float) -> float:
    odds = phi / (1 - phi) * share
    return odds / (1 + odds)


def _fitted(post: Posterior, phi: float, offset: float, least: float) -> tuple[LearnedPass, ...]:
    """Dialled against removed, with what the fit makes of each interval from where it began."""
    passes = []
    stock, dial = post.first_reading_mm, 0.0
    for interval in post.intervals:
        fit = stock
        for depth in interval.depths_mm:
            dial -= depth
            engaged = fit - dial - offset
            share = depth_share(fit - max(depth, 0.0), post.depth_mm)
            if engaged > least:
                fit -= (1 - _at_share(phi, share)) * engaged
        passes.append(
            LearnedPass(
                dialled_mm=interval.dialled_mm,
                removed_mm=interval.removed_mm,
                fitted_mm=stock - fit,
                cuts=len(interval.depths_mm),
            )
        )
        stock -= interval.removed_mm
    return tuple(passes)


def prior_as_numbers(prior: Prior) -> dict[str, float]:
    """For storing."""
    return {name: float(value) for name, value in asdict(prior).items()}


def prior_from_numbers(numbers: Mapping[str, float]) -> Prior:
    """From storing; ValueError where a number is missing or not positive."""
    try:
        values = {f.name: float(numbers[f.name]) for f in fields(Prior)}
    except KeyError as missing:
        raise ValueError(f"a stored prior lacks {missing}") from missing
    for name, value in values.items():
        if not math.isfinite(value) or value < 0 or (value == 0 and name != "pieces"):
            raise ValueError(f"a stored prior has {name} = {value}")
    return Prior(**values)
