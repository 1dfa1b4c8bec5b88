"""How an instrument repeated on finished pieces, in the doubt of the readings that come after."""

from __future__ import annotations

import pytest

from tests.web.workshop import Job, Json, Workshop

COLD: Json = {"temperature": {"value": 20, "unit": "C"}}
LIMITS = "25.00 ±0.05"
CALM, ROUGH = (0, 0, 1), (-4, 0, 4)  # micrometres about the size


def repeated(job: Job, size_mm: float, steps: tuple[int, ...], first: str | None = None) -> Json:
    """Readings at one state; the answer to the last."""
    for number, step in enumerate(steps):
        dial = first if number == 0 else None
        answer = job.read(f"{size_mm + step / 1000:.3f}", dial, **COLD)
    return answer


def finished(shop: Workshop, steps: tuple[int, ...]) -> Job:
    """A piece whose two states were measured alike, done."""
    job = shop.job(LIMITS, "mm")
    repeated(job, 25.2, steps)
    repeated(job, 25.0, steps, "0.200")
    job.finish()
    return job


def another(job: Job) -> Job:
    return Job(job.shop, job.part_id, job.feature_id, job.shop.piece(job.part_id), job.unit)


def doubt(answer: Json) -> float:
    found: float = answer["size"]["doubt"]
    return found


def test_what_scattered_before_is_in_the_doubt_of_the_next_piece(shop: Workshop) -> None:
    first = finished(shop, ROUGH)
    alone = doubt(shop.job(LIMITS, "mm").read("25.200", **COLD))  # another micrometer
    next_one = doubt(another(first).read("25.200", **COLD))

    # s = 4 um pooled with 4 degrees of freedom: Student's t for 95.45 % is 2.87 (GUM table G.2)
    assert next_one > 2.87 * 0.004
    assert next_one > 3 * alone


def test_an_instrument_that_repeats_well_lets_two_readings_speak(shop: Workshop) -> None:
    unknown = shop.job(LIMITS, "mm")
    single = doubt(unknown.read("25.200", **COLD))
    assert doubt(unknown.read("25.200", **COLD)) > single

    known = another(finished(shop, CALM))
    single = doubt(known.read("25.200", **COLD))
    assert doubt(known.read("25.200", **COLD)) < single


def test_what_was_finished_before_keeps_its_doubt(shop: Workshop) -> None:
    first = finished(shop, CALM)
    open_piece = another(first)
    open_piece.read("25.200", **COLD)
    before = [first.history(), open_piece.history()]

    second = another(first)
    repeated(second, 25.2, ROUGH)
    repeated(second, 25.0, ROUGH, "0.200")
    second.finish()

    assert [first.history(), open_piece.history()] == before
    later = doubt(another(first).read("25.200", **COLD))
    assert later > open_piece.entries()[0]["doubt"]


def test_a_piece_taken_up_again_tells_its_repeats_once(shop: Workshop) -> None:
    first = finished(shop, ROUGH)
    once = doubt(another(first).read("25.200", **COLD))
    shop.post(f"/api/pieces/{first.piece_id}/rework", {"reason": "look again"}, 200)
    first.finish()

    assert doubt(another(first).read("25.200", **COLD)) == once


def test_repeats_over_wires_say_nothing_of_a_plain_diameter(shop: Workshop) -> None:
    finished(shop, ROUGH)
    lathe_id = shop.lathe("mm", graduation="0.02", compound_graduation="0.02")
    doubts = []
    for instrument_id in (1, shop.instrument("mm", "0.001", "0.002")):
        part_id = shop.part("mm")
        thread = shop.feature(
            part_id, "M10x1.5-6g", lathe_id, instrument_id, method="over_wires", wire="0.866"
        )
        job = Job(shop, part_id, thread["id"], shop.piece(part_id), "mm")
        doubts.append(doubt(job.read("10.300", **COLD)))

    assert doubts[0] == doubts[1]


@pytest.mark.parametrize(("steps", "words"), [(ROUGH, "4 of them in earlier jobs"), (CALM, "1 µm")])
def test_the_budget_says_what_the_scatter_rests_on(
    shop: Workshop, steps: tuple[int, ...], words: str
) -> None:
    job = another(finished(shop, steps))
    job.read("25.200", **COLD)
    path = f"/api/pieces/{job.piece_id}/features/{job.feature_id}/working"
    notes = [line["note"] for line in shop.get(path)["budget"]]

    assert any(words in note for note in notes), notes


def test_the_crib_shows_how_an_instrument_repeats(shop: Workshop) -> None:
    shop.instrument("mm", "0.001", "0.002")
    assert "one reading scatters by" not in shop.client.get("/crib").text
    finished(shop, ROUGH)
    assert "one reading scatters by 0.0040 mm direct, by 4 repeats" in shop.client.get("/crib").text


def test_no_field_of_the_crib_is_thrown_away(shop: Workshop) -> None:
    """A date that nothing keeps would be a promise: wires have none."""
    form = shop.client.get("/crib").text.split('action="/crib/wires"')[1].split("</form>")[0]
    assert 'name="measured"' in form
    assert 'name="due"' not in form
