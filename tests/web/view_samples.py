"""Invented views, one for each state of a screen that is worth a picture or a test."""

from __future__ import annotations

from dataclasses import replace

from server.pages.views import (
    Aim,
    Ask,
    AskChoice,
    Card,
    Caution,
    Choice,
    CribPage,
    Entry,
    ErrorPage,
    Fact,
    FeatureChip,
    FeatureHistory,
    FeatureRow,
    FeatureTab,
    Finish,
    FinishPage,
    HistoryPage,
    InstrumentRow,
    Ladder,
    LathePage,
    LatheRow,
    LimitRow,
    MaterialRow,
    NextCut,
    OperatorRow,
    Page,
    PartPage,
    PartRow,
    PartsPage,
    PieceRow,
    Plot,
    Point,
    Problem,
    Rung,
    ScheduleRow,
    ShopPage,
    SlideLine,
    TargetsPage,
    Verdict,
    Warm,
    WireRow,
    Wires,
)
from tests.web.book_samples import BOOK_SAMPLES
from tests.web.guide_samples import GUIDE_SAMPLES
from tests.web.sharing_samples import SHARING_SAMPLES

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
            dial="counts diameter, 0.0005 a line",
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


def entries() -> tuple[Entry, ...]:
    return (
        Entry(
            entry_id=10,
            type="reading",
            number="1",
            when="10:02",
            value="0.6959",
            unit="in",
            size="0.6480",
            doubt="0.0003",
            temperature="as the shop",
            warm_state="settled",
            warm_word="Settled",
            verdict=STOCK,
            who="JK",
            note="wires on the corners: rough",
            strike_action="/readings/10/strike",
        ),
        Entry(
            entry_id=11,
            type="reading",
            number="2",
            when="10:09",
            value=".6699",
            unit="in",
            size="0.6220",
            doubt="0.0002",
            dialled="0.0280",
            slide="cross-slide",
            removed="0.0260",
            predicted="0.6222",
            off="−0.0002",
            temperature="barely warm",
            warm_state="drifting",
            warm_word="Drifting",
            verdict=STOCK,
            who="JK",
            strike_action="/readings/11/strike",
        ),
        Entry(
            entry_id=12,
            type="reading",
            number="3",
            when="10:14",
            value=".6584",
            unit="in",
            dialled="0.0120",
            slide="cross-slide",
            temperature="warm in the hand",
            warm_state="wait",
            warm_word="Wait",
            who="JK",
            is_struck=True,
            struck_reason="burr on the crest",
            struck_at="10:15",
        ),
        Entry(entry_id=3, type="event", number="·", when="10:16", words="Tool changed", who="JK"),
        Entry(
            entry_id=5,
            type="pass",
            number="·",
            when="10:18",
            dialled="0.0020",
            slide="cross-slide",
            who="JK",
        ),
        Entry(
            entry_id=14,
            type="reading",
            number="4",
            when="10:21",
            value="0.6460",
            unit="in",
            size="0.5981",
            doubt="0.0002",
            dialled="0.0140",
            slide="cross-slide",
            removed="0.0131",
            predicted="0.5984",
            off="−0.0003",
            temperature="barely warm",
            warm_state="drifting",
            warm_word="Drifting",
            verdict=STOCK,
            who="JK",
            strike_action="/readings/14/strike",
        ),
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
            Caution(code="warm", text="Hot chips and a warm part: gloves off near the chuck."),
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
        next_cut=replace(
            base.next_cut,
            headline="0.02",
            unit="mm",
            say="Dial in on the compound",
            dial="counts travel, 0.02 a line",
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


def history() -> HistoryPage:
    points = (
        Point(number="1", size_mm=0.648 * MM, doubt_mm=0.0003 * MM, warm_state="settled"),
        Point(
            number="2",
            size_mm=0.622 * MM,
            doubt_mm=0.0002 * MM,
            predicted_mm=0.6228 * MM,
            warm_state="drifting",
        ),
        Point(
            number="3", size_mm=0.6105 * MM, doubt_mm=0.0002 * MM, warm_state="wait", is_struck=True
        ),
        Point(
            number="4",
            size_mm=0.5981 * MM,
            doubt_mm=0.0002 * MM,
            predicted_mm=0.5990 * MM,
            warm_state="drifting",
        ),
        Point(
            number="5",
            size_mm=0.5866 * MM,
            doubt_mm=0.0002 * MM,
            predicted_mm=0.5863 * MM,
            warm_state="settled",
        ),
        Point(
            number="6",
            size_mm=0.5853 * MM,
            doubt_mm=0.0002 * MM,
            predicted_mm=0.5854 * MM,
            warm_state="settled",
            is_final=True,
        ),
    )
    thread = FeatureHistory(
        feature_id=3,
        label="Gland thread",
        designation="5/8-18 UNF-2A",
        unit="in",
        low="0.5828",
        high="0.5875",
        aim="0.5855",
        measured_by="over 0.0320 wires, 0–1 in micrometer",
        final_size="0.5853",
        final_doubt="0.0002",
        verdict=replace(IN, note="pitch diameter over wires"),
        rule="guard band U, k = 2 (ISO 14253-1)",
        source="ASME B1.1",
        plot=Plot(
            low_mm=0.5828 * MM,
            high_mm=0.5875 * MM,
            aim_mm=0.5855 * MM,
            unit="in",
            places=4,
            points=points,
            words="Six readings from 0.6480 down to 0.5853, the last inside the limits.",
        ),
        entries=entries(),
        facts=(
            Fact(label="Readings", value="6", note="1 struck"),
            Fact(label="Took off in all", value="0.0627", unit="in"),
            Fact(label="Largest miss", value="0.0009", unit="in"),
            Fact(label="Chance in limits", value="99.8 %"),
        ),
        lathe_url="/pieces/2/lathe?feature=3",
    )
    seat = FeatureHistory(
        feature_id=1,
        label="Bearing seat",
        designation="25 h6",
        unit="mm",
        low="24.987",
        high="25.000",
        aim="24.993",
        measured_by="0–25 mm micrometer",
        final_size="24.994",
        final_doubt="0.002",
        verdict=IN,
        rule="guard band U, k = 2 (ISO 14253-1)",
        source="ISO 286-1",
        plot=Plot(
            low_mm=24.987,
            high_mm=25.0,
            aim_mm=24.9935,
            unit="mm",
            places=3,
            points=(
                Point(number="1", size_mm=25.8, doubt_mm=0.003, warm_state="settled"),
                Point(number="2", size_mm=25.21, doubt_mm=0.002, predicted_mm=25.24),
                Point(number="3", size_mm=25.021, doubt_mm=0.002, predicted_mm=25.03),
                Point(
                    number="4", size_mm=24.994, doubt_mm=0.002, predicted_mm=24.995, is_final=True
                ),
            ),
        ),
        entries=entries()[:2],
        lathe_url="/pieces/2/lathe?feature=1",
    )
    return HistoryPage(
        title="Pass history, Water-pump shaft, piece 2",
        piece_id=2,
        part_name="Water-pump shaft",
        part_number="WP-104",
        part_url="/parts/1",
        piece_name="Piece 2",
        serial="B-17",
        material="carbon steel",
        state="good",
        state_words="Finished good 2 May 2026 at 10:41 by JK",
        features=(thread, seat),
        csv_url="/pieces/2/history.csv",
        json_url="/api/pieces/2/history",
        again_action="/parts/1/pieces",
        made_with="Midlimit 0.1.0",
        printed_on="2 May 2026 10:42",
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


def pieces() -> tuple[PieceRow, ...]:
    return (
        PieceRow(
            piece_id=2,
            part_name="Water-pump shaft",
            part_number="WP-104",
            part_url="/parts/1",
            piece_name="Piece 2",
            url="/pieces/2/lathe",
            history_url="/pieces/2/history",
            last_words="last reading 10:21",
            features=(
                FeatureChip(label="Bearing seat", url="/pieces/2/lathe?feature=1", verdict=IN),
                FeatureChip(
                    label="Impeller bore",
                    url="/pieces/2/lathe?feature=2",
                    verdict=CLOSE,
                    stock_left="0.0004 in",
                    is_waiting=True,
                ),
                FeatureChip(
                    label="Gland thread",
                    url="/pieces/2/lathe?feature=3",
                    verdict=STOCK,
                    stock_left="0.0126 in",
                    next_cut="dial 0.0115",
                ),
                FeatureChip(label="Nut thread", url="/pieces/2/lathe?feature=4"),
            ),
        ),
        PieceRow(
            piece_id=1,
            part_name="Water-pump shaft",
            part_number="WP-104",
            part_url="/parts/1",
            piece_name="Piece 1",
            url="/pieces/1/lathe",
            history_url="/pieces/1/history",
            last_words="last reading yesterday",
            features=(
                FeatureChip(label="Bearing seat", url="/pieces/1/lathe?feature=1", verdict=PAST),
            ),
        ),
    )


def finished() -> tuple[PieceRow, ...]:
    return (
        PieceRow(
            piece_id=7,
            part_name="Feed screw",
            part_url="/parts/3",
            piece_name="Piece 1",
            url="/pieces/7/lathe",
            history_url="/pieces/7/history",
            state="good",
            state_words="Good, 28 April 2026",
        ),
        PieceRow(
            piece_id=8,
            part_name="Feed screw",
            part_url="/parts/3",
            piece_name="Piece 2",
            url="/pieces/8/lathe",
            history_url="/pieces/8/history",
            state="scrap",
            state_words="Scrap, 29 April 2026",
        ),
    )


def parts() -> PartsPage:
    return PartsPage(
        title="Parts",
        nav="parts",
        open_pieces=pieces(),
        parts=(
            PartRow(part_id=3, name="Feed screw", url="/parts/3", words="2 features, 2 pieces"),
        ),
        found=finished(),
        found_words="2 finished pieces",
        materials=("carbon steel", "aluminium 6061", "brass", "cast iron", "stainless 304"),
        units=UNITS,
    )


def parts_empty() -> PartsPage:
    return replace(parts(), open_pieces=(), parts=(), found=(), found_words="")


def part() -> PartPage:
    return PartPage(
        title="Water-pump shaft",
        nav="parts",
        part_id=1,
        name="Water-pump shaft",
        number="WP-104",
        material="carbon steel",
        unit="in",
        features=(
            FeatureRow(
                feature_id=1,
                label="Bearing seat",
                kind_word="Outside diameter",
                designation="25 h6",
                low="24.987",
                high="25.000",
                aim="24.993",
                unit="mm",
                how="0–25 mm micrometer, cross-slide of the bench lathe",
                card_url="/targets?designation=25+h6",
            ),
            FeatureRow(
                feature_id=3,
                label="Gland thread",
                kind_word="External thread",
                designation="5/8-18 UNF-2A",
                low="0.5828",
                high="0.5875",
                aim="0.5855",
                unit="in",
                how="over 0.0320 wires, cross-slide of the bench lathe",
                card_url="/targets?designation=5/8-18+UNF-2A",
            ),
        ),
        pieces=pieces(),
        feature_action="/parts/1/features",
        piece_action="/parts/1/pieces",
        kinds=KINDS,
        methods=METHODS,
        slides=SLIDES,
        lathes=LATHES,
        instruments=INSTRUMENTS,
        rules=RULES,
        angle_conventions=ANGLES,
    )


def crib() -> CribPage:
    return CribPage(
        title="Tool crib",
        nav="crib",
        lathes=(
            LatheRow(
                lathe_id=1,
                name="Bench lathe",
                slides=(
                    SlideLine(name="Cross-slide", words="counts diameter, 0.0005 in a line"),
                    SlideLine(
                        name="Compound",
                        words="counts travel, 0.001 in a line",
                        angle="29.5° from the cross-slide",
                    ),
                ),
            ),
        ),
        instruments=(
            InstrumentRow(
                instrument_id=1,
                name="0–1 in micrometer",
                kind_word="Micrometer",
                resolution="0.0001",
                max_error="0.0001",
                unit="in",
                zero="+0.0001",
                checked="2 May 2026, 1.0000 standard",
                due="due 2 June 2026",
            ),
            InstrumentRow(
                instrument_id=2,
                name="6 in calliper",
                kind_word="Calliper",
                resolution="0.0005",
                max_error="0.001",
                unit="in",
                due="never checked",
                is_due=True,
            ),
        ),
        wires=(
            WireRow(
                wire_id=1,
                name="Set A",
                nominal="0.0320",
                measured="0.03202",
                unit="in",
                words="best for 18 to the inch",
            ),
        ),
        due_words="1 instrument is due for a check",
        units=UNITS,
        counts=(
            Choice(value="diameter", word="diameter"),
            Choice(value="travel", word="travel"),
        ),
        angle_conventions=ANGLES,
        instrument_kinds=(
            Choice(value="micrometer", word="Micrometer"),
            Choice(value="calliper", word="Calliper"),
            Choice(value="thread_micrometer", word="Thread micrometer"),
        ),
    )


def shop() -> ShopPage:
    return ShopPage(
        title="Shop",
        nav="shop",
        unit="in",
        units=UNITS,
        temperature_unit="C",
        temperature_units=(Choice(value="C", word="°C"), Choice(value="F", word="°F")),
        shop_temperature="20",
        rule="guard",
        rules=(
            Choice(value="guard", word="Guard band U (k = 2)"),
            Choice(value="guard_2017", word="Guard band 1.645 u"),
            Choice(value="plain", word="Plain acceptance"),
        ),
        rule_words="A size counts as in limits only when it lies inside by more than its doubt.",
        materials=(
            MaterialRow(name="carbon steel", expansion="11.5"),
            MaterialRow(name="aluminium 6061", expansion="23.6"),
            MaterialRow(name="gauge brass", expansion="19.0", is_own=True),
        ),
        operators=(OperatorRow(initials="JK"), OperatorRow(initials="MB")),
        about="Midlimit 0.1.0. Everything is kept on this computer.",
    )


def error() -> ErrorPage:
    return ErrorPage(
        title="Not found",
        status=404,
        heading="There is nothing at this address",
        message="Piece 99 is not in the book.",
        remedy="Go back to Parts and choose a piece.",
        reference="7f3a",
    )


def finish() -> FinishPage:
    return FinishPage(
        title="Finish piece 2",
        piece_name="Water-pump shaft, piece 2",
        piece_url="/pieces/2/lathe",
        finish=Finish(
            action="/pieces/2/finish",
            missing=("Gland thread is too close to call.",),
            needs_reason=True,
        ),
        typed={"form": "finish", "as": "good"},
        problems=(Problem(field="reason", message="Good needs initials and a reason here."),),
    )


SAMPLES: dict[str, Page] = SHARING_SAMPLES | {
    "lathe": lathe(),
    "lathe-wait": lathe_wait(),
    "lathe-first": lathe_first(),
    "lathe-done": lathe_done(),
    "lathe-past": lathe_past(),
    "lathe-metric": lathe_metric(),
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
