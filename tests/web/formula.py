"""A tiny evaluator of the formulas that the working shows, written apart from the program.

Grammar: + − × / with the usual precedence, unary −, √ before a bracket or a number, a raised 2 or
4 after a bracket, number or name, ° after a number, sin cos tan max Φ Student π, names by value.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from statistics import NormalDist

from scipy import stats

TOKEN = re.compile(r"\s*(\d+\.?\d*|[A-Za-zα-ωΑ-Ω][A-Za-zα-ω0-9]*|[-+−×/(),√²⁴°])")
FUNCTIONS: dict[str, Callable[..., float]] = {
    "sin": math.sin,
    "cos": math.cos,
    "tan": math.tan,
    "max": max,
    "Φ": NormalDist().cdf,
    "Student": lambda t, dof: float(stats.t.cdf(t, dof)),
}


class Reader:
    def __init__(self, text: str, names: Mapping[str, float]) -> None:
        self.names = names
        self.tokens: list[str] = []
        place = 0
        while place < len(text):
            match = TOKEN.match(text, place)
            assert match is not None, f"{text[place:]!r} in {text!r}"
            self.tokens.append(match[1])
            place = match.end()
        self.place = 0

    def peek(self) -> str:
        return self.tokens[self.place] if self.place < len(self.tokens) else ""

    def take(self, wanted: str = "") -> str:
        token = self.peek()
        assert token, "the formula ends too soon"
        assert not wanted or token == wanted, f"{token} where {wanted} belongs"
        self.place += 1
        return token

    def sum(self) -> float:
        total = self.product()
        while self.peek() in ("+", "−"):
            total += self.product() if self.take() == "+" else -self.product()
        return total

    def product(self) -> float:
        total = self.signed()
        while self.peek() in ("×", "/"):
            if self.take() == "×":
                total *= self.signed()
            else:
                total /= self.signed()
        return total

    def signed(self) -> float:
        if self.peek() == "−":
            self.take()
            return -self.signed()
        return self.raised()

    def raised(self) -> float:
        if self.peek() == "√":
            self.take()
            return math.sqrt(self.atom())
        value = self.atom()
        while self.peek() in ("²", "⁴", "°"):
            mark = self.take()
            value = math.radians(value) if mark == "°" else value ** (2 if mark == "²" else 4)
        return value

    def atom(self) -> float:
        token = self.take()
        if token == "(":
            value = self.sum()
            self.take(")")
            return value
        if token == "π":
            return math.pi
        if token in FUNCTIONS:
            self.take("(")
            arguments = [self.sum()]
            while self.peek() == ",":
                self.take()
                arguments.append(self.sum())
            self.take(")")
            return FUNCTIONS[token](*arguments)
        if token[0].isdigit():
            return float(token)
        return self.names[token]


def value_of(text: str, names: Mapping[str, float] | None = None) -> float:
    """The number that a formula comes to; AssertionError where it can't be read."""
    reader = Reader(text, names or {})
    value = reader.sum()
    assert not reader.peek(), f"{reader.peek()} is left over in {text!r}"
    return value
