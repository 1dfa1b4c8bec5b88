"""Invented views, one for each state of a screen that is worth a picture or a test."""

from __future__ import annotations

from server.pages.views import (
    Page,
)
from tests.web.book_samples import BOOK_SAMPLES
from tests.web.guide_samples import GUIDE_SAMPLES
from tests.web.history_samples import history
from tests.web.lathe_samples import (
    lathe,
    lathe_ask,
    lathe_closed,
    lathe_done,
    lathe_finer,
    lathe_first,
    lathe_gauged,
    lathe_inch_dial,
    lathe_metric,
    lathe_past,
    lathe_refused,
    lathe_wait,
)
from tests.web.parts_samples import crib, error, finish, part, parts, parts_empty, shop
from tests.web.sharing_samples import SHARING_SAMPLES
from tests.web.target_samples import targets, targets_empty, targets_plain, targets_refused

SAMPLES: dict[str, Page] = SHARING_SAMPLES | {
    "lathe": lathe(),
    "lathe-wait": lathe_wait(),
    "lathe-first": lathe_first(),
    "lathe-done": lathe_done(),
    "lathe-past": lathe_past(),
    "lathe-metric": lathe_metric(),
    "lathe-inch-dial": lathe_inch_dial(),
    "lathe-finer": lathe_finer(),
    "lathe-refused": lathe_refused(),
    "lathe-ask": lathe_ask(),
    "lathe-gauged": lathe_gauged(),
    "lathe-closed": lathe_closed(),
    "targets": targets(),
    "targets-empty": targets_empty(),
    "targets-plain": targets_plain(),
    "targets-refused": targets_refused(),
    "history": history(),
    "parts": parts(),
    "parts-empty": parts_empty(),
    "part": part(),
    "crib": crib(),
    "shop": shop(),
    "error": error(),
    "finish": finish(),
    **GUIDE_SAMPLES,
    **BOOK_SAMPLES,
}
