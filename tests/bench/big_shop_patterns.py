"""The pieces that the made-up shop is copied from: what is cut, and every reading.  Invented."""

from __future__ import annotations

from dataclasses import dataclass

Script = tuple[tuple[str, str], ...]  # (value, dial step) from the first reading to the last

SEAT: Script = (
    ("0.8000", ""),
    ("0.7702", "0.0300"),
    ("0.7553", "0.0150"),
    ("0.7516", "0.0040"),
    ("0.7503", "0.0015"),
    ("0.7497", "0.0010"),
    ("0.7496", ""),
    ("0.7497", ""),
    ("0.7496", ""),
    ("0.7496", ""),
)
THREAD: Script = (
    ("0.6720", ""),
    ("0.6560", "0.0090"),
    ("0.6460", "0.0060"),
    ("0.6400", "0.0035"),
    ("0.6365", "0.0020"),
    ("0.6338", "0.0015"),
    ("0.6337", ""),
    ("0.6338", ""),
    ("0.6337", ""),
    ("0.6338", ""),
)
JOURNAL: Script = (
    ("25.800", ""),
    ("25.420", "0.40"),
    ("25.210", "0.22"),
    ("25.090", "0.12"),
    ("25.040", "0.06"),
    ("25.012", "0.02"),
    ("24.994", "0.02"),
    ("24.993", ""),
    ("24.994", ""),
    ("24.993", ""),
)
BORE: Script = (
    ("39.100", ""),
    ("39.480", "0.40"),
    ("39.720", "0.26"),
    ("39.880", "0.16"),
    ("39.960", "0.08"),
    ("39.996", "0.04"),
    ("40.012", "0.02"),
    ("40.012", ""),
    ("40.013", ""),
    ("40.012", ""),
)


@dataclass(frozen=True)
class Job:
    """One feature of a pattern part, and the readings of one piece."""

    label: str
    designation: str
    method: str
    slide: str
    script: Script
    wire: str = ""
    kind: str = ""


PATTERNS: tuple[tuple[str, tuple[Job, ...]], ...] = (
    (
        "in",
        (
            Job("Seat", "0.7500 +0.0000/-0.0010", "direct", "cross_slide", SEAT),
            Job("Thread", "5/8-18 UNF-2A", "over_wires", "compound", THREAD, "0.032"),
        ),
    ),
    (
        "mm",
        (
            Job("Journal", "25 h6", "direct", "cross_slide", JOURNAL),
            Job("Bore", "40 H7", "direct", "cross_slide", BORE, kind="bore"),
        ),
    ),
)
