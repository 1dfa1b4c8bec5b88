"""The sentences of the advice.  in_words turns mm into the user's unit."""

from __future__ import annotations

from server.advice.choice import Option
from server.advice.model import CutKind, InWords, Job
from server.advice.response import Posterior, Prediction


def wait(minutes: float) -> str:
    return f"the part is warm: measure again in about {max(round(minutes), 1)} min"


def surprise(reading_mm: float, expected_mm: float, kind: CutKind, in_words: InWords) -> str:
    del kind
    return f"expected {in_words(expected_mm)} of stock, read {in_words(reading_mm)}"


def close_to_past(job: Job, in_words: InWords) -> str:
    del job, in_words
    return "the doubt reaches past the limit: measure again"


def why(option: Option, post: Posterior, job: Job, in_words: InWords) -> str:
    del option, post, job, in_words
    return ""


def compared(prediction: Prediction, is_inside: bool, is_surprise: bool, in_words: InWords) -> str:
    del prediction, is_inside, is_surprise, in_words
    return ""
