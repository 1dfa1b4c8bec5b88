"""Rework, what went wrong beside the cut that did it, and what scraps parts here."""

from __future__ import annotations

from html import unescape

from sqlmodel import func, select

from server.records.database import Database
from server.records.tables import ClosingRow, LearnedRow
from tests.web.workshop import Job, Json, Workshop, code_of, new_key

COLD = {"temperature": {"value": 20, "unit": "C"}, "confirm": True}


def past(shop: Workshop, step: str = "0.20", reason: str = "misread the dial") -> Job:
    """A shaft cut too far after one good reading, and scrapped."""
    job = shop.job("24.90/25.10", "mm")
    job.read("25.300", **COLD)
    job.read("24.850", step, **COLD)
    job.finish(**{"as": "scrap", "reason": reason, "initials": "RT"})
    return job


def rework(shop: Workshop, job: Job, expect: int = 200, **body: str) -> Json:
    asked = {"reason": "seat built up and turned again", "initials": "JK"} | body
    return shop.post(f"/api/pieces/{job.piece_id}/rework", asked, expect)


def history(shop: Workshop, job: Job) -> str:
    return unescape(shop.client.get(f"/pieces/{job.piece_id}/history").text)


def test_a_scrapped_piece_is_opened_again_and_finished(shop: Workshop) -> None:
    job = past(shop)
    assert rework(shop, job)["piece"]["state"] == "open"

    found = job.history()["piece"]
    assert found["state"] == "open"
    assert found["finished"] is None
    job.read("25.010", "-0.10", **COLD)
    job.finish(initials="JK")

    found = job.history()["piece"]
    assert found["state"] == "good"
    assert [each["as"] for each in found["closings"]] == ["scrap", "rework", "good"]
    assert found["closings"][0]["reason"] == "misread the dial"
    page = history(shop, job)
    for words in ("Scrap, 2 March 2026, RT: misread the dial", "Reworked, 2 March 2026, JK: seat"):
        assert words in page


def test_nothing_of_the_closing_is_lost(shop: Workshop, database: Database) -> None:
    job = past(shop)
    with database.reading() as session:
        before = [row.model_dump() for row in session.exec(select(ClosingRow))]
    rework(shop, job)
    with database.reading() as session:
        after = [row.model_dump() for row in session.exec(select(ClosingRow))]
    assert after[: len(before)] == before
    assert len(after) == len(before) + 1


def test_rework_needs_a_finished_piece_and_a_reason(shop: Workshop) -> None:
    job = past(shop)
    assert code_of(rework(shop, job, 422, reason=" ")) == "empty"
    rework(shop, job)
    assert code_of(rework(shop, job, 409)) == "not_finished"
    shop.post("/api/pieces/99/rework", {"reason": "x"}, 404)


def test_a_refused_rework_keeps_what_was_typed(shop: Workshop) -> None:
    job = past(shop)
    sent = {"form": "rework", "reason": "", "initials": "JK"}
    answer = shop.client.post(f"/pieces/{job.piece_id}/rework", data=sent)
    assert answer.status_code == 422
    page = unescape(answer.text)
    assert 'id="rework-reason-problem"' in page
    assert 'name="initials" type="text" value="JK"' in page
    assert "The reason" in page
    assert job.history()["piece"]["state"] == "scrap"


def test_the_history_says_at_which_station_a_reading_was_taken(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    job.read("25.300", station="chuck end", **COLD)
    assert "at chuck end" in history(shop, job)


def test_a_reworked_piece_is_not_among_the_finished_and_can_be_logged_on(shop: Workshop) -> None:
    job = past(shop)
    assert "1 finished piece" in shop.client.get("/?q=shaft").text
    answer = shop.client.post(
        f"/pieces/{job.piece_id}/rework",
        data={"form": "rework", "reason": "weld", "initials": "JK"},
        follow_redirects=False,
    )
    assert answer.status_code == 303
    assert shop.client.get(answer.headers["location"]).status_code == 200
    assert "Nothing finished found" in unescape(shop.client.get("/?q=shaft").text)
    job.read("24.860", **COLD)
    refused = shop.client.post(f"/pieces/{job.piece_id}/rework", data={"reason": "again"})
    assert refused.status_code == 409


def test_a_reworked_piece_teaches_once(shop: Workshop, database: Database) -> None:
    job = shop.job("24.90/25.10", "mm")
    job.read("25.300", **COLD)
    job.read("25.010", "0.30", **COLD)
    job.finish(initials="RT")
    rework(shop, job, reason="polish it")
    job.read("25.005", "0", **COLD)
    job.finish(initials="RT")
    with database.reading() as session:
        assert session.exec(select(func.count()).select_from(LearnedRow)).one() == 1


def wrongs(job: Job) -> list[str | None]:
    return [entry.get("went_wrong") for entry in job.entries()]


def test_the_cut_that_did_it_is_named_with_what_was_advised(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    advised = job.read("25.300", **COLD)["next_cut"]["dial_step"]
    job.read("24.850", f"{advised + 0.2:.2f}", **COLD)

    first, second = wrongs(job)

    assert first is None
    assert second == (
        f"This cut went past the limit by 0.050 mm. {advised:.3f} mm was advised, "
        f"{advised + 0.2:.3f} mm was dialled."
    )
    assert second in history(shop, job)
    lathe = unescape(shop.client.get(f"/pieces/{job.piece_id}/lathe").text)
    assert second in lathe, "and at the lathe, beside the reading that showed it"


def test_a_cut_as_advised_says_where_it_was_expected(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    cut = job.read("25.300", **COLD)["next_cut"]
    job.read("24.850", f"{cut['dial_step']:.2f}", **COLD)
    said = wrongs(job)[1]
    assert said is not None
    assert said.endswith(
        f"It was dialled as advised and expected to land at {cut['landing']['expected']:.3f} mm."
    )


def test_an_advised_spring_pass_is_named(shop: Workshop) -> None:
    job = shop.job("24.98/25.02", "mm")
    job.read("25.400", **COLD)
    advised = job.read("25.050", "0.36", **COLD)["next_cut"]
    assert advised["action"] == "spring_pass"
    job.read("24.850", "0.20", **COLD)
    said = wrongs(job)[2]
    assert said is not None
    assert said.endswith("A spring pass was advised, 0.200 mm was dialled.")


def test_a_bore_and_passes_without_a_reading(shop: Workshop) -> None:
    job = shop.job("40.00/40.20", "mm", kind="bore")
    advised = job.read("39.800", **COLD)["next_cut"]["dial_step"]
    job.cut("0.20")
    job.read("40.250", "0.20", **COLD)
    said = wrongs(job)[2]
    assert said == (
        f"This cut went past the limit by 0.050 mm. {advised:.3f} mm was advised, "
        "0.400 mm was dialled."
    )


def test_a_misread_that_was_struck_blames_no_cut(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    job.read("25.300", **COLD)
    wrong = job.read("24.850", "0.20", **COLD)["reading"]["id"]
    job.strike(wrong, "chip under the anvil")
    job.read("25.050", **COLD)
    assert wrongs(job) == [None, None, None]


def test_a_first_reading_past_the_limit_blames_no_cut(shop: Workshop) -> None:
    job = shop.job("24.90/25.10", "mm")
    job.read("24.850", **COLD)
    assert wrongs(job) == [None]


def test_the_shop_counts_what_scraps_parts(shop: Workshop) -> None:
    assert "No piece was scrapped yet" in shop.client.get("/shop").text
    past(shop, reason="Misread the dial")
    past(shop, reason="misread the  dial.")
    past(shop, reason="tool chipped")
    text = unescape(shop.client.get("/shop").text)
    first, second = text.index("dial.</b>"), text.index("tool chipped")
    assert first < second, "most frequent first"
    assert "2 pieces, last on 2 March 2026, Feature past the limit" in text
    assert "1 piece, last on 2 March 2026" in text


def test_a_reworked_piece_no_longer_counts_as_scrap(shop: Workshop) -> None:
    job = past(shop)
    rework(shop, job)
    assert "No piece was scrapped yet" in shop.client.get("/shop").text
    body = job.body("24.850", **COLD) | {"entry_key": new_key()}
    shop.post(f"/api/pieces/{job.piece_id}/readings", body, 201)
    job.finish(**{"as": "scrap", "reason": "weld too soft"})
    text = shop.client.get("/shop").text
    assert "weld too soft" in text
    assert "misread the dial" not in text
