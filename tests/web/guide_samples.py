"""Invented views of the guided first part and of help."""

from __future__ import annotations

from dataclasses import replace

from server.pages.guide import help_page
from server.pages.views import Choice, GuidePage, Page, Problem


def guide() -> GuidePage:
    return GuidePage(
        title="A guided first part",
        nav="parts",
        unit="in",
        other_unit_words="Work in millimetres instead",
        other_unit_url="/start?unit=mm",
        units=(Choice(value="in", word="inch"), Choice(value="mm", word="mm")),
        counts=(Choice(value="diameter", word="diameter"), Choice(value="travel", word="travel")),
        angle_conventions=(Choice(value="cross_slide", word="from the cross-slide"),),
        instrument_kinds=(Choice(value="micrometer", word="Micrometer"),),
        kinds=(Choice(value="bore", word="Bore"),),
        slides=(Choice(value="cross_slide", word="Cross-slide"),),
        materials=("carbon steel", "brass"),
        graduation="0.001",
        resolution="0.0001",
        example="5/8-18 UNF-2A",
    )


def guide_refused() -> GuidePage:
    return replace(
        guide(),
        lathes=(Choice(value="1", word="Bench lathe"),),
        instruments=(Choice(value="2", word="Micrometer"),),
        typed={"form": "start", "lathe_id": "", "lathe_name": "", "designation": "5/8-18"},
        problems=(Problem(field="lathe_name", message="The name is empty; type a few words."),),
    )


GUIDE_SAMPLES: dict[str, Page] = {
    "guide": guide(),
    "guide-refused": guide_refused(),
    "help": help_page(),
}
