"""Two tablets on one piece: neither overwrites the other, and each is told the truth."""

from __future__ import annotations

import re

from fastapi.testclient import TestClient

from tests.web.workshop import BASE_URL, LOOPBACK, Workshop, new_key


def tablets(shop: Workshop) -> tuple[TestClient, TestClient]:
    return shop.client, TestClient(shop.client.app, base_url=BASE_URL, client=LOOPBACK)


def test_the_second_of_two_tablets_is_told_and_neither_overwrites_the_other(
    shop: Workshop,
) -> None:
    job = shop.job("25 h6", "mm")
    first, second = tablets(shop)
    path = f"/pieces/{job.piece_id}/readings"
    job.read("25.400")
    pages = [tablet.get(f"/pieces/{job.piece_id}/lathe").text for tablet in (first, second)]
    seen = {re.search(r'name="last_seq" value="([0-9]+)"', page) for page in pages}
    seqs = {match[1] for match in seen if match}
    assert len(seqs) == 1
    fields = {"feature_id": str(job.feature_id), "unit": "mm", "last_seq": seqs.pop()}

    one = fields | {"value": "25.200", "dial_step": "0.2", "entry_key": new_key()}
    two = fields | {"value": "25.201", "cut": "advised", "advised_step": "0.3"}
    two |= {"entry_key": new_key(), "note": "from the second"}
    assert first.post(path, data=one, follow_redirects=False).status_code == 303
    late = second.post(path, data=two)
    assert late.status_code == 409
    assert "Something was logged on this piece" in late.text
    assert 'value="25.201"' in late.text
    assert [entry["value"] for entry in job.entries()] == ["25.400", "25.200"]

    new_seq = re.search(r'name="last_seq" value="([0-9]+)"', late.text)
    assert new_seq is not None
    again = second.post(
        path,
        data=two | {"last_seq": new_seq[1], "cut": "none", "entry_key": new_key()},
        follow_redirects=False,
    )
    assert again.status_code == 303
    assert [entry["value"] for entry in job.entries()] == ["25.400", "25.200", "25.201"]


def test_two_tablets_that_log_at_once_store_both_or_say_so(shop: Workshop) -> None:
    """Sixteen readings from two tablets at the same moment: each answer is true."""
    from concurrent.futures import ThreadPoolExecutor

    job = shop.job("25 h6", "mm")
    newest = job.read("25.400")["reading"]["id"]
    pair = tablets(shop)

    def log(number: int) -> int:
        body = job.body(f"25.4{number:02d}", last_seq=newest)
        answer = pair[number % 2].post(f"/api/pieces/{job.piece_id}/readings", json=body)
        return answer.status_code

    with ThreadPoolExecutor(4) as pool:
        answers = list(pool.map(log, range(16)))
    assert sorted(set(answers)) == [201, 409]
    assert answers.count(201) == 1
    assert len(job.entries()) == 2
