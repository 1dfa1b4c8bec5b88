"""Invented views of the working, a lot and an inspection record."""

from __future__ import annotations

from server.logbook.working import Section
from server.logbook.working_steps import Given, Step
from server.pages.lot_drawing import Run, RunPoint, draw_run
from server.pages.view_lots import LotCell, LotFeature, LotPage, LotPiece
from server.pages.view_record import RecordFeature, RecordPage, RecordPiece
from server.pages.view_working import BudgetRow, LearnedRow, PlanRow, WorkingPage
from server.pages.views import Fact, Page, Verdict

IN = Verdict(code="in_limits", word="In limits")
PAST = Verdict(code="past_limit", word="Past the limit")

READS = Given(symbol="M", words="the reading", value=0.8118, text="0.8118000", unit="in")
SHARE = Given(symbol="k", words="growth at 24 °C", value=1.000046, text="1.0000460")
SIZE = Given(symbol="d", words="size at 20 °C", value=0.811763, text="0.811763", unit="in")
STEP = Step(
    name="Back to 20 °C",
    result=SIZE,
    formula="M / k",
    inputs=(READS, SHARE),
    source="ISO 1",
    note="The micrometer stands at the temperature of the shop.",
)
DOUBT = Step(
    name="Resolution",
    result=Given(symbol="u", words="its share", value=28.9, text="28.9", unit="µin"),
    formula="c",
    inputs=(Given(symbol="c", words="half a division", value=28.9, text="28.90000", unit="µin"),),
)


def working() -> WorkingPage:
    return WorkingPage(
        title="Bearing seat: the working",
        nav="parts",
        part_name="Water-pump shaft",
        part_url="/parts/1",
        piece_name="Piece 2",
        feature_label="Bearing seat",
        designation="0.7874 +0.0005/-0.0000",
        source="stated on the drawing",
        unit="in",
        micro="µin",
        size="0.8118",
        doubt="0.0002",
        verdict=Verdict(code="stock_left", word="Stock left"),
        state_words="A cut came after this size: measure again.",
        tabs=(
            Fact(label="Bearing seat", value="/pieces/2/working?feature=1", note="current"),
            Fact(label="Impeller thread", value="/pieces/2/working?feature=2"),
        ),
        readings=(Section(code="reading", title="Reading 3", steps=(STEP,)),),
        budget=(
            BudgetRow(
                name="Resolution",
                step=DOUBT,
                spread="50.0 µin",
                shape="rectangular",
                sensitivity="1",
                contribution="28.9",
                share="12",
                dof="∞",
            ),
        ),
        after_budget=(
            Section(code="stock", title="Stock left", words=("On diameter.",), steps=(STEP,)),
        ),
        learned_sentence="The last two cuts took 96 % of what was dialled.",
        learned_facts=(Fact(label="Takes of what is dialled", value="0.96", note="± 0.02"),),
        learned=(
            LearnedRow(number="1", cuts="1", dialled="0.0175", removed="0.0165", fitted="0.0168"),
        ),
        fitted_words="Fitted with the shop's earlier pieces.",
        plan=(
            PlanRow(
                number="1",
                what="Finishing",
                dial="0.012 in on the cross-slide",
                after="0.7995",
                measure=True,
            ),
        ),
        lathe_url="/pieces/2/lathe?feature=1",
        history_url="/pieces/2/history",
        json_url="/api/pieces/2/working?feature=1",
    )


def lot() -> LotPage:
    run = Run(
        low_mm=19.9999,
        high_mm=20.0127,
        aim_mm=20.0063,
        unit="in",
        places=4,
        points=(
            RunPoint(number="1", size_mm=20.004, doubt_mm=0.004),
            RunPoint(number="2", size_mm=20.007, doubt_mm=0.004),
            RunPoint(number="3", size_mm=19.995, doubt_mm=0.004, is_lost=True),
            RunPoint(number="4", size_mm=20.011, doubt_mm=0.004, is_open=True),
        ),
        line=(0, 20.004, 3, 20.011),
        next_mm=20.012,
        words="Four pieces, drifting larger.",
    )
    return LotPage(
        title="Water-pump shaft: the lot",
        nav="parts",
        part_name="Water-pump shaft",
        part_number="WP-104",
        part_url="/parts/1",
        material="carbon steel 1045",
        count_words="4 pieces, 3 of them finished, 1 scrapped",
        features=(
            LotFeature(
                feature_id=1,
                label="Bearing seat",
                unit="in",
                low="0.7874",
                high="0.7879",
                aim="0.7876",
                runs=(("wide", draw_run(run, 720)), ("slim", draw_run(run, 380))),
                first="0.7876",
                last="0.7878",
                drift="Each piece comes out about 0.0001 in larger than the one before.",
                centring="On the whole 0.0001 in above the aim.",
                capability="Too few pieces to speak of capability.",
            ),
        ),
        pieces=(
            LotPiece(
                name="Piece 1, A-17",
                url="/pieces/1/history",
                state="good",
                state_word="Good",
                cells=(LotCell(size="0.7876", doubt="0.0002", verdict=IN),),
            ),
            LotPiece(
                name="Piece 3",
                url="/pieces/3/history",
                state="scrap",
                state_word="Scrap",
                cells=(LotCell(size="0.7872", doubt="0.0002", verdict=PAST),),
            ),
        ),
        piece_action="/parts/1/pieces",
        record_url="/parts/1/record",
        json_url="/api/parts/1/lot",
    )


def record() -> RecordPage:
    return RecordPage(
        title="Water-pump shaft, piece 1: inspection record",
        nav="parts",
        part_name="Water-pump shaft",
        part_number="WP-104",
        part_url="/parts/1",
        material="carbon steel 1045",
        pieces=(
            RecordPiece(
                name="Piece 1",
                serial="A-17",
                url="/pieces/1/history",
                state="concession",
                state_words="Finished: concession, 24 November 2026, by RT",
                reason="customer agreed",
                rule="ISO 14253-1, guard band of the whole doubt (g = U)",
                features=(
                    RecordFeature(
                        label="Impeller thread",
                        designation="5/8-18 UNF-2A",
                        source="ASME B1.1-2003, limits of size of the standard series",
                        low="0.5828",
                        high="0.5875",
                        unit="in",
                        size="0.5852",
                        doubt="0.0004",
                        verdict=IN,
                        how="over 0.0320 in wires, handbook rule; 0–1 in micrometer",
                        checks=("0–1 in micrometer: checked 1 October 2026, due 1 October 2027",),
                        temperature="68 °F",
                        measured="24 November 2026 07:56, RT",
                        evidence="GO entered",
                    ),
                ),
                readings_words="14 readings, 1 of them struck",
                digest="3c5e 91aa 07f2 66b0",
            ),
        ),
        over="SHA-256 over the readings, cuts and strikes as they were typed.",
        csv_url="/pieces/1/record.csv",
        json_url="/api/pieces/1/record",
        xlsx_url="/pieces/1/record.xlsx",
        made_with="Midlimit 0.1.0",
        printed_on="25 November 2026 09:13",
    )


BOOK_SAMPLES: dict[str, Page] = {"working": working(), "lot": lot(), "record": record()}
