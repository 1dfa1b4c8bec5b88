"""Which step costs least: passes, scrap and parts left outside, one cut and what follows it.

A pass with its reading costs 1, a scrapped piece 60, one left outside on the big side 5 (the
project's own figures).  What follows a cut that leaves metal on is valued by how well the next one
could land once the reading after this cut has been learned from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from server.advice.ahead import (
    CLOSE_COST,
    OUTSIDE_COST,
    SCRAP_COST,
    Again,
    Group,
    Room,
)
from server.advice.hypothesis import above, depth_share, moments, normal_cdf
from server.advice.model import Job
from server.advice.response import Posterior

_LEAST_BITE = 0.03  # a pass that takes nothing off is paid and must be made again
_SPENDING_COST = 60.0  # a chance spent now is one that later steps have not
REMAINING_COST = 0.25  # a little for what is left: among equals the deeper cut
_OFF_AIM_COST = 0.15  # at a limit; the aim is worth a little by itself
_NEGLIGIBLE = 5e-4
_TIE = 0.05  # in passes: among near equals the deeper cut
_CLEAR = 4.0  # deviations beyond which a normal tail is nothing
_NO_CHANCE = 1e-6  # less than that is no chance, even where the bound is spent
_ROUNDING_MM = 1e-6
_LEAST_LOG = -200.0  # nothing is thought less likely than that, so that sums stay above nothing
_WIDEST_GUARD = 0.35  # of the tolerance: beyond that the guard leaves nothing to plan for


@dataclass(frozen=True)
class Option:
    """One dial step and what it leads to.  Lengths [mm], chances as fractions."""

    steps: int
    depth_mm: float
    cost: float
    expected_mm: float
    deviation_mm: float
    inside: float
    past: float
    bites: float


@dataclass(frozen=True)
class _Response:
    """What a hypothesis needs for evaluating steps."""

    weight: float
    odds: float
    cell: float
    q2: float
    least: float
    x: float
    engaged: float  # by a spring pass
    spread: float
    xx: float
    xc: float
    cc: float


class Chooser:
    """Evaluates dial steps for one posterior and job."""

    def __init__(self, post: Posterior, job: Job) -> None:
        self._job = job
        self._depth = post.depth_mm
        kept = [h for h in post.hypotheses if h.weight > _NEGLIGIBLE]
        total = sum(h.weight for h in kept)
        self._responses = [
            _Response(
                weight=h.weight / total,
                odds=h.odds,
                cell=h.cell,
                q2=h.q2,
                least=h.least,
                x=h.x,
                engaged=h.x - post.dial_mm - h.c,
                spread=math.sqrt(h.xx - 2 * h.xc + h.cc + h.q2),
                xx=h.xx,
                xc=h.xc,
                cc=h.cc,
            )
            for h in kept
        ]
        self.stock_mm, _ = moments((r.weight, r.x, r.xx) for r in self._responses)
        self._common2 = job.common_uncertainty_mm**2
        self._read2 = job.reading_scatter_mm**2
        tolerance = job.stock_at_metal_limit_mm - job.stock_at_past_limit_mm
        guard = min(job.guard_mm, _WIDEST_GUARD * tolerance)
        self._half = tolerance / 2
        left = max(job.past_chance_bound - job.past_chance_spent, _NO_CHANCE)
        self._room = Room(
            job,
            on_mm=job.stock_at_metal_limit_mm - guard,
            close_mm=job.stock_at_past_limit_mm + guard,
            left=left,
        )
        # an aim moved so near the metal-on limit that the guard band covers it can't be landed on
        middle = (self._room.on_mm + self._room.close_mm) / 2
        self.aim_mm = 0.0 if self._room.on_mm > 0 else min(middle, 0.0)
        self.standing_mm = sum(r.weight * r.engaged for r in self._responses)
        self._again = Again(self._groups(), self._room)
        self._next_sd: list[tuple[float, float]] = []

    def _groups(self) -> list[Group]:
        """Hypotheses by scatter and least cut, as a cut to the metal-on limit would leave them."""
        depth = max(self.stock_mm - self._room.on_mm, 0.0)
        share = depth_share(self._room.on_mm, self._depth)
        sums: dict[tuple[float, float], list[float]] = {}
        for r in self._responses:
            odds = r.odds * share
            phi = odds / (1 + odds)
            at = sums.setdefault((r.q2, r.least), [0.0, 0.0, 0.0])
            at[0] += r.weight
            at[1] += r.weight * phi
            at[2] += r.weight * phi * (r.engaged + depth)
        return [
            Group(weight, q2, least, phi / weight, standing / weight)
            for (q2, least), (weight, phi, standing) in sums.items()
        ]

    def branches(self, depth_mm: float) -> list[tuple[float, float, float, float]]:
        """Mixture (weight, mean, variance, least) of the stock after a cut of that depth.

        least: the thinnest cut believed, -1 where this one takes nothing off.
        """
        share = depth_share(self.stock_mm - max(depth_mm, 0.0), self._depth)
        parts = []
        for r in self._responses:
            engaged = r.engaged + depth_mm
            z = (engaged - r.least) / r.spread
            bites = 1.0 if z > 3 else normal_cdf(z)
            if bites > 0.01:
                odds = r.odds * share
                phi = odds / (1 + odds)
                cut = 1 - phi
                doubt = phi * cut * engaged
                variance = (
                    phi * phi * r.xx
                    + 2 * phi * cut * r.xc
                    + cut * cut * r.cc
                    + r.q2
                    + r.cell * doubt * doubt
                )
                landing = r.x - cut * engaged
                if z < 3:
                    shift, lost = above(z)
                    gain = (r.xx - r.xc) / r.spread - cut * r.spread
                    landing += gain * shift
                    variance -= gain * gain * lost
                parts.append((r.weight * bites, landing, variance, r.least))
            if bites < 0.99:
                parts.append((r.weight * (1 - bites), r.x, r.xx, -1.0))
        return parts

    def evaluate(self, steps: int, graduation_mm: float) -> Option:
        depth = steps * graduation_mm
        parts = self.branches(depth)
        job = self._job
        past = inside = on = close = outside = rubs = thin = far = 0.0
        noise2 = self._common2 + self._read2
        edges, costs = self._again.residue.edges_mm, self._again.residue.costs
        for weight, mean, variance, least in parts:
            if least >= 0 and mean - _CLEAR * math.sqrt(variance + noise2) > edges[-1]:
                outside += weight
                on += weight
                far += weight
                continue
            true_sd = math.sqrt(variance + self._common2)
            beyond = normal_cdf((job.stock_at_past_limit_mm - mean) / true_sd)
            over = normal_cdf((mean - job.stock_at_metal_limit_mm) / true_sd)
            past += weight * beyond
            outside += weight * over
            inside += weight * (1 - beyond - over)
            if least < 0:
                rubs += weight
                continue
            read_sd = math.sqrt(variance + self._read2)
            left_on = normal_cdf((mean - self._room.on_mm) / read_sd)
            on += weight * left_on
            close += weight * normal_cdf((self._room.close_mm - mean) / read_sd)
            for edge, cost in zip(edges, costs, strict=True):
                beyond_edge = normal_cdf((mean - edge) / read_sd)
                thin += weight * cost * (left_on - beyond_edge)
                left_on = beyond_edge
                if left_on < 1e-4:
                    break
            far += weight * left_on
        expected, variance = moments((w, m, v) for w, m, v, _ in parts)
        off_aim = min((expected * expected + variance) / (self._half * self._half), 1.0)
        cost = (
            1.0
            + SCRAP_COST * past
            + self._again.cost(self._sd_after(depth)) * far
            + thin
            + CLOSE_COST * max(close - past, 0.0)
            + OUTSIDE_COST * max(outside - on - rubs, 0.0)
            + _OFF_AIM_COST * off_aim
            + REMAINING_COST * max(expected, 0.0) / max(self.stock_mm, self._half)
        ) / max(1 - rubs, _LEAST_BITE)
        return Option(steps, depth, cost, expected, math.sqrt(variance), inside, past, 1 - rubs)

    def allows(self, option: Option) -> bool:
        """Within the bound, and not expected beyond the aim."""
        return option.past <= self._room.left and self.leaves_metal(option)

    def leaves_metal(self, option: Option) -> bool:
        """Not expected beyond the aim; one graduation may be, where less is no cut at all."""
        return option.steps <= 1 or option.expected_mm >= self.aim_mm - _ROUNDING_MM

    def priced(self, option: Option) -> float:
        """Cost, with a price on what it uses up of the bound."""
        return option.cost + _SPENDING_COST * option.past

    def _sd_after(self, depth_mm: float) -> float:
        """Landing deviation of the cut after this one, from a few anchors and lines between."""
        anchors = self._next_sd
        if not anchors:
            span = max(self.stock_mm, self._half) * 1.3
            anchors.extend((d * span, self._learned_sd(d * span)) for d in (0.0, 0.35, 0.7, 1.0))
        for (d0, s0), (d1, s1) in zip(anchors, anchors[1:], strict=False):
            if depth_mm <= d1:
                return s0 + (s1 - s0) * max(depth_mm - d0, 0.0) / (d1 - d0)
        return anchors[-1][1]

    def _learned_sd(self, depth_mm: float) -> float:
        """Deviation of the next landing, had this cut left metal on and been read."""
        share = depth_share(self.stock_mm - depth_mm, self._depth)
        ahead = []
        for r in self._responses:
            engaged = r.engaged + depth_mm
            odds = r.odds * share
            phi = odds / (1 + odds)
            cut = 1 - phi
            doubt = phi * cut * engaged
            xc = phi * r.xc + cut * r.cc
            variance = phi * phi * r.xx + phi * cut * r.xc + cut * xc + r.q2
            variance += r.cell * doubt * doubt
            ahead.append((r, phi, r.x - cut * engaged, variance, xc))
        mean = sum(r.weight * at for r, _, at, _, _ in ahead)
        seen = max(mean, self._room.on_mm)
        total = aim_at = slope = 0.0
        lines = []
        for r, phi, at, variance, xc in ahead:
            spread2 = variance + self._read2
            miss = seen - at
            odds_of_it = math.exp(max(-0.5 * miss * miss / spread2, _LEAST_LOG))
            weight = r.weight * odds_of_it / math.sqrt(spread2)
            gain_x, gain_c = variance / spread2, xc / spread2
            standing = phi * (r.engaged + depth_mm) + (gain_x - gain_c) * miss
            x = at + gain_x * miss
            cut = 1 - phi
            xx = variance - gain_x * variance
            xc_after = xc - gain_x * xc
            cc = r.cc - gain_c * xc
            rest = phi * phi * xx + 2 * phi * cut * xc_after + cut * cut * cc + r.q2
            lines.append((weight, x - cut * standing, cut, rest))
            total += weight
            aim_at += weight * (x - cut * standing)
            slope += weight * cut
        step = aim_at / slope
        _, spread = moments((w / total, a - cut * step, rest) for w, a, cut, rest in lines)
        return math.sqrt(spread)


def best_option(chooser: Chooser, graduation_mm: float, deepest_mm: float) -> Option:
    """The step to take, no deeper than that."""
    n_high = math.floor(deepest_mm / graduation_mm + 1e-6)
    n_low = min(-math.floor(max(chooser.standing_mm, 0.0) / graduation_mm), 0)
    seen: dict[int, Option] = {}

    def at(n: int) -> Option:
        if n not in seen:
            seen[n] = chooser.evaluate(n, graduation_mm)
        return seen[n]

    stride = max((n_high - n_low) // 10, 1)
    for n in range(n_high, n_low - 1, -stride):
        at(n)
    while True:
        centre = _chosen(chooser, list(seen.values()))
        if stride == 1:
            return centre
        stride = max(stride // 3, 1)
        for k in (-2, -1, 1, 2):
            n = centre.steps + k * stride
            if n_low <= n <= n_high:
                at(n)


def _chosen(chooser: Chooser, options: list[Option]) -> Option:
    """The cheapest within the bound; where none is, the one least likely to go past."""
    allowed = [o for o in options if chooser.allows(o)]
    if allowed:
        least = min(chooser.priced(o) for o in allowed)
        return max((o for o in allowed if chooser.priced(o) <= least + _TIE), key=lambda o: o.steps)
    return min(options, key=lambda o: o.past)
