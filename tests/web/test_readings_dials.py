"""Readings over the API: signs, dials and slides, repeats, wires not seated yet."""

from __future__ import annotations

import pytest

from tests.web.workshop import Json, Workshop

READY = {"temperature": {"value": 20, "unit": "C"}}  # nothing to correct


# Signs, dials and slides.


@pytest.mark.parametrize(
    ("designation", "kind", "value", "aim"),
    [
        ("24.98/25.00", "outside_diameter", "25.50", 24.99),
        ("24.98/25.00", "groove_diameter", "25.50", 24.99),
        ("24.98/25.00", "bore", "24.48", 24.99),
        ("40 H7", "bore", "39.50", 40.0125),
    ],
)
def test_stock_is_positive_while_metal_is_on_bores_included(
    shop: Workshop, designation: str, kind: str, value: str, aim: float
) -> None:
    answer = shop.job(designation, "mm", kind=kind).read(value, **READY)
    stock = answer["stock_left"]

    left = abs(float(value) - aim)
    assert stock["diameter"] == pytest.approx(left, abs=1e-8)
    assert stock["radial"] == pytest.approx(left / 2, abs=1e-8)
    assert stock["leading_flank"] is None
    assert stock["trailing_flank"] is None
    assert stock["cross_slide_dial"] == pytest.approx(left, abs=1e-8)  # it counts diameter
    assert answer["verdict"] == "stock_left"
    assert answer["next_cut"]["dial_step"] > 0


def test_a_bore_cut_too_far_is_past_the_limit(shop: Workshop) -> None:
    answer = shop.job("40 H7", "mm").read("40.06")

    assert answer["verdict"] == "past_limit"
    assert answer["stock_left"]["diameter"] < 0
    assert answer["next_cut"] is None


def test_a_dial_that_counts_travel_shows_half_the_diameter(shop: Workshop) -> None:
    job = shop.job("24.98/25.00", "mm", {"counts": "travel"})
    stock = job.read("25.50", **READY)["stock_left"]

    assert stock["cross_slide_dial"] == pytest.approx(0.255, abs=1e-8)
    assert stock["diameter"] == pytest.approx(0.51, abs=1e-8)


def test_a_length_has_axial_stock_and_no_diameter(shop: Workshop) -> None:
    job = shop.job("24.98/25.00", "mm", kind="length", slide="carriage")
    answer = job.read("25.50", **READY)
    stock = answer["stock_left"]

    for name in ("diameter", "radial", "leading_flank", "trailing_flank", "cross_slide_dial"):
        assert stock[name] is None
    assert stock["axial"] == pytest.approx(0.51, abs=1e-8)
    assert stock["carriage_dial"] == pytest.approx(0.51, abs=1e-8)
    assert answer["next_cut"]["slide"] == "carriage"


def test_stock_per_flank_with_the_compound_at_29_5_degrees(shop: Workshop) -> None:
    stock = shop.thread().read("0.6480", **READY)["stock_left"]

    # Plane geometry, a = 30, theta = 29.5 degrees, z = rho tan theta: along the compound
    # rho / cos theta; normal to the flanks rho sin a + z cos a and rho sin a - z cos a.
    rho = stock["radial"]
    assert stock["compound_dial"] == pytest.approx(rho * 1.148956, rel=2e-6)
    assert stock["leading_flank"] == pytest.approx(rho * 0.989974, rel=1e-5)
    assert stock["trailing_flank"] == pytest.approx(rho * 0.010026, rel=1e-3)


def test_a_straight_plunge_shares_the_stock_between_the_flanks(shop: Workshop) -> None:
    answer = shop.thread(slide="cross_slide").read("0.6480", **READY)
    stock = answer["stock_left"]

    assert stock["leading_flank"] == stock["trailing_flank"]
    assert stock["leading_flank"] == pytest.approx(stock["radial"] / 2, abs=1e-8)  # sin 30
    assert answer["next_cut"]["slide"] == "cross_slide"


def test_both_compound_scales_mean_the_same_swivel(shop: Workshop) -> None:
    from_slide = shop.thread().read("0.6480")["stock_left"]
    turned = shop.thread(lathe={"angle_deg": 60.5, "angle_from": "axis"})
    from_axis = turned.read("0.6480")["stock_left"]

    for name in ("compound_dial", "leading_flank", "trailing_flank", "cross_slide_dial"):
        assert from_axis[name] == pytest.approx(from_slide[name], abs=1e-8)


def test_the_feature_s_own_compound_beats_the_lathe_s(shop: Workshop) -> None:
    lathe = {"angle_deg": 10, "angle_from": "cross_slide"}
    own = {"compound": {"angle_deg": 29.5, "angle_from": "cross_slide"}}
    stock = shop.thread(lathe=lathe, **own).read("0.6480", **READY)["stock_left"]

    assert stock["compound_dial"] == pytest.approx(stock["radial"] * 1.148956, rel=2e-6)


def test_the_compound_as_a_fine_feed_takes_a_tenth(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm", {"angle_deg": 5.74, "angle_from": "axis"}, slide="compound")
    stock = job.read("25.20", **READY)["stock_left"]

    # rho = travel sin beta; sin 5.74 degrees = 0.100015 (common practice: a tenth).
    assert stock["compound_dial"] == pytest.approx(stock["radial"] / 0.100015, rel=1e-5)


@pytest.mark.parametrize(
    ("unit", "lathe", "graduation"),
    [
        ("in", {}, 0.001),
        ("in", {"unit": "mm"}, 0.02 / 25.4),  # a metric dial, an inch drawing
        ("mm", {}, 0.02),
        ("mm", {"unit": "in", "graduation": "0.001"}, 0.0254),
    ],
)
def test_the_advised_step_is_whole_graduations_of_the_dial(
    shop: Workshop, unit: str, lathe: Json, graduation: float
) -> None:
    designation = "1.000 +0.000/-0.010" if unit == "in" else "25.4 +0.00/-0.25"
    value = "1.0500" if unit == "in" else "26.670"
    answer = shop.job(designation, unit, lathe).read(value, **READY)
    step = answer["next_cut"]["dial_step"]

    assert answer["next_cut"]["slide"] == "cross_slide"
    count = step / graduation
    assert count == pytest.approx(round(count), abs=1e-4)
    assert 0 < step <= answer["stock_left"]["cross_slide_dial"]


def test_a_metric_dial_is_typed_in_the_unit_of_the_reading(shop: Workshop) -> None:
    job = shop.job("1.000 +0.000/-0.010", "in", {"unit": "mm"})
    job.read("1.0500")
    answer = job.read("1.0421", "0.00787")  # ten lines of 0.02 mm, typed in inches

    assert answer["verdict"] == "stock_left"
    assert job.entries()[1]["removed"] == pytest.approx(0.0079, abs=1e-8)
    metric = job.read("26.269", "0.20", unit="mm")  # the same again, typed in millimetres
    assert metric["size"]["value"] == pytest.approx(26.269, abs=1e-8)


def test_a_bore_reading_of_a_negative_step_backs_off(shop: Workshop) -> None:
    job = shop.job("40 H7", "mm")
    job.read("39.50")

    answer = job.read("39.50", "-0.10")
    assert answer["verdict"] == "stock_left"
    assert job.entries()[1]["dial_step"] == "-0.10"


# Repeats and spring passes.


def test_readings_at_one_state_are_averaged(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    alone = job.read("25.200", **READY)
    both = job.read("25.204", **READY)

    assert alone["size"]["averaged"] == 1
    assert both["size"]["averaged"] == 2
    assert both["size"]["value"] == pytest.approx(25.202, abs=1e-8)


def test_averaging_equal_readings_lowers_the_doubt(shop: Workshop) -> None:
    coarse = {"resolution": "0.01", "max_error": "0.002"}
    job = shop.job("25 h6", "mm", instrument=coarse)
    alone = job.read("25.20", **READY)["size"]["doubt"]
    job.read("25.20", **READY)

    assert job.read("25.20", **READY)["size"]["doubt"] < alone


def test_a_cut_begins_a_new_state(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.200", **READY)
    after = job.read("25.100", "0.10", **READY)

    assert after["size"]["averaged"] == 1
    assert after["size"]["value"] == 25.1


def test_nought_on_the_dial_is_a_spring_pass_and_a_new_state(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.200", **READY)
    answer = job.read("25.195", "0", **READY)

    assert answer["size"]["averaged"] == 1
    assert answer["size"]["value"] == 25.195
    assert job.entries()[1]["dial_step"] == "0"
    assert job.entries()[1]["removed"] == pytest.approx(0.005, abs=1e-8)


def test_an_empty_dial_step_is_none(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.200")
    job.read("25.201", "")

    assert job.entries()[1]["dial_step"] is None


# Wires not seated yet.


def test_wires_on_the_corners_are_rough_and_still_advise(shop: Workshop) -> None:
    job = shop.thread(crest_diameter="0.6190")

    # Seated only when M <= D0 + w (1 + sin a) = 0.619 + 0.048 = 0.667 (plane geometry).
    rough = job.read("0.6750")
    assert rough["size"]["is_rough"] is True
    assert rough["verdict"] == "stock_left"
    assert rough["next_cut"]["action"] == "cut"
    assert rough["next_cut"]["dial_step"] > 0
    seated = job.read("0.6600", "0.012", confirm=True)
    assert seated["size"]["is_rough"] is False
    assert rough["size"]["doubt"] > seated["size"]["doubt"]


def test_a_rough_reading_makes_the_thread_no_nearer_than_it_is(shop: Workshop) -> None:
    # The thread formula at M = 0.675 would say E = 0.6271, above the 0.619 crest of a thread that
    # has no flank yet; on the corners the groove is shallower still.
    size = shop.thread(crest_diameter="0.6190").read("0.6750")["size"]

    assert size["value"] > 0.6750 - 0.0479
