"""Made-up views of the lathe screen in each of its states."""

from __future__ import annotations

from dataclasses import replace

from server.pages.views import (
    Ask,
    AskChoice,
    Caution,
    Fact,
    FeatureTab,
    Finish,
    Ladder,
    LathePage,
    NextCut,
    Problem,
    Rung,
    Verdict,
    Warm,
)
from tests.web.choice_samples import (
    CLOSE,
    IN,
    INSTRUMENTS,
    MM,
    PAST,
    SLIDES,
    STOCK,
    UNITS,
)
from tests.web.history_samples import entries, entries_mm


def lathe() -> LathePage:
    """A thread over wires, three readings in, with a cut to make."""
    return LathePage(
        title="Gland thread, piece 2",
        piece_id=2,
        part_name="Water-pump shaft",
        part_url="/parts/1",
        piece_name="Piece 2",
        feature_id=3,
        feature_label="Gland thread",
        designation="5/8-18 UNF-2A",
        tabs=(
            FeatureTab(feature_id=1, label="Bearing seat", url="?feature=1", verdict=IN),
            FeatureTab(feature_id=2, label="Impeller bore", url="?feature=2", verdict=CLOSE),
            FeatureTab(
                feature_id=3,
                label="Gland thread",
                url="?feature=3",
                verdict=STOCK,
                stock_left="0.0126",
                is_current=True,
            ),
            FeatureTab(feature_id=4, label="Nut thread", url="?feature=4"),
        ),
        next_cut=NextCut(
            action="cut",
            headline="0.0115",
            is_number=True,
            say="Dial in on the cross-slide",
            unit="in",
            dial="counts diameter, 0.0005 in a line",
            landing="0.5863",
            landing_low="0.5857",
            landing_high="0.5869",
            chance_in_limits="98 %",
            chance_past_limit="under 0.1 %",
            after="Then measure",
            why="The last two cuts took 93 % of what was dialled, and a finer one should follow.",
        ),
        verdict=replace(STOCK, note="pitch diameter over wires"),
        warm=Warm(
            state="drifting",
            word="Drifting",
            sentence="Barely warm: it will shrink by about 0.0001 in as it cools.",
        ),
        size_name="pitch diameter",
        size="0.5981",
        doubt="0.0002",
        unit="in",
        low="0.5828",
        high="0.5875",
        aim="0.5855",
        measured_name="over 0.0320 wires",
        measured_low="0.6307",
        measured_high="0.6354",
        measured_aim="0.6334",
        stock_left="0.0126",
        stock_left_on="on pitch diameter",
        stock_facts=(
            Fact(label="leading flank", value="0.0063"),
            Fact(label="trailing flank", value="0.0001"),
            Fact(label="compound 29.5°", value="0.0072"),
        ),
        ladder=Ladder(
            low_mm=0.5828 * MM,
            high_mm=0.5875 * MM,
            aim_mm=0.5855 * MM,
            low="0.5828",
            high="0.5875",
            aim="0.5855",
            unit="in",
            rungs=(
                Rung(size_mm=0.648 * MM, doubt_mm=0.0003 * MM, number="1"),
                Rung(size_mm=0.622 * MM, doubt_mm=0.0002 * MM, number="2"),
                Rung(size_mm=0.6105 * MM, doubt_mm=0.0002 * MM, number="3", is_struck=True),
                Rung(
                    size_mm=0.5981 * MM,
                    doubt_mm=0.0002 * MM,
                    number="4",
                    verdict="stock_left",
                    is_last=True,
                ),
            ),
            landing_mm=(0.5863 * MM, 0.5857 * MM, 0.5869 * MM),
            words="Last reading 0.5981, limits 0.5828 to 0.5875, expected landing 0.5863.",
        ),
        cautions=(
            Caution(
                code="measuring",
                text="Spindle stopped? Chips off with a brush, never the hand. Then measure.",
            ),
            Caution(
                code="shoulder",
                text="Threading to a shoulder: know where you stop before you engage.",
            ),
        ),
        log_action="/pieces/2/readings",
        entry_key="5b0c3d5c-7c62-4f7e-9a33-5c0c3f0a1111",
        last_seq=6,
        slide="cross_slide",
        slides=SLIDES,
        dial_unit="in",
        advised_step="0.0115",
        prefill="0.6",
        units=UNITS,
        instruments=INSTRUMENTS,
        instrument_id="1",
        operators=("JK", "MB"),
        entries=entries()[::-1],
        undo_action="/pieces/2/undo",
        undo_entry_id=14,
        undo_entry_type="reading",
        undo_words="0.6460",
        pass_action="/pieces/2/passes",
        pass_entry_key="5b0c3d5c-7c62-4f7e-9a33-5c0c3f0a2222",
        event_action="/pieces/2/events",
        event_entry_key="5b0c3d5c-7c62-4f7e-9a33-5c0c3f0a3333",
        gauge_action="/pieces/2/gauges",
        gauge_entry_key="5b0c3d5c-7c62-4f7e-9a33-5c0c3f0a4444",
        working_url="/pieces/2/working?feature=3",
        finish=Finish(
            action="/pieces/2/finish",
            missing=("Gland thread has 0.0126 in of stock left.", "Nut thread has no reading."),
        ),
        history_url="/pieces/2/history",
        stream_url="/pieces/2/events-stream",
    )


def lathe_wait() -> LathePage:
    return replace(
        lathe(),
        title="Bearing seat, piece 2",
        feature_label="Bearing seat",
        next_cut=NextCut(
            action="wait",
            headline="4 min",
            is_number=True,
            say="Too warm to judge: wait, then measure again",
            why="At 25 to 45 °C the size could lie in or above the limits.",
            hints=("Or cool it, wipe it and measure again.",),
        ),
        verdict=CLOSE,
        warm=Warm(
            state="wait",
            word="Wait",
            sentence="Warm in the hand: between 0.0002 and 0.0009 in large.",
            wait_seconds=243,
            wait_words="about 4 min",
        ),
        size_low="0.5974",
        size_high="0.5981",
        advised_step="",
        cautions=(
            Caution(
                code="warm",
                text="Hot work and hot chips burn: let it cool, "
                "gloves only with the spindle stopped.",
            ),
        ),
    )


def lathe_first() -> LathePage:
    return replace(
        lathe(),
        next_cut=NextCut(
            action="first_reading",
            headline="Measure",
            is_number=False,
            say="Nothing logged on this feature yet",
            why="The first reading tells what is left; the geometry alone speaks until then.",
        ),
        verdict=Verdict(code="none", word="No reading yet"),
        warm=Warm(state="none", word=""),
        size="",
        stock_left="",
        stock_facts=(),
        ladder=replace(lathe().ladder or _no_ladder(), rungs=(), landing_mm=None),
        advised_step="",
        prefill="",
        entries=(),
        undo_action="",
        undo_words="",
    )


def _no_ladder() -> Ladder:
    raise LookupError("the sample has a ladder")


def lathe_done() -> LathePage:
    return replace(
        lathe(),
        next_cut=NextCut(
            action="done",
            headline="Done",
            is_number=False,
            say="Nothing more to cut on this feature",
            chance_in_limits="99.6 %",
            why="0.5853 ± 0.0002 lies inside 0.5828 to 0.5875 by more than its doubt.",
        ),
        verdict=replace(IN, note="pitch diameter over wires"),
        warm=Warm(state="settled", word="Settled"),
        advised_step="",
        stock_left="−0.0002",
    )


def lathe_metric() -> LathePage:
    """A bore in millimetres with a small step."""
    base = lathe()
    return replace(
        base,
        feature_label="Impeller bore",
        designation="40 H7",
        unit="mm",
        dial_unit="mm",
        next_cut=replace(
            base.next_cut,
            headline="0.02",
            unit="mm",
            say="Dial in on the compound",
            dial="counts travel, 0.02 mm a line",
            landing="40.012",
            landing_low="40.008",
            landing_high="40.016",
        ),
        low="40.000",
        high="40.025",
        aim="40.012",
        size_name="size",
        size="39.986",
        doubt="0.004",
        stock_left="0.026",
        stock_left_on="on diameter",
        advised_step="0.02",
        prefill="39.",
        measured_name="",
        measured_low="",
        ladder=Ladder(
            low_mm=40.0,
            high_mm=40.025,
            aim_mm=40.0125,
            low="40.000",
            high="40.025",
            aim="40.012",
            unit="mm",
            is_internal=True,
            rungs=(
                Rung(size_mm=39.6, doubt_mm=0.004, number="1"),
                Rung(size_mm=39.986, doubt_mm=0.004, number="2", is_last=True),
            ),
            landing_mm=(40.012, 40.008, 40.016),
        ),
    )


def lathe_inch_dial() -> LathePage:
    """A millimetre drawing on a lathe whose dials are in inches."""
    base = lathe_metric()
    return replace(
        base,
        dial_unit="in",
        next_cut=replace(
            base.next_cut,
            headline="0.015",
            unit="in",
            say="Dial in on the cross-slide",
            dial="counts diameter, 0.001 in a line",
        ),
        advised_step="0.015",
        stock_facts=(
            Fact(label="on the compound dial", value="0.0093", unit="in"),
            Fact(label="on the cross-slide dial", value="0.0161", unit="in"),
        ),
        entries=entries_mm()[::-1],
        undo_words="reading .9925 in",
    )


def lathe_finer() -> LathePage:
    """No step of the dial will do, and the instrument is coarse as well."""
    base = lathe_metric()
    return replace(
        base,
        next_cut=NextCut(
            action="finer_feed",
            headline="Finer feed",
            is_number=False,
            say="No line of this dial fits what is left",
            why="0.012 mm is left and no step of 0.020 mm brings it inside without a real chance of"
            " scrap: split a graduation by eye or take a sharper tool.",
            hints=("0–25 mm micrometer: its error is 3 times what the 10:1 rule allows.",),
        ),
        advised_step="",
    )


def lathe_past() -> LathePage:
    return replace(
        lathe(),
        next_cut=NextCut(
            action="lost",
            headline="Stop",
            is_number=False,
            say="Cut too far: nothing brings it back",
            why="0.5819 ± 0.0002 is below 0.5828 by more than its doubt.",
            hints=("Finish the piece as scrap or as a concession, with a reason.",),
        ),
        verdict=PAST,
        warm=Warm(state="settled", word="Settled"),
        advised_step="",
        stock_left="−0.0036",
    )


def lathe_gauged() -> LathePage:
    return replace(
        lathe_first(),
        feature_label="Nut thread",
        is_gauged=True,
        gauge_words="GO enters; try NOT GO.",
    )


def lathe_closed() -> LathePage:
    return replace(
        lathe_done(),
        is_closed=True,
        closed_words="Finished good 2 May 2026 at 10:41 by JK",
        undo_action="",
        finish=None,
    )


def lathe_refused() -> LathePage:
    return replace(
        lathe(),
        typed={"form": "log", "value": "6.460", "cut": "advised", "touch": "shop", "dial_step": ""},
        problems=(
            Problem(
                field="value",
                message="6.460 in is ten times the last reading: did you mean .6460? Nothing was"
                " saved.",
            ),
        ),
    )


def lathe_ask() -> LathePage:
    return replace(
        lathe(),
        typed={"form": "log", "value": "0.6200", "cut": "advised"},
        ask=Ask(
            message="0.6200 means 0.026 in came off, and 0.0115 was dialled. That is about one turn"
            " of the thimble. Is 0.6200 what it reads?",
            choices=(AskChoice(word="Yes, it reads 0.6200", name="confirm", value="true"),),
        ),
    )
