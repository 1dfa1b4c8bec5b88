"""Room on the disk that the records are on."""

from __future__ import annotations

import shutil
from pathlib import Path

from server.wording import say

SPARE_BYTES = 200 * 1024 * 1024  # below this much free space a warning is given


def megabytes(count: int) -> str:
    return f"{count / 1024 / 1024:.0f} MB"


def low_space(folder: Path) -> str:
    """A warning where the disk is nearly full, else ""."""
    free = shutil.disk_usage(folder).free
    if free >= SPARE_BYTES:
        return ""
    return say(
        "Only {free} are free on the disk of {folder}. Readings can't be saved once it is full: "
        "free some space.",
        free=megabytes(free),
        folder=folder,
    )
