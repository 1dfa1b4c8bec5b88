"""Made-up parts, crib, shop and the pages without a screen of their own."""

from __future__ import annotations

from dataclasses import replace

from server.pages.views import (
    Choice,
    CribPage,
    ErrorPage,
    FeatureChip,
    FeatureRow,
    Finish,
    FinishPage,
    InstrumentRow,
    LatheRow,
    MaterialRow,
    OperatorRow,
    PartPage,
    PartRow,
    PartsPage,
    PieceRow,
    Problem,
    ShopPage,
    SlideLine,
    WireRow,
)
from tests.web.choice_samples import (
    ANGLES,
    CLOSE,
    IN,
    INSTRUMENTS,
    KINDS,
    LATHES,
    METHODS,
    PAST,
    RULES,
    SLIDES,
    STOCK,
    UNITS,
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
                repeats="0.000060 in direct, by 12 repeats",
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
