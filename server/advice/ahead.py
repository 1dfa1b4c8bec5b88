"""What it costs to go on when a cut leaves metal on.

Far from the limits that depends on how closely the next cut can be made to land (`Again`).  Just
outside the metal-on limit the next cut may rub, and one that bites takes at least the least cut
off: the cost from there is worked out once a decision, for a few thicknesses (`Residue`).

A pass with its reading costs 1, a scrapped piece 60, one left outside on the big side 5: the
project's own figures.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from server.advice.hypothesis import above, normal_cdf
from server.advice.model import Job

SCRAP_COST = 60.0
OUTSIDE_COST = 5.0
CLOSE_COST = 0.7  # a repeat reading and the doubt that remains
BOUND_COST = 100.0  # on top of SCRAP_COST, for the chance beyond what the bound leaves
_TARGETS = 14
_TABLE_STEPS = 5
_TABLE_RATIO = 1.7
_NARROWING = 0.6  # how much closer the cut after next lands than the next
_NODES = (0.25, 0.85, 1.8)  # thickness over half the tolerance, beyond the metal-on limit
_EDGES = (0.5, 1.2, 2.4)
_MOST_STEPS = 6
_LEAST_BITE = 0.05


@dataclass(frozen=True)
class Room:
    """Where a reading may lie.  Stock [mm]

    on_mm     above it a reading calls for another cut
    close_mm  below it a reading is too close to the limit where metal is gone
    left      chance of going past that the bound still allows this piece
    """

    job: Job
    on_mm: float
    close_mm: float
    left: float

    @property
    def read2(self) -> float:
        return self.job.reading_scatter_mm**2


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

    def __init__(self, groups: Sequence[Group], room: Room, again: float) -> None:
        job = room.job
        half = (job.stock_at_metal_limit_mm - job.stock_at_past_limit_mm) / 2
        self._groups, self._room, self._again = groups, room, again
        self.edges_mm = tuple(room.on_mm + e * half for e in _EDGES)
        self.costs = tuple(self._cost(room.on_mm + n * half) for n in _NODES)

    def _cost(self, stock: float) -> float:
        graduation = self._room.job.graduation_mm
        deepest = max(math.floor(stock / graduation), 1)
        first = max(deepest - _MOST_STEPS + 1, 0)
        costs = [self._step(stock, n * graduation) for n in range(first, deepest + 1)]
        return min(min(costs), self._again + OUTSIDE_COST)

    def _step(self, stock: float, depth: float) -> float:
        room = self._room
        job = room.job
        common2, read2 = job.common_uncertainty_mm**2, room.read2
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
            on += weight * normal_cdf((mean - room.on_mm) / read_sd)
            close += weight * normal_cdf((room.close_mm - mean) / read_sd)
        cost = 1 + SCRAP_COST * past + self._again * on + CLOSE_COST * max(close - past, 0.0)
        return cost / max(1 - rubs, _LEAST_BITE)


class Again:
    """Cost of going on, by the landing deviation of the next cut."""

    def __init__(self, groups: Sequence[Group], room: Room) -> None:
        self._room = room
        floor = math.sqrt(sum(g.weight * g.q2 for g in groups) + room.read2)
        self._bins: tuple[tuple[float, float], ...] = ()
        hopeful = self._best(floor, None)
        self.residue = Residue(groups, room, hopeful)
        self._bins = tuple(zip(self.residue.edges_mm, self.residue.costs, strict=True))
        self._sds = [floor]
        self._costs = [self._best(floor, hopeful)]
        for _ in range(_TABLE_STEPS):
            sd = self._sds[-1] * _TABLE_RATIO
            after = self.cost(max(floor, _NARROWING * sd))
            self._costs.append(self._best(sd, after))
            self._sds.append(sd)

    def cost(self, sd: float) -> float:
        sds, costs = self._sds, self._costs
        if sd <= sds[0]:
            return costs[0]
        for i in range(1, len(sds)):
            if sd <= sds[i]:
                share = (sd - sds[i - 1]) / (sds[i] - sds[i - 1])
                return costs[i - 1] + share * (costs[i] - costs[i - 1])
        return costs[-1]

    def _best(self, sd: float, again: float | None) -> float:
        """Best target, the dial rounding the landing to anywhere within one graduation of it.

        again: what follows a landing beyond the bins; None: the same once more, until it lands.
        """
        room, job = self._room, self._room.job
        true_sd = math.hypot(sd, job.common_uncertainty_mm)
        read_sd = math.sqrt(sd * sd + room.read2)
        width = max(job.stock_at_metal_limit_mm, 2.5 * sd) / (_TARGETS - 1)
        costs = []
        for i in range(_TARGETS):
            at = i * width
            past = normal_cdf((job.stock_at_past_limit_mm - at) / true_sd)
            on = normal_cdf((at - room.on_mm) / read_sd)
            close = max(normal_cdf((room.close_mm - at) / read_sd) - past, 0.0)
            cost = 1 + SCRAP_COST * past + CLOSE_COST * close
            for edge, left in self._bins:
                beyond = normal_cdf((at - edge) / read_sd)
                cost += left * (on - beyond)
                on = beyond
            cost = cost / max(1 - on, _LEAST_BITE) if again is None else cost + on * again
            costs.append(cost + BOUND_COST * max(past - room.left, 0.0))
        run = min(max(round(job.graduation_mm / width), 1), _TARGETS)
        return min(sum(costs[i : i + run]) / run for i in range(_TARGETS - run + 1))
