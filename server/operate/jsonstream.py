"""JSON read piece by piece, so that a shop of millions of rows needs no memory to speak of."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import IO, Any

CHUNK = 1 << 16
LARGEST_VALUE = 1 << 24  # characters; a row is far below
SPACE = " \t\r\n"
AFTER_VALUE = ",]}:" + SPACE


class BadJson(ValueError):
    """The text is not JSON, or not of the shape asked for."""


class JsonReader:
    """A cursor over one JSON text: keys of an object, items of an array, whole values."""

    def __init__(self, source: IO[str]) -> None:
        self._source = source
        self._decoder = json.JSONDecoder()
        self._text = ""
        self._at = 0
        self._is_done = False

    def _more(self) -> bool:
        chunk = self._source.read(CHUNK)
        self._text = self._text[self._at :] + chunk
        self._at = 0
        self._is_done = not chunk
        return bool(chunk)

    def _peek(self) -> str:
        """The next character that is not space, "" at the end."""
        while True:
            while self._at < len(self._text):
                if self._text[self._at] not in SPACE:
                    return self._text[self._at]
                self._at += 1
            if not self._more():
                return ""

    def _take(self, wanted: str) -> None:
        found = self._peek()
        if found != wanted:
            raise BadJson(f"{wanted} was expected, {found or 'the end'} found")
        self._at += 1

    def value(self) -> Any:
        """The whole value at the cursor."""
        if not self._peek():
            raise BadJson("it ends too early")
        fault = ""
        while True:
            try:
                found, end = self._decoder.raw_decode(self._text, self._at)
            except (ValueError, RecursionError) as error:
                found, end, fault = None, None, str(error)
            # a number cut in two by the pieces looks whole until what follows it is seen
            follows = self._text[end : end + 1] if end is not None else ""
            is_whole = end is not None and (follows in AFTER_VALUE if follows else self._is_done)
            if is_whole and end is not None:
                self._at = end
                return found
            is_too_long = len(self._text) - self._at > LARGEST_VALUE
            if is_too_long or not self._more():
                if end is None:
                    raise BadJson(fault)
                if follows:
                    raise BadJson(f"{follows} was not expected after a value")

    def _members(self, opening: str, closing: str) -> Iterator[None]:
        self._take(opening)
        if self._peek() == closing:
            self._at += 1
            return
        while True:
            yield
            if self._peek() == ",":
                self._at += 1
                continue
            self._take(closing)
            return

    def items(self) -> Iterator[Any]:
        """The values of the array at the cursor."""
        for _ in self._members("[", "]"):
            yield self.value()

    def keys(self) -> Iterator[str]:
        """The keys of the object at the cursor; the caller reads the value after each."""
        for _ in self._members("{", "}"):
            key = self.value()
            if not isinstance(key, str):
                raise BadJson("a key must be text")
            self._take(":")
            yield key
