"""What can't be: a slide that feeds nothing, wires on a plain size, two instruments of one name."""

from __future__ import annotations

from html import unescape

import pytest

from server.pages.view_render import environment, fragment
from tests.browser.pictures import ROOT
from tests.web.lathe_samples import lathe_finer
from tests.web.workshop import Workshop, code_of, new_key

COLD = {"temperature": {"value": 20, "unit": "C"}}
NAME = {"name": "0-1 micrometer", "kind": "micrometer", "unit": "in", "resolution": "0.0001"}


@pytest.mark.parametrize(
    ("kind", "designation", "slide", "wrong"),
    [
        ("outside_diameter", "25 h6", "cross_slide", "carriage"),
        ("length", "24.98/25.00", "carriage", "cross_slide"),
    ],
)
def test_a_slide_that_can_not_feed_the_size_is_refused(
    shop: Workshop, kind: str, designation: str, slide: str, wrong: str
) -> None:
    job = shop.job(designation, "mm", kind=kind, slide=slide)
    job.read("25.800", **COLD)

    error = job.refused("25.600", "0.20", slide=wrong, **COLD)
    assert code_of(error) == "slide_cannot_feed"
    assert error["error"]["field"] == "slide"
    assert code_of(job.cut("0.20", slide=wrong, expect=422)) == "slide_cannot_feed"
    job.read("25.800", "0", slide=wrong, **COLD)  # nothing was dialled
    job.read("25.600", "0.20", slide=slide, **COLD)


def test_under_a_thread_the_carriage_is_a_pass_and_no_cut_of_a_reading(shop: Workshop) -> None:
    """Moved along the thread it is a pass of its own (design section 11), never a depth."""
    job = shop.thread()
    job.read("0.6480")
    assert code_of(job.refused("0.6400", "0.010", slide="carriage")) == "slide_cannot_feed"
    job.cut("0.010", slide="carriage")


def test_the_page_says_which_slide_would_do_and_keeps_what_was_typed(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.800", **COLD)
    form = {"feature_id": str(job.feature_id), "value": "25.611", "unit": "mm", "dial_step": "0.19"}
    answer = shop.client.post(
        f"/pieces/{job.piece_id}/readings",
        data=form | {"entry_key": new_key(), "slide": "carriage", "dial_step_unit": "mm"},
    )

    assert answer.status_code == 422
    assert "use the cross-slide or the compound" in answer.text
    assert 'value="25.611"' in answer.text
    assert 'value="0.19"' in answer.text


def test_wires_on_a_size_without_them_are_refused(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    error = job.refused("25.800", wire="0.8", **COLD)

    assert code_of(error) == "wire_unusable"
    assert error["error"]["field"] == "wire"


def test_a_second_instrument_of_a_name_is_refused_where_one_is_typed_in(shop: Workshop) -> None:
    assert shop.client.post("/crib/instruments", data=NAME).status_code == 200
    again = NAME | {"name": "0-1 MICROMETER ", "resolution": "0.00005"}
    answer = shop.client.post("/crib/instruments", data=again)

    assert answer.status_code == 422
    text = unescape(answer.text)
    assert "“0-1 MICROMETER” is in the crib already. Add what marks this one" in text
    assert 'value="0.00005"' in answer.text
    assert len(shop.get("/api/instruments")) == 1
    marked = NAME | {"name": "0-1 micrometer, no. 2"}
    assert shop.client.post("/crib/instruments", data=marked).status_code == 200
    assert len(shop.get("/api/instruments")) == 2


def test_instruments_of_one_name_are_told_apart_wherever_one_is_chosen_or_named(
    shop: Workshop,
) -> None:
    job = shop.job("24.90/25.10", "mm")
    assert "Micrometer (" not in shop.client.get(f"/pieces/{job.piece_id}/lathe").text
    second = shop.instrument("mm", "0.01", "0.004")
    first = job.read("25.000", **COLD)["reading"]["id"]
    assert first
    for path in (
        f"/pieces/{job.piece_id}/lathe",
        f"/pieces/{job.piece_id}/history",
        f"/pieces/{job.piece_id}/record",
        f"/parts/{job.part_id}",
        "/crib",
    ):
        assert "Micrometer (0.001 mm, number 1)" in shop.client.get(path).text, path
    choices = shop.client.get(f"/pieces/{job.piece_id}/lathe").text
    assert f"Micrometer (0.01 mm, number {second})" in choices


def test_the_reason_for_a_finer_feed_comes_before_any_remark() -> None:
    view = lathe_finer()
    text = fragment(environment(ROOT / "templates", ROOT / "static"), view)
    remark = view.next_cut.hints[0]

    assert text.count(remark) == 1
    assert text.index(view.next_cut.why) < text.index(remark)
    assert text.index("Finer feed") < text.index(view.next_cut.why)
