"""What this lathe, tool and part really remove: a posterior over the response of a cut.

With x the stock, u the dial as a stock and c the tool's place against the dial,

    x(k) = u(k) + c + phi (x(k-1) - u(k) - c) + noise

as long as the engaged depth x(k-1) - u(k) - c is thicker than the least cut; else nothing comes
off and the depth waits for the next pass.  phi / (1 - phi) is the ratio of cutting stiffness to
machine stiffness; in a thread it grows with the engaged flank, so with depth.

For a given phi, cut scatter and least cut the model is linear in (x, c), so each hypothesis carries
a Gaussian over them and the posterior is a weighted set of hypotheses.  The phi grid is laid twice:
coarsely over the prior, then closely where the coarse one found weight.

Sources: error copying x(k) = phi x(k-1): common practice in machining texts; least chip thickness
0.2 to 0.4 of the edge radius: Weule 2001, Vogler 2004 (recalled); probabilistic data association
for the doubtful reading: standard tracking practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from server.advice.hypothesis import (
    Hypothesis,
    absorb,
    bite,
    depth_share,
    moments,
    normal_cdf,
    rub,
    update,
)
from server.advice.model import Change, Cut, CutKind, Entry, Job, Prior, Reading, Reset

_COARSE = tuple(-3.4 + 0.4 * i for i in range(16))  # in standard deviations of the log odds
_STIFF = 0.05  # density, over the peak, kept for lathes that hardly give at all
_ONE_POINT = ((0.0, 1.0),)
_NEGLIGIBLE = 1e-3
_CLOSE_CELL = 0.25  # of a cell's own variance; neighbours cover the rest
_CLOSE_POINTS = 8
_SCATTER_POINTS = ((-1.25, 0.3), (0.0, 0.5), (1.25, 0.2))  # (deviations, weight)
_LEAST_CUT_POINTS = ((-1.25, 0.3), (0.0, 0.4), (1.25, 0.3))
_OFFSET_SCALES = (0.36, 0.79, 1.5)  # a touch-off now good, now poor: heavier tails, the same rms
_GONE = 1e-5  # a hypothesis with less weight is dropped
_SPLIT = 0.02  # a cut surer than this to bite, or not to, is taken for certain
_FINEST_MM = 1e-4  # no reading is surer than that
_ROUGH_MM = 0.02  # what a reading that teaches nothing may be out
_SURPRISE_TAIL = 0.005  # each side of the 99 % interval
_JUMP_MM = {Change.TOOL_CHANGED: 0.04, Change.REZEROED: 0.03, Change.RECHUCKED: 0.06}


@dataclass(frozen=True)
class Surprise:
    """A reading outside the 99 % interval that no second reading has confirmed."""

    reading: Reading
    expected_mm: float


@dataclass(frozen=True)
class Prediction:
    """What the last reading was expected to be, before it was taken.  [mm]"""

    mean_mm: float
    deviation_mm: float
    reading_mm: float
    reading_scatter_mm: float
    tail: float  # share of the prediction below the reading


@dataclass(frozen=True)
class Interval:
    """Cuts between two states that were read, and what came off by the readings."""

    depths_mm: tuple[float, ...]
    removed_mm: float

    @property
    def dialled_mm(self) -> float:
        return sum(self.depths_mm)


@dataclass(frozen=True)
class Posterior:
    """hypotheses: weights sum to 1.  dial_mm: u, 0 at the first reading."""

    hypotheses: tuple[Hypothesis, ...]
    dial_mm: float
    depth_mm: float | None
    surprise: Surprise | None
    prediction: Prediction | None
    intervals: tuple[Interval, ...]
    first_reading_mm: float
    last_reading_mm: float
    is_read: bool  # the last thing done was a reading, not a cut

    def least_cut_mm(self) -> float:
        return sum(h.weight * h.least for h in self.hypotheses)

    def stock(self) -> tuple[float, float]:
        """Mean and variance of the stock."""
        return moments((h.weight, h.x, h.xx) for h in self.hypotheses)


def posterior(history: Sequence[Entry], job: Job, prior: Prior) -> Posterior:
    """What is believed after this history.  ValueError where there is no reading in it.

    Readings that teach nothing are used, roughly, only until one that does.
    """
    return _posterior(tuple(history), job, prior)


@lru_cache(maxsize=8)  # the advice and its comparison ask for the same one
def _posterior(history: tuple[Entry, ...], job: Job, prior: Prior) -> Posterior:
    coarse = _Filter(_grid(prior, _COARSE, _ONE_POINT, _ONE_POINT, 1.0), job, prior).run(history)
    close = _grid(prior, _close_odds(coarse), _SCATTER_POINTS, _LEAST_CUT_POINTS, _CLOSE_CELL)
    return _Filter(close, job, prior).run(history)


def _grid(
    prior: Prior,
    odds_at: Sequence[float],
    scatter_at: Sequence[tuple[float, float]],
    least_at: Sequence[tuple[float, float]],
    cell_share: float,
) -> list[Hypothesis]:
    spacing = odds_at[1] - odds_at[0]
    is_close = len(scatter_at) > 1
    cell = cell_share * (spacing * prior.odds_spread) ** 2 / 12
    grid: list[Hypothesis] = []
    for i, z in enumerate(odds_at):
        odds = prior.left_behind_odds * math.exp(z * prior.odds_spread)
        for j, (s, s_weight) in enumerate(scatter_at):
            q = prior.cut_scatter_mm * math.exp(s * prior.scatter_spread)
            for k, (m, m_weight) in enumerate(least_at):
                least = prior.least_cut_mm * math.exp(m * prior.least_cut_spread)
                stiff = _STIFF if z < 0 else 0.0
                weight = (math.exp(-0.5 * z * z) + stiff) * s_weight * m_weight
                scale = _OFFSET_SCALES[(i + j + k) % 3] if is_close else 1.0
                offset2 = (scale * prior.offset_mm) ** 2
                grid.append(Hypothesis(weight, len(grid), odds, cell, q * q, least, offset2))
    total = sum(h.weight for h in grid)
    for h in grid:
        h.weight /= total
    return grid


def _close_odds(coarse: Posterior) -> list[float]:
    """Where the close grid is laid: the span in which the coarse one found weight."""
    found = [0.0] * len(_COARSE)
    for h in coarse.hypotheses:
        found[h.key] += h.weight
    keep = [i for i, weight in enumerate(found) if weight > _NEGLIGIBLE]
    half = (_COARSE[1] - _COARSE[0]) / 2
    low, high = _COARSE[keep[0]] - half, _COARSE[keep[-1]] + half
    width = (high - low) / _CLOSE_POINTS
    return [low + (i + 0.5) * width for i in range(_CLOSE_POINTS)]


class _Filter:
    """Runs a grid of hypotheses through a history."""

    def __init__(self, grid: list[Hypothesis], job: Job, prior: Prior) -> None:
        self._hypotheses = grid
        self._start = [h.weight for h in grid]
        self._offset2 = prior.offset_mm**2
        self._depth = job.total_depth_mm if job.kind is CutKind.THREAD else None
        self._dial = 0.0
        self._early: list[float] = []
        self._is_started = False
        self._is_split = False  # some hypotheses have a bitten and a rubbed branch
        self._is_rough = True  # nothing yet that teaches
        self._first_reading = 0.0
        self._pending: Surprise | None = None
        self._prediction: Prediction | None = None
        self._intervals: list[Interval] = []
        self._last_reading = 0.0
        self._cuts: list[float] = []

    def run(self, history: Sequence[Entry]) -> Posterior:
        for entry in history:
            if isinstance(entry, Cut):
                self._cut(entry.depth_mm)
            elif isinstance(entry, Reset):
                self._reset(entry.what)
            else:
                self._read(entry)
        if not self._is_started:
            raise ValueError("advice needs at least one reading, or the geometry's estimate")
        return Posterior(
            hypotheses=tuple(self._hypotheses),
            dial_mm=self._dial,
            depth_mm=self._depth,
            surprise=self._pending,
            prediction=self._prediction,
            intervals=tuple(self._intervals),
            last_reading_mm=self._last_reading,
            first_reading_mm=self._first_reading,
            is_read=not self._cuts,
        )

    def _share(self, reach_mm: float) -> float:
        if self._depth is None:
            return 1.0
        mean = sum(h.weight * h.x for h in self._hypotheses)
        return depth_share(mean - reach_mm, self._depth)

    def _cut(self, depth_mm: float) -> None:
        if self._is_rough:
            self._early.append(depth_mm)
        if not self._is_started:
            return
        if self._pending is not None:
            self._believe(self._pending.reading, doubled=True)
        self._merge()
        self._cuts.append(depth_mm)
        self._dial -= depth_mm
        share = self._share(max(depth_mm, 0.0))
        after: list[Hypothesis] = []
        for h in self._hypotheses:
            engaged = h.x - self._dial - h.c
            spread = math.sqrt(h.xx - 2 * h.xc + h.cc + h.q2)
            bites = normal_cdf((engaged - h.least) / spread)
            if bites < 1 - _SPLIT:
                rubbed = h.copy()
                rub(rubbed, engaged, spread)
                if bites >= _SPLIT:
                    rubbed.weight *= 1 - bites
                    self._is_split = True
                after.append(rubbed)
            if bites >= _SPLIT:
                if bites < 1 - _SPLIT:
                    h.weight *= bites
                bite(h, engaged, spread, share)
                after.append(h)
        self._hypotheses = after

    def _reset(self, what: Change) -> None:
        self._early.clear()
        if not self._is_started:
            return
        self._merge()
        if what is not Change.REZEROED:
            self._loosen_weights()
        for h in self._hypotheses:
            h.c = h.x - self._dial
            h.xc = h.xx
            h.cc = h.xx + _JUMP_MM[what] ** 2

    def _read(self, reading: Reading) -> None:
        if self._is_rough:
            self._begin(reading)
            return
        if not reading.teaches:
            return
        r, s2 = reading.stock_mm, max(reading.scatter_mm, _FINEST_MM) ** 2
        tail = sum(
            h.weight * normal_cdf((r - h.x) / math.sqrt(h.xx + s2)) for h in self._hypotheses
        )
        mean, variance = moments((h.weight, h.x, h.xx) for h in self._hypotheses)
        self._prediction = None
        if self._cuts:
            deviation = math.sqrt(variance + s2)
            self._prediction = Prediction(mean, deviation, r, reading.scatter_mm, tail)
        is_far = not _SURPRISE_TAIL < tail < 1 - _SURPRISE_TAIL
        if self._pending is not None and _agree(reading, self._pending.reading):
            self._believe(reading, doubled=False)
        elif is_far:
            self._pending = Surprise(reading, mean)
        else:
            self._pending = None
            self._learn(r, s2)
            self._close_interval(r)

    def _begin(self, reading: Reading) -> None:
        """The first reading: the tool stands where touch-off or earlier cuts left it."""
        self._merge()
        s2 = max(reading.scatter_mm, _FINEST_MM) ** 2
        if not reading.teaches:
            s2 += _ROUGH_MM**2
        share = depth_share(reading.stock_mm, self._depth)
        for h in self._hypotheses:
            phi = h.odds * share / (1 + h.odds * share)
            standing = 0.0
            for depth in self._early:
                standing = phi * max(standing + depth, 0.0)
            h.x = reading.stock_mm
            h.c = h.x - standing
            h.xx = h.xc = s2
            h.cc = s2 + h.offset2
        self._is_started = True
        self._is_rough = not reading.teaches
        self._dial = 0.0
        self._cuts = []
        self._last_reading = self._first_reading = reading.stock_mm

    def _learn(self, r: float, s2: float) -> None:
        total = 0.0
        for h in self._hypotheses:
            total += update(h, r, s2)
        floor = _GONE * total
        self._hypotheses = [h for h in self._hypotheses if h.weight > floor]
        for h in self._hypotheses:
            h.weight /= total
        self._merge()

    def _believe(self, reading: Reading, *, doubled: bool) -> None:
        """Take a surprising reading for true: stock and offset start again from it.

        doubled: nobody confirmed it, so it counts with twice its scatter.
        """
        r = reading.stock_mm
        s2 = max(reading.scatter_mm, _FINEST_MM) ** 2 * (4 if doubled else 0.5)
        self._merge()
        for h in self._hypotheses:
            jump = r - h.x
            standing = max(h.x - self._dial - h.c + min(jump, 0.0), 0.0)
            h.x = r
            h.c = r - standing - self._dial
            h.xx = h.xc = s2
            h.cc = s2 + max(self._offset2, jump * jump / 4)
        self._loosen_weights()
        self._pending = None
        self._close_interval(r)

    def _loosen_weights(self) -> None:
        for h in self._hypotheses:
            h.weight = 0.5 * h.weight + 0.5 * self._start[h.key]

    def _close_interval(self, r: float) -> None:
        if self._cuts:
            self._intervals.append(Interval(tuple(self._cuts), self._last_reading - r))
            self._cuts = []
        self._last_reading = r

    def _merge(self) -> None:
        """One Gaussian a hypothesis again, after cuts that may have bitten or rubbed."""
        if not self._is_split:
            return
        self._is_split = False
        together: dict[int, Hypothesis] = {}
        for h in self._hypotheses:
            other = together.get(h.key)
            if other is None:
                together[h.key] = h
            else:
                absorb(other, h)
        self._hypotheses = list(together.values())


def _agree(one: Reading, other: Reading) -> bool:
    spread = math.hypot(one.scatter_mm, other.scatter_mm, _FINEST_MM)
    return abs(one.stock_mm - other.stock_mm) <= 3 * spread
