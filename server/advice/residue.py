"""What it costs to be left with metal that is hardly thick enough to cut.

Just outside the metal-on limit the next cut may rub, and one that bites takes at least the least
cut off.  The cost of going on from there is worked out once a decision for a few thicknesses.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from server.advice.hypothesis import above, normal_cdf
from server.advice.model import Job

SCRAP_COST = 60.0
OUTSIDE_COST = 5.0
_NODES = (0.25, 0.85, 1.8)  # thickness over half the tolerance, beyond the metal-on limit
_EDGES = (0.5, 1.2, 2.4)
_MOST_STEPS = 6
_LEAST_BITE = 0.05


@dataclass(frozen=True)
class Group:
    """Hypotheses of one scatter and least cut, after the cut that led here."""

    weight: float
    q2: float
    least: float
    phi: float
    standing: float


class Residue:
    """Cost of going on, by thickness bins above the metal-on limit.

    edges_mm  upper ends of the bins, as stock
    costs     one a bin
    """

    def __init__(
        self, groups: Sequence[Group], job: Job, on_mm: float, close_mm: float, again: float
    ) -> None:
        half = (job.stock_at_metal_limit_mm - job.stock_at_past_limit_mm) / 2
        self.edges_mm = tuple(on_mm + e * half for e in _EDGES)
        self._groups, self._job, self._again = groups, job, again
        self._on, self._close = on_mm, close_mm
        self.costs = tuple(self._cost(on_mm + n * half) for n in _NODES)

    def _cost(self, stock: float) -> float:
        graduation = self._job.graduation_mm
        deepest = max(math.floor(stock / graduation), 1)
        first = max(deepest - _MOST_STEPS + 1, 0)
        costs = [self._step(stock, n * graduation) for n in range(first, deepest + 1)]
        return min(min(costs), self._again + OUTSIDE_COST)

    def _step(self, stock: float, depth: float) -> float:
        job = self._job
        common2, read2 = job.common_uncertainty_mm**2, job.reading_scatter_mm**2
        past = on = close = rubs = 0.0
        for g in self._groups:
            spread = math.sqrt(2 * g.q2 + read2)
            engaged = g.standing + depth
            z = (engaged - g.least) / spread
            bites = normal_cdf(z)
            rubs += g.weight * (1 - bites)
            if bites < 0.01:
                continue
            shift, lost = above(z)
            cut = 1 - g.phi
            mean = stock - cut * (engaged + spread * shift)
            variance = cut * cut * spread * spread * (1 - lost) + read2
            weight = g.weight * bites
            beyond = normal_cdf((job.stock_at_past_limit_mm - mean) / math.sqrt(variance + common2))
            read_sd = math.sqrt(variance + read2)
            past += weight * beyond
            on += weight * normal_cdf((mean - self._on) / read_sd)
            close += weight * normal_cdf((self._close - mean) / read_sd)
        cost = 1 + SCRAP_COST * past + self._again * on + 0.7 * max(close - past, 0.0)
        return cost / max(1 - rubs, _LEAST_BITE)
