"""Properties of the whole: aim, advice, units, typed text, and no fault whatever is sent."""

from __future__ import annotations

import csv
import io
import math
import string
from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from server.logbook.history import history_csv
from tests.web.conftest import World, modest, the_job
from tests.web.workshop import SHAFT_THREAD, Job, Json, Workshop

READY = {"temperature": {"value": 20, "unit": "C"}}
MM_PER_INCH = 25.4


# Kinds, dials and slides, each with what one unit on the dial takes off the size.


@dataclass(frozen=True)
class Work:
    name: str
    designation: str  # in millimetres
    kind: str
    slide: str
    lathe: tuple[tuple[str, Any], ...]
    size_per_dial: float
    start_mm: float  # stock at the first reading

    @property
    def is_internal(self) -> bool:
        return self.kind == "bore"

    def job(self, shop: Workshop, unit: str) -> Job:
        lathe = {"unit": "mm"} | dict(self.lathe)
        return shop.job(
            self.designation,
            "mm",
            lathe,
            slide=self.slide,
            kind=self.kind,
        ).in_unit(unit)


FINE = (("angle_deg", 5.74), ("angle_from", "axis"))
WORKS = [
    Work(
        "turn, dial counts diameter",
        "25 -0.05/-0.10",
        "outside_diameter",
        "cross_slide",
        (),
        1,
        0.8,
    ),
    Work(
        "turn, dial counts travel",
        "25 ±0.03",
        "outside_diameter",
        "cross_slide",
        (("counts", "travel"),),
        2,
        0.8,
    ),
    Work("bore", "40 H8", "bore", "cross_slide", (("counts", "travel"),), 2, 1.0),
    Work("groove", "20 ±0.05", "groove_diameter", "cross_slide", (), 1, 1.0),
    Work(
        "length by the carriage",
        "60 ±0.1",
        "length",
        "carriage",
        (("carriage", {"graduation": "0.05"}),),
        1,
        1.5,
    ),
    Work(
        "length by the compound",
        "60 ±0.05",
        "length",
        "compound",
        (("angle_deg", 0), ("angle_from", "axis")),
        1,
        1.0,
    ),
    Work(
        "fine feed",
        "25 h7",
        "outside_diameter",
        "compound",
        FINE,
        2 * math.sin(math.radians(5.74)),
        0.2,
    ),
]
works = st.sampled_from(WORKS)
units = st.sampled_from(["mm", "in"])


def typed(size_mm: float, unit: str) -> str:
    return f"{size_mm / (MM_PER_INCH if unit == 'in' else 1):.7f}"


def aim_mm(job: Job, answer: Json) -> float:
    factor = MM_PER_INCH if job.unit == "in" else 1
    aim: float = answer["size"]["aim"] * factor
    return aim


@modest
@given(work=works, unit=units)
def test_stock_left_is_nought_at_the_aim(world: World, work: Work, unit: str) -> None:
    job = work.job(world.shop, unit)
    sign = -1 if work.is_internal else 1
    low, high = limits_mm(world.shop, work)
    first = job.read(typed((low + high) / 2 + sign * work.start_mm, unit), **READY)
    aim = aim_mm(job, first)
    assert aim == pytest.approx((low + high) / 2, abs=1e-6)
    at_aim = job.read(typed(aim, unit), "0", confirm=True, **READY)

    for name in ("diameter", "radial", "axial", "cross_slide_dial", "compound_dial"):
        left = at_aim["stock_left"][name]
        if left is not None:
            assert left == pytest.approx(0, abs=2e-6)


def limits_mm(shop: Workshop, work: Work) -> tuple[float, float]:
    size = shop.targets(work.designation, "mm", kind=work.kind)["limits"]["size"]
    return size["low"], size["high"]


@modest
@given(unit=units, slide=st.sampled_from(["compound", "cross_slide"]))
def test_stock_left_is_nought_at_the_over_wire_aim(world: World, unit: str, slide: str) -> None:
    job = world.shop.thread(slide=slide).in_unit(unit)
    job.read(typed(0.648 * MM_PER_INCH, unit), **READY)
    over = world.shop.targets(SHAFT_THREAD, "mm", wire="0.8128")["over_wires"]
    stock = job.read(typed(over["aim"], unit), "0", confirm=True, **READY)["stock_left"]

    for name in ("diameter", "radial", "leading_flank", "trailing_flank", "compound_dial"):
        assert stock[name] == pytest.approx(0, abs=2e-6)


@settings(modest, max_examples=14)
@given(work=works, unit=units, extra=st.floats(0, 0.4))
def test_advice_never_passes_the_aim_where_every_cut_takes_what_was_dialled(
    world: World, work: Work, unit: str, extra: float
) -> None:
    job = work.job(world.shop, unit)
    sign = -1 if work.is_internal else 1
    low, high = limits_mm(world.shop, work)
    stock = work.start_mm + extra
    aim = (low + high) / 2
    per_dial = work.size_per_dial
    answer = job.read(typed(aim + sign * stock, unit), **READY)
    for _ in range(10):
        advised = answer["next_cut"]
        if advised is None:
            break
        if advised["action"] == "finer_feed":
            setup = {"slide": "compound", "compound": advised["compound"]}
            world.shop.post(f"/api/features/{job.feature_id}/setup", setup, 200)
            per_dial = 0.2  # travel sin beta on radius, sin beta a tenth
        if advised["action"] in ("finer_feed", "measure_again"):
            answer = job.read(typed(aim + sign * stock, unit), **READY)
            continue
        step_mm = advised["dial_step"] * (MM_PER_INCH if unit == "in" else 1)
        stock -= step_mm * per_dial
        assert step_mm >= 0
        assert stock >= -1e-5, (work.name, advised)
        step = {"dial_step": typed(step_mm, unit), "confirm": True}
        answer = job.read(typed(aim + sign * stock, unit), **step, **READY)
    assert stock < work.start_mm + extra
    assert answer["verdict"] in ("in_limits", "too_close", "stock_left")


@settings(modest, max_examples=8)
@given(
    unit=units,
    slide=st.sampled_from(["compound", "cross_slide"]),
    stock_mm=st.floats(0.2, 0.6),
)
def test_advice_never_passes_the_aim_of_a_thread(
    world: World, unit: str, slide: str, stock_mm: float
) -> None:
    job = world.shop.thread(slide=slide).in_unit(unit)
    over = world.shop.targets(SHAFT_THREAD, "mm", wire="0.8128")["over_wires"]
    # Along the compound 29.5 degrees off the cross-slide; a cross-slide dial that counts diameter.
    per_dial = 2 * math.cos(math.radians(29.5)) if slide == "compound" else 1.0
    answer = job.read(typed(over["aim"] + stock_mm, unit), **READY)
    for _ in range(8):
        advised = answer["next_cut"]
        if advised is None:
            break
        step_mm = advised["dial_step"] * (MM_PER_INCH if unit == "in" else 1)
        stock_mm -= step_mm * per_dial
        assert stock_mm >= -1e-4, advised
        is_cut = advised["action"] in ("cut", "spring_pass")
        step = {"dial_step": typed(step_mm, unit), "confirm": True} if is_cut else {}
        answer = job.read(typed(over["aim"] + stock_mm, unit), **step, **READY)
    assert answer["verdict"] in ("in_limits", "too_close", "stock_left")


@modest
@given(work=works, offset=st.floats(-0.02, 1.0), temperature=st.floats(5, 60))
def test_inch_and_millimetre_agree(
    world: World, work: Work, offset: float, temperature: float
) -> None:
    low, high = limits_mm(world.shop, work)
    sign = -1 if work.is_internal else 1
    inches = round(((low + high) / 2 + sign * offset) / MM_PER_INCH, 5)
    warm = {"temperature": {"value": round(temperature, 1)}, "confirm": True}
    inch = work.job(world.shop, "in").read(f"{inches:.5f}", **warm)
    metric = work.job(world.shop, "mm").read(f"{inches * MM_PER_INCH:.7f}", **warm)

    assert inch["verdict"] == metric["verdict"]
    assert inch["warm"]["state"] == metric["warm"]["state"]
    for name in ("value", "doubt", "low", "high", "aim"):
        assert inch["size"][name] * MM_PER_INCH == pytest.approx(metric["size"][name], abs=1e-6)
    for name, value in inch["stock_left"].items():
        if isinstance(value, float):
            assert value * MM_PER_INCH == pytest.approx(metric["stock_left"][name], abs=1e-6)
    assert (inch["next_cut"] is None) == (metric["next_cut"] is None)
    if inch["next_cut"] is not None:
        assert inch["next_cut"]["dial_step"] * MM_PER_INCH == pytest.approx(
            metric["next_cut"]["dial_step"], abs=1e-6
        )


# Typed text.

printable = st.text(
    st.characters(exclude_categories=["Cc", "Cs"], include_characters="\n\t"), max_size=200
)
digits = st.text(string.digits, min_size=2, max_size=6)


@settings(modest, max_examples=40)
@given(
    note=printable,
    fraction=digits,
    mark=st.sampled_from([".", ","]),
    blanks=st.sampled_from(["", " ", "  "]),
)
def test_typed_text_comes_back_exactly(
    world: World, note: str, fraction: str, mark: str, blanks: str
) -> None:
    value = f"{blanks}25{mark}{fraction}{blanks}"
    assume(not (mark == "," and len(fraction) == 3))  # that may be twenty-five thousand
    job = the_job(world)
    job.read(value, f"{blanks}0{mark}0{blanks}", note=note, confirm=True)
    entry = job.entries()[-1]
    with world.database.reading() as session:
        line = list(csv.DictReader(io.StringIO(history_csv(session, job.piece_id), newline="")))[-1]

    assert entry["value"] == value
    assert entry["dial_step"] == f"{blanks}0{mark}0{blanks}"
    assert entry["note"] == note
    assert line["value"] == value
    assert line["dial_step"] == entry["dial_step"]
    # A note that a spreadsheet would run as a formula is quoted in the CSV, nowhere else.
    assert line["note"] in (note, f"'{note}")
    if note[:1].isalnum():
        assert line["note"] == note
