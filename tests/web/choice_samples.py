"""Verdicts and choices that the made-up views share."""

from __future__ import annotations

from server.pages.views import (
    Choice,
    Verdict,
)

STOCK = Verdict(code="stock_left", word="Stock left")
IN = Verdict(code="in_limits", word="In limits")
CLOSE = Verdict(code="too_close", word="Too close to call")
PAST = Verdict(code="past_limit", word="Past the limit")

UNITS = (Choice(value="in", word="in"), Choice(value="mm", word="mm"))
SLIDES = (
    Choice(value="cross_slide", word="Cross-slide"),
    Choice(value="compound", word="Compound"),
)
KINDS = (
    Choice(value="external_thread", word="External thread"),
    Choice(value="internal_thread", word="Internal thread"),
    Choice(value="outside_diameter", word="Outside diameter"),
    Choice(value="bore", word="Bore"),
    Choice(value="groove_diameter", word="Groove diameter"),
    Choice(value="length", word="Length"),
)
METHODS = (
    Choice(value="direct", word="Micrometer or calliper"),
    Choice(value="over_wires", word="Over three wires"),
)
RULES = (
    Choice(value="handbook", word="Handbook rule"),
    Choice(value="exact", word="Exact contact"),
)
ANGLES = (
    Choice(value="cross_slide", word="from the cross-slide"),
    Choice(value="axis", word="from the lathe axis"),
)
LATHES = (Choice(value="1", word="Bench lathe"),)
INSTRUMENTS = (
    Choice(value="1", word="0–1 in micrometer"),
    Choice(value="2", word="6 in calliper"),
)

MM = 25.4
