"""The next cut: which step costs least, in passes, scrap and parts left outside."""

from __future__ import annotations

from collections.abc import Sequence

from server.advice.model import Comparison, Entry, InWords, Job, NextCut, Prior


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

    history       passes, readings and events of this feature on this piece, oldest first, struck
                  ones left out; ends with the reading just logged, or with cuts after it
    verdict       "stock_left", "in_limits", "too_close" or "past_limit", on the last size
    in_words      a length in mm as the user reads it, unit included
    prior         what earlier pieces taught (learned.sharpened); the physics of job.kind if None
    wait_minutes  the last reading is in state Wait: how long until it settles

    Raises ValueError where the history has no reading at all.
    """
    raise NotImplementedError


def comparison(
    history: Sequence[Entry], job: Job, in_words: InWords, *, prior: Prior | None = None
) -> Comparison | None:
    """How the last reading compared with its landing; None where nothing was predicted."""
    raise NotImplementedError
