"""A pass plan from where the feature stands to its aim."""

from __future__ import annotations

from collections.abc import Sequence

from server.advice.model import Entry, Job, PlannedPass, Prior


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
    """
    raise NotImplementedError
