"""A cut came after the last reading that stands: what is known is said, not that nothing was."""

from __future__ import annotations

from tests.web.workshop import Job, Workshop

COLD = {"temperature": {"value": 20, "unit": "C"}}


def pages(job: Job) -> list[str]:
    addresses = ("/", f"/pieces/{job.piece_id}/lathe", f"/pieces/{job.piece_id}/history")
    return [job.shop.client.get(address).text for address in addresses]


def test_striking_the_last_reading_leaves_the_one_before(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    assert any("No reading yet" in page for page in pages(job))
    job.read("25.300", **COLD)
    second = job.read("25.100", "0.2", **COLD)["reading"]["id"]
    assert not any("cut since not read" in page for page in pages(job))
    job.strike(second)
    for page in pages(job):
        assert "Last 25.300, cut since not read" in page
        assert "No reading yet" not in page
    job.read("25.102", **COLD)
    assert not any("cut since not read" in page for page in pages(job))


def test_a_logged_pass_without_a_reading_says_so_too(shop: Workshop) -> None:
    job = shop.job("25 h6", "mm")
    job.read("25.300", **COLD)
    job.cut("0.1")
    assert all("Last 25.300, cut since not read" in page for page in pages(job))
