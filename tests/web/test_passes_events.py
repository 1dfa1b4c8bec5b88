"""Passes without a reading, a second slide in one interval, and events."""

from __future__ import annotations

import pytest

from tests.web.workshop import Json, Workshop, code_of, new_key

READY = {"temperature": {"value": 20, "unit": "C"}}


def test_a_pass_is_kept_as_typed(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    stored = job.cut("0,10", note="first of two")["pass"]

    assert stored["dial_step"] == "0,10"
    assert stored["slide"] == "cross_slide"
    entry = job.entries()[0]
    assert (entry["type"], entry["dial_step"], entry["note"]) == ("pass", "0,10", "first of two")
    assert entry["unit"] == "mm"
    assert entry["value"] is None
    assert entry["struck"] is None


def test_a_pass_is_read_in_the_unit_it_says(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.800", **READY)
    job.cut("0.010", unit="in")
    answer = job.read("25.446", "0.10", **READY)

    # 0.254 mm and 0.10 mm dialled on diameter: 25.446 is where both together land.
    assert answer["size"]["value"] == 25.446
    assert answer["next_cut"]["action"] != "measure_again"


def test_the_same_key_again_is_one_pass(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    path = f"/api/pieces/{job.piece_id}/passes"
    body = {"feature_id": job.feature_id, "dial_step": "0.10", "entry_key": new_key()}
    first = shop.post(path, body, 201)

    assert shop.post(path, body, 200) == first
    assert code_of(shop.post(path, body | {"dial_step": "0.11"}, 409)) == "key_reused"
    assert len(job.entries()) == 1


@pytest.mark.parametrize(
    ("change", "status", "code", "field"),
    [
        ({"dial_step": ""}, 422, "not_a_number", "dial_step"),
        ({"dial_step": "some"}, 422, "not_a_number", "dial_step"),
        ({"dial_step": "1e400"}, 422, "not_a_number", "dial_step"),
        ({"dial_step": "9" * 5000}, 422, "not_a_number", "dial_step"),
        ({"dial_step": "101"}, 422, "out_of_range", "dial_step"),
        ({"dial_step": None}, 422, "invalid", "dial_step"),
        ({"feature_id": 99}, 404, "not_found", ""),
        ({"slide": "tailstock"}, 422, "invalid", "slide"),
        ({"unit": "cm"}, 422, "invalid", "unit"),
        ({"entry_key": ""}, 422, "empty", "entry_key"),
        ({"note": "n" * 2000}, 422, "too_long", "note"),
    ],
)
def test_a_pass_that_cannot_be_is_refused(
    shop: Workshop, change: Json, status: int, code: str, field: str
) -> None:
    job = shop.job("25 h6", "mm")
    body = {"feature_id": job.feature_id, "dial_step": "0.10", "entry_key": new_key()} | change
    answer = shop.post(f"/api/pieces/{job.piece_id}/passes", body, status)

    assert code_of(answer) == code
    assert answer["error"]["field"] == field
    assert job.entries() == []


def test_passes_before_a_reading_count_with_its_own_step(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.800", **READY)
    job.cut("0.20")
    job.cut("0.20")

    # 0.6 dialled in all; without the passes 0.6 would be far more than 0.2 can take.
    answer = job.read("25.200", "0.20", **READY)
    assert answer["verdict"] == "stock_left"
    removed = job.entries()[-1]["removed"]
    assert removed == pytest.approx(0.6, abs=1e-8)


def test_a_pass_alone_lets_the_next_reading_move(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.800", **READY)
    job.cut("0.50")

    job.read("25.300", **READY)  # no dial step of its own: the pass explains it


def test_a_second_slide_in_one_interval_counts(shop: Workshop) -> None:
    fine = {"angle_deg": 5.74, "angle_from": "axis", "compound_graduation": "0.02"}
    job = shop.job("25 h6", "mm", fine)
    job.read("25.800", **READY)
    # 0.1 radial is 1.0 along a compound 5.74 degrees from the axis: 0.2 on diameter.
    job.cut("1.00", slide="compound")

    answer = job.read("25.400", "0.20", slide="cross_slide", **READY)
    assert answer["next_cut"]["action"] != "measure_again"
    assert job.entries()[1]["slide"] == "compound"


def test_the_carriage_moved_under_a_thread_feeds_no_diameter(shop: Workshop) -> None:
    job = shop.thread()
    job.read("0.6480")
    job.cut("0.010", slide="carriage")
    answer = job.read("0.6480")  # nothing came off, and nothing should have

    assert answer["verdict"] == "stock_left"


def test_a_pass_leaves_the_feature_without_a_verdict_until_it_is_measured(shop: Workshop) -> None:
    job = shop.job("25 ±0.1", "mm")
    assert job.read("25.000", **READY)["verdict"] == "in_limits"
    job.cut("0")

    assert job.history()["features"][0]["verdict"] is None
    assert code_of(job.finish(expect=409)) == "not_measured"
    job.read("25.000", **READY)
    job.finish()


@pytest.mark.parametrize(
    ("designation", "readings", "step"),
    [
        ("25 ±0.1", ["25.000"], "0.05"),  # in limits with room to spare
        ("25 ±0.1", ["25.101"], "0.10"),  # too close to call
        ("25 h6", ["25.02"] * 4, "0.02"),  # read so often that a fifth would tell no more
        ("25 h6", ["25.500"], "0.10"),  # far from the limits
    ],
)
def test_a_cut_that_was_not_read_always_asks_to_measure(
    shop: Workshop, designation: str, readings: list[str], step: str
) -> None:
    job = shop.job(designation, "mm")
    for number, value in enumerate(readings):
        job.read(value, "0" if number else None, **READY)
    job.cut(step)
    page = shop.client.get(f"/pieces/{job.piece_id}/lathe").text

    assert '<span class="figure">Measure</span>' in page
    assert "The last pass has not been read and should have" in page


def test_a_cut_whose_reading_was_undone_asks_to_measure(shop: Workshop) -> None:
    job = shop.thread()
    for step in (None, "0", "0", "0"):
        job.read("0.6480", step, **READY)
    undone = job.read("0.6470", "0.001", **READY)["reading"]["id"]
    job.strike(undone)
    page = shop.client.get(f"/pieces/{job.piece_id}/lathe").text

    assert '<span class="figure">Measure</span>' in page
    assert "The last pass has not been read and should have" in page


@pytest.mark.parametrize("event", ["tool_changed", "rezeroed", "rechucked"])
def test_an_event_is_kept_for_the_piece(shop: Workshop, event: str) -> None:
    job = shop.job("25 h6", "mm")
    job.event(event)

    entry = job.entries()[0]
    assert (entry["type"], entry["event"]) == ("event", event)
    for name in ("value", "unit", "dial_step", "struck"):
        assert entry[name] is None


def test_an_event_may_belong_to_one_feature(shop: Workshop) -> None:
    lathe, instrument, part = shop.lathe(), shop.instrument(), shop.part()
    first = shop.feature(part, "1.000 ±0.001", lathe, instrument)["id"]
    second = shop.feature(part, "0.750 ±0.001", lathe, instrument)["id"]
    piece = shop.piece(part)
    event = {"event": "tool_changed", "entry_key": new_key(), "feature_id": first}
    shop.post(f"/api/pieces/{piece}/events", event, 201)
    shop.post(f"/api/pieces/{piece}/events", {"event": "rechucked", "entry_key": new_key()}, 201)

    features = shop.get(f"/api/pieces/{piece}/history")["features"]
    told = {feature["id"]: [entry["event"] for entry in feature["entries"]] for feature in features}
    assert told == {first: ["tool_changed", "rechucked"], second: ["rechucked"]}


@pytest.mark.parametrize(
    ("change", "status", "field"),
    [
        ({"event": "coffee"}, 422, "event"),
        ({"entry_key": ""}, 422, "entry_key"),
        ({"feature_id": 99}, 404, ""),
        ({"feature_id": "first"}, 422, "feature_id"),
    ],
)
def test_an_event_that_cannot_be_is_refused(
    shop: Workshop, change: Json, status: int, field: str
) -> None:
    job = shop.job("25 h6", "mm")
    body = {"event": "rezeroed", "entry_key": new_key()} | change
    answer = shop.post(f"/api/pieces/{job.piece_id}/events", body, status)

    code_of(answer)
    assert answer["error"]["field"] == field
    assert job.entries() == []


def test_the_same_key_again_is_one_event(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    path = f"/api/pieces/{job.piece_id}/events"
    body = {"event": "rezeroed", "entry_key": new_key()}
    first = shop.post(path, body, 201)

    assert shop.post(path, body, 200) == first
    assert code_of(shop.post(path, body | {"event": "rechucked"}, 409)) == "key_reused"
    assert len(job.entries()) == 1


def test_after_a_new_zero_the_dial_says_little_of_the_move(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("26.000", **READY)
    assert code_of(job.refused("25.400", "0.10")) == "needs_confirmation"
    job.event("rezeroed")

    job.read("25.400", "0.10", **READY)


def test_unknown_pieces_are_not_found(shop: Workshop) -> None:
    cut = {"feature_id": 1, "dial_step": "0.1", "entry_key": new_key()}
    event = {"event": "rezeroed", "entry_key": new_key()}

    assert code_of(shop.post("/api/pieces/99/passes", cut, 404)) == "not_found"
    assert code_of(shop.post("/api/pieces/99/events", event, 404)) == "not_found"


@pytest.mark.parametrize("event", ["rechucked", "rezeroed", "tool_changed"])
def test_an_event_after_a_close_call_leaves_the_screens_alive(shop: Workshop, event: str) -> None:
    job = shop.job("25 h6", "mm")
    assert job.read("25.000", **READY)["verdict"] == "too_close"
    job.event(event)

    for path in ("/", f"/pieces/{job.piece_id}/lathe", f"/pieces/{job.piece_id}/finish"):
        assert shop.client.get(path).status_code == 200
    assert job.read("24.994", "0.04", confirm=True, **READY)["next_cut"] is None


def test_an_event_that_is_undone_is_as_if_it_had_not_been(shop: Workshop) -> None:
    def answer(is_undone: bool) -> Json:
        job = shop.job("25 h6", "mm")
        job.read("26.000", **READY)
        job.read("25.500", "0.52", **READY)
        if is_undone:
            entry = job.event("rechucked")["event"]["id"]
            sent = {"feature_id": str(job.feature_id), "entry_id": str(entry)}
            undone = shop.client.post(f"/pieces/{job.piece_id}/undo", data=sent)
            assert undone.status_code == 200
        return job.read("25.300", "0.20", **READY)["next_cut"]

    assert answer(True) == answer(False)
