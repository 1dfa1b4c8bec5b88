"""The advice against rules of thumb on the same simulated jobs.

    python -m tests.bench.simulated_shop --jobs 2000 --kind thread --seed 7

prints cost a job = passes + 60 x scrapped share + 5 x share left outside on the big side.  A repeat
reading counts as a whole pass.  Results are kept in the file --state as they come, so a run
that was stopped goes on where it was.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass, field

from server.advice.model import Action, Cut, Entry, Job, Prior, Reading
from server.advice.nextcut import next_cut
from tests.bench.simulated_world import Lathe, Task, draw

SCRAP_COST, OUTSIDE_COST = 60, 5
_MOST_PASSES = 40


@dataclass
class Outcome:
    """One job under one rule.  landings: see landing_record; only of jobs without a blunder."""

    passes: int = 0
    repeats: int = 0
    scrapped: bool = False
    outside: bool = False
    clean: bool = True
    past_spent: float = 0.0
    landings: list[list[float]] = field(default_factory=list)

    @property
    def cost(self) -> float:
        lost = SCRAP_COST * self.scrapped + OUTSIDE_COST * self.outside
        return self.passes + self.repeats + lost


def verdict_of(reading: float, task: Task) -> str:
    """Section 6 of the design, on a stock."""
    if reading > task.half_tolerance + task.guard:
        return "stock_left"
    if reading < -task.half_tolerance - task.guard:
        return "past_limit"
    if abs(reading) <= task.half_tolerance - task.guard:
        return "in_limits"
    return "too_close"


def _down(depth: float, graduation: float) -> float:
    """At least one graduation: metal is still on."""
    return max(math.floor(depth / graduation + 1e-6), 1) * graduation


def all_that_is_left(stock: float, task: Task) -> float:
    return _down(stock, task.graduation)


def half(stock: float, task: Task) -> float:
    return _down(stock / 2, task.graduation)


def two_thirds(stock: float, task: Task) -> float:
    return _down(stock * 2 / 3, task.graduation)


def creep(stock: float, task: Task) -> float:
    """All but two thousandths of an inch, then one graduation at a time."""
    return _down(stock - 0.0508, task.graduation)


RULES: dict[str, Callable[[float, Task], float]] = {
    "all that is left": all_that_is_left,
    "half": half,
    "two thirds": two_thirds,
    "creep": creep,
}


def run_rule(lathe: Lathe, rule: Callable[[float, Task], float]) -> Outcome:
    outcome = Outcome()
    while outcome.passes < _MOST_PASSES:
        reading, _ = lathe.read()
        verdict = verdict_of(reading, lathe.task)
        if verdict in ("in_limits", "past_limit") or (verdict == "too_close" and reading < 0):
            break
        lathe.cut(rule(reading, lathe.task))
        outcome.passes += 1
    return _judged(outcome, lathe)


def run_advice(lathe: Lathe, prior: Prior | None = None) -> Outcome:
    task, outcome = lathe.task, Outcome()
    history: list[Entry] = []
    same: list[float] = []
    expected: list[float] | None = None
    while outcome.passes + outcome.repeats < _MOST_PASSES:
        reading, scatter = lathe.read()
        history.append(Reading(reading, scatter))
        same = [r for r in same if abs(r - reading) <= 6 * scatter] + [reading]
        if expected is not None:
            outcome.landings.append([*expected, lathe.stock, reading])
            expected = None
        advice = next_cut(
            history,
            _job(task, outcome.past_spent),
            verdict_of(sum(same) / len(same), task),
            str,
            prior=prior,
        )
        if advice is None:
            break
        if advice.action is Action.MEASURE_AGAIN:
            if len(same) >= 3:
                break
            outcome.repeats += 1
            continue
        lathe.cut(advice.step_mm)
        outcome.passes += 1
        outcome.past_spent += advice.chance_past_limit
        history.append(Cut(advice.step_mm))
        same = []
        landing = advice.landing
        expected = [landing.low_mm, landing.high_mm, advice.chance_in_limits]
    return _judged(outcome, lathe)


def _job(task: Task, spent: float) -> Job:
    return Job(
        kind=task.kind,
        stock_at_metal_limit_mm=task.half_tolerance,
        stock_at_past_limit_mm=-task.half_tolerance,
        graduation_mm=task.graduation,
        guard_mm=task.guard,
        common_uncertainty_mm=task.common,
        reading_scatter_mm=task.scatter,
        total_depth_mm=task.total_depth,
        past_chance_spent=spent,
    )


def _judged(outcome: Outcome, lathe: Lathe) -> Outcome:
    limit = lathe.task.half_tolerance
    outcome.scrapped = lathe.stock < -limit
    outcome.outside = lathe.stock > limit
    outcome.clean = not (lathe.blundered or lathe.chipped)
    for landing in outcome.landings:
        landing.append(limit)
    return outcome


def run_job(kind: str, seed: int, number: int, **scaled: float) -> dict[str, Outcome]:
    """Every rule and the advice on one job."""

    def fresh() -> Lathe:
        return draw(kind, random.Random(f"{seed} {kind} {number}"), **scaled)

    results = {name: run_rule(fresh(), rule) for name, rule in RULES.items()}
    results["advice"] = run_advice(fresh())
    return results
