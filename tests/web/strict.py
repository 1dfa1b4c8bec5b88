"""What a page may not hold: inline script, styles, and planted text that became markup."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import Any


class Loose(HTMLParser):
    """Collects what a strict policy would block, and what a planted text might have become."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.faults: list[str] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if (tag == "script" and "src" not in given) or tag in ("style", "iframe", "object", "img"):
            self.faults.append(f"<{tag}>")
        for name, value in attrs:
            self.words.append(value or "")
            if name.startswith("on") or name == "style" or (value or "").startswith("javascript:"):
                self.faults.append(f"{tag} {name}={value}")

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def handle_comment(self, data: str) -> None:
        self.words.append(data)


def check_strict(answer: Any) -> None:
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "same-origin"
    assert "access-control-allow-origin" not in answer.headers
    if answer.headers.get("content-type", "").startswith("text/html"):
        assert Loose(answer.text).faults == []
