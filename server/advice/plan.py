"""A pass plan from where the feature stands to its aim.

The plan is what the advice would say if every cut landed where it is expected to; it is made anew
after every reading.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from server.advice.model import Cut, Entry, Job, PlannedPass, Prior, Reading
from server.advice.nextcut import next_cut

_MOST_PASSES = 40
_MOST_FINISHING = 6


def plan(
    history: Sequence[Entry],
    job: Job,
    *,
    prior: Prior | None = None,
    roughing_cut_mm: float | None = None,
) -> tuple[PlannedPass, ...]:
    """Roughing, finishing and spring passes still to come; empty when the aim is reached.

    history          as for next_cut; before the first cut one Reading, which may be the geometry's
                     own estimate with its uncertainty
    roughing_cut_mm  deepest roughing pass on diameter; job.deepest_cut_mm if None

    Raises ValueError where the history has no reading at all.
    """
    capped = job if roughing_cut_mm is None else replace(job, deepest_cut_mm=roughing_cut_mm)
    ahead: list[Entry] = list(history)
    passes: list[PlannedPass] = []
    finishing = 0
    spent = job.past_chance_spent
    stock = None
    while len(passes) < _MOST_PASSES and finishing < _MOST_FINISHING:
        verdict = "stock_left" if stock is None else _verdict(stock, job)
        job_now = replace(capped, past_chance_spent=spent)
        step = next_cut(ahead, job_now, verdict, str, prior=prior)
        if step is None or not step.is_pass:
            break
        stock = step.landing.expected_mm
        roughing = not step.measure_after
        finishing += not roughing
        passes.append(
            PlannedPass(
                what="spring" if step.steps == 0 else "roughing" if roughing else "finishing",
                step_mm=step.step_mm,
                steps=step.steps,
                stock_after_mm=stock,
                measure_after=step.measure_after,
            )
        )
        spent += step.chance_past_limit
        ahead.append(Cut(step.step_mm))
        if step.measure_after:
            ahead.append(Reading(stock, job.reading_scatter_mm))
    return tuple(passes)


def _verdict(stock: float, job: Job) -> str:
    room = min(job.guard_mm, 0.4 * (job.stock_at_metal_limit_mm - job.stock_at_past_limit_mm))
    return "in_limits" if stock <= job.stock_at_metal_limit_mm - room else "stock_left"
