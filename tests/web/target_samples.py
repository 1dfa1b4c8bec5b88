"""Made-up target cards."""

from __future__ import annotations

from dataclasses import replace

from server.pages.views import (
    Aim,
    Card,
    Choice,
    Fact,
    LimitRow,
    ScheduleRow,
    TargetsPage,
    Wires,
)
from tests.web.choice_samples import (
    ANGLES,
    INSTRUMENTS,
    KINDS,
    LATHES,
    METHODS,
    RULES,
    SLIDES,
    UNITS,
)


def card() -> Card:
    return Card(
        heading="5/8-18 UNF-2A",
        kind_word="External thread",
        unit="in",
        source="ASME B1.1, class 2A with allowance",
        limits=(
            LimitRow(label="Major diameter", low="0.6149", high="0.6236", tolerance="0.0087"),
            LimitRow(
                label="Pitch diameter",
                low="0.5828",
                high="0.5875",
                tolerance="0.0047",
                is_aimed=True,
            ),
            LimitRow(label="Minor diameter", low="", high="0.5634"),
        ),
        aim=Aim(value="0.5852", share_from_low=50, low_word="free", high_word="tight"),
        facts=(
            Fact(label="Pitch", value="0.05556", unit="in", note="18 to the inch"),
            Fact(label="Lead", value="0.05556", unit="in", note="one start, right hand"),
            Fact(label="Half angle", value="30°"),
            Fact(label="Allowance", value="0.0014", unit="in"),
        ),
        wires=Wires(
            best="0.0321",
            smallest="0.0281",
            largest="0.0501",
            wire="0.0320",
            wire_name="crib set A, measured",
            over_words="Over 0.0320 wires",
            crib=(
                Fact(label="Set A", value="0.0320", note="nearest to best"),
                Fact(label="Set B", value="0.0400"),
            ),
            flattening="0.000148",
            flattening_note="at 11.1 N; shown, not applied",
            constant="0.0479",
            low="0.6307",
            high="0.6354",
            aim="0.6331",
            rule_word="handbook rule",
            rule_why="its lead correction is below 0.00015 in, so it agrees with a wall chart",
            lead_correction="0.00002",
            other_rule_word="exact contact",
            other_low="0.6307",
            other_high="0.6354",
        ),
        groove=(
            Fact(label="Total infeed", value="0.0325", unit="in", note="straight, on radius"),
            Fact(label="On the compound", value="0.0373", unit="in", note="29.5° off cross-slide"),
            Fact(label="Relief groove", value="0.553", unit="in", note="below minor diameter"),
            Fact(label="Groove width", value="0.111", unit="in", note="two pitches"),
            Fact(label="End chamfer", value="0.040", unit="in", note="at 45°"),
        ),
        schedule=(
            ScheduleRow(number="1", step="0.0090", total="0.0090", dial="0.0103"),
            ScheduleRow(number="2", step="0.0067", total="0.0157", dial="0.0180"),
            ScheduleRow(number="3", step="0.0054", total="0.0211", dial="0.0242"),
            ScheduleRow(number="4", step="0.0046", total="0.0257", dial="0.0295"),
            ScheduleRow(number="5", step="0.0041", total="0.0298", dial="0.0342"),
            ScheduleRow(number="6", step="0.0027", total="0.0325", dial="0.0373", word="set pass"),
            ScheduleRow(number="7", step="0", total="0.0325", dial="0.0373", word="spring pass"),
        ),
        schedule_words="on the compound at 29.5° from the cross-slide, dial total",
        plating=(
            Fact(label="Pitch diameter before", value="0.5816 to 0.5863", unit="in"),
            Fact(label="Major before", value="0.6143 to 0.6230", unit="in"),
        ),
        notes=(
            "A burr on the crest spoils early readings: file it first.",
            "Minor diameter: the standard gives the high limit only.",
        ),
        set_words=(
            "Major diameter 0.6149 to 0.6236",
            "Relief groove 0.553, two pitches wide",
            "End chamfer 0.040 at 45°",
            "Thread over wires",
        ),
    )


def targets() -> TargetsPage:
    return TargetsPage(
        title="Target card",
        nav="targets",
        designation="5/8-18 UNF-2A",
        typed={"designation": "5/8-18 UNF-2A", "unit": "in", "wire": "0.032", "plating": "0.0003"},
        card=card(),
        examples=("5/8-18 UNF-2A", "M20x1.5-6g", "Tr40x7-7e", "25 h6", "12.70 +0.00/-0.02"),
        units=UNITS,
        kinds=KINDS,
        rules=RULES,
        angle_conventions=ANGLES,
        parts=(Choice(value="1", word="Water-pump shaft"),),
        lathes=LATHES,
        instruments=INSTRUMENTS,
        methods=METHODS,
        slides=SLIDES,
    )


def targets_empty() -> TargetsPage:
    return replace(targets(), designation="", typed={}, card=None)


def targets_plain() -> TargetsPage:
    plain = Card(
        heading="25 h6",
        kind_word="Outside diameter",
        unit="mm",
        source="ISO 286-1",
        limits=(
            LimitRow(label="Size", low="24.987", high="25.000", tolerance="0.013", is_aimed=True),
        ),
        aim=Aim(
            value="24.996", share_from_low=70, low_word="free", high_word="tight", is_moved=True
        ),
    )
    return replace(
        targets(), designation="25 h6", typed={"designation": "25 h6", "unit": "mm"}, card=plain
    )


def targets_refused() -> TargetsPage:
    return replace(
        targets(),
        designation="5/8-18 UNF-7A",
        typed={"designation": "5/8-18 UNF-7A", "unit": "in"},
        card=None,
        message="“7A” is not a class of this thread.",
        accepted="1A, 2A or 3A for an external thread; 1B, 2B or 3B for an internal one",
        nearest=("5/8-18 UNF-2A", "5/8-18 UNF-3A"),
    )
