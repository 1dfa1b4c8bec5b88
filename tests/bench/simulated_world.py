"""Lathes that bend, rub, wear and are misset, and operators who misread a digit now and then.

Every length is on diameter in millimetres, stock positive while metal is on.  The parameters of a
job are drawn here and never handed to the advice; it gets what a logbook would: limits, dial
graduation, what the instrument's resolution and error limit say, and the readings.
Ranges: facts of the trade (common practice), wider than what the advice starts out believing.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from server.advice.model import CutKind

KINDS = ("thread", "turn", "fine", "bore")
_LONGEST = 80  # draws kept a job; no rule needs more passes


@dataclass(frozen=True)
class Task:
    """What the logbook knows."""

    kind: CutKind
    half_tolerance: float
    graduation: float
    common: float  # standard uncertainty shared by all readings
    scatter: float  # standard uncertainty of one reading
    guard: float
    total_depth: float | None


@dataclass(frozen=True)
class Truth:
    """What nobody at the lathe knows."""

    stock: float
    odds: float  # cutting over machine stiffness, at full depth
    depth_power: float
    standing: float  # tool against the surface when the dial was set
    least: float
    return_scatter: float
    wear: float
    bias: float
    reading_scatter: float
    resolution: float
    misread: float  # chance a reading
    warm: float
    chip: float  # chance a cut


class Lathe:
    """One job at the machine.  The k-th cut and reading meet the same luck under every rule."""

    def __init__(self, task: Task, truth: Truth, luck: random.Random) -> None:
        self.task, self.truth = task, truth
        self.stock = truth.stock
        self.tool = truth.stock - truth.standing  # stock that an unbending tool would leave
        self.blundered = self.chipped = False
        self._cut_luck = [(luck.gauss(0, 1), luck.random(), luck.random()) for _ in range(_LONGEST)]
        self._read_luck = [
            (luck.gauss(0, 1), luck.random(), luck.random(), luck.random()) for _ in range(_LONGEST)
        ]
        self.cuts = self.readings = 0

    def cut(self, depth: float) -> None:
        luck, chip, chip_size = self._cut_luck[self.cuts % _LONGEST]
        self.cuts += 1
        t = self.truth
        self.tool -= depth
        if chip < t.chip:
            self.tool += 0.01 + 0.05 * chip_size
            self.chipped = True
        engaged = self.stock - self.tool + luck * t.return_scatter
        if engaged <= t.least:
            return
        odds = t.odds
        if self.task.total_depth is not None:
            reach = max(1 - (self.stock - engaged) / self.task.total_depth, 0.1)
            odds *= reach**t.depth_power
        self.stock -= engaged / (1 + odds)
        self.tool += t.wear

    def read(self) -> tuple[float, float]:
        """Reading as a stock, and its standard uncertainty as the logbook would state it."""
        luck, misread, size, warm = self._read_luck[self.readings % _LONGEST]
        self.readings += 1
        t = self.truth
        value = self.stock + t.bias + luck * t.reading_scatter
        scatter = self.task.scatter
        if warm < t.warm:
            spread = 0.004
            value += (size - 0.5) * 2 * spread
            scatter = math.hypot(scatter, spread / math.sqrt(3))
        if misread < t.misread:
            digit = (0.01, 0.01, 0.1, 0.5)[int(size * 4)]
            value += digit if warm < 0.5 else -digit
            self.blundered = True
        return round(value / t.resolution) * t.resolution, scatter


def _log_uniform(rng: random.Random, low: float, high: float) -> float:
    return math.exp(rng.uniform(math.log(low), math.log(high)))


_RANGES = {
    # half tolerance, stock, share left behind, least chip (radial), return scatter
    "thread": ((0.03, 0.07), (0.25, 0.9), (0.02, 0.45), (0.002, 0.020), (0.005, 0.018)),
    "turn": ((0.0125, 0.03), (0.3, 1.0), (0.02, 0.30), (0.002, 0.012), (0.003, 0.008)),
    "fine": ((0.005, 0.010), (0.1, 0.3), (0.02, 0.30), (0.001, 0.005), (0.001, 0.0035)),
    "bore": ((0.0125, 0.025), (0.3, 0.8), (0.20, 0.60), (0.002, 0.010), (0.003, 0.009)),
}
_DIALS = {
    "thread": (0.01, 0.02, 0.0254, 0.0508),
    "turn": (0.01, 0.0127, 0.0254),
    "fine": (0.002, 0.00254, 0.005),
    "bore": (0.01, 0.0127, 0.0254),
}
_INSTRUMENTS = {  # resolution, error limit
    "thread": ((0.001, 0.004), (0.00254, 0.005), (0.01, 0.006)),
    "turn": ((0.001, 0.004), (0.00254, 0.004)),
    "fine": ((0.0005, 0.001), (0.001, 0.002)),
    "bore": ((0.001, 0.004), (0.002, 0.004)),
}


def draw(kind: str, rng: random.Random, *, wider: float = 1.0, surer: float = 1.0) -> Lathe:
    """A job of that kind.  wider scales the tolerance, surer divides the instrument's doubt."""
    ranges = _RANGES[kind]
    tolerance, stock, scatter = (rng.uniform(*ranges[i]) for i in (0, 1, 4))
    share = _log_uniform(rng, *ranges[2])
    least = 2 * _log_uniform(rng, *ranges[3])
    resolution, limit = rng.choice(_INSTRUMENTS[kind])
    resolution, limit = resolution / surer, limit / surer
    repeat = rng.uniform(0.5, 1.2) * max(0.4 * resolution, limit / 5)
    graduation = rng.choice(_DIALS[kind])
    total_depth = rng.uniform(1.2, 2.6) if kind == "thread" else None
    stated_scatter = math.hypot(0.29 * resolution, max(0.4 * resolution, limit / 5))
    common = limit / math.sqrt(3) / 2
    task = Task(
        kind=CutKind(kind if kind != "fine" else "turn"),
        half_tolerance=tolerance * wider,
        graduation=graduation,
        common=common,
        scatter=stated_scatter,
        guard=min(2 * math.hypot(common, stated_scatter), 0.6 * tolerance * wider),
        total_depth=total_depth,
    )
    truth = Truth(
        stock=stock,
        odds=share / (1 - share),
        depth_power=rng.uniform(0.6, 1.2),
        standing=rng.gauss(0, rng.uniform(0.003, 0.03)),
        least=least,
        return_scatter=scatter,
        wear=rng.uniform(0, 0.0015),
        bias=rng.gauss(0, common),
        reading_scatter=repeat,
        resolution=resolution,
        misread=0.006,
        warm=0.1,
        chip=0.003,
    )
    return Lathe(task, truth, random.Random(rng.random()))
