"""What the passes taught: for the user's eye, and for the shop's next piece."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from server.advice.model import CutKind, Entry, InWords, Job, Learned, Prior


def starting_prior(kind: CutKind) -> Prior:
    """What physics says of a cut of this kind, before this shop has taught anything."""
    raise NotImplementedError


def sharpened(prior: Prior, history: Sequence[Entry], job: Job) -> Prior:
    """The prior for the next feature on the same lathe, material and kind of cut.

    Call once per finished piece, oldest first; earlier pieces fade by a fixed share each time.
    """
    raise NotImplementedError


def learned(
    history: Sequence[Entry], job: Job, in_words: InWords, *, prior: Prior | None = None
) -> Learned | None:
    """The "what it learned" panel; None before two readings with a cut between them."""
    raise NotImplementedError


def prior_as_numbers(prior: Prior) -> dict[str, float]:
    """For storing."""
    raise NotImplementedError


def prior_from_numbers(numbers: Mapping[str, float]) -> Prior:
    """From storing; ValueError where a number is missing or not positive."""
    raise NotImplementedError
