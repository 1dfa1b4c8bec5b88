"""Designations that the card must take: every one of the design, and one of each further family.

pitch_diameter is a published limit pair, or None; heading is our own spelling.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.metrology.model import Kind


@dataclass(frozen=True)
class Sample:
    """What was written and what it must be read as."""

    designation: str
    heading: str
    kind: Kind
    family: str


EXT, INT = Kind.EXTERNAL_THREAD, Kind.INTERNAL_THREAD
OD, BORE = Kind.OUTSIDE_DIAMETER, Kind.BORE

DESIGNATIONS = (
    Sample("5/8-18 UNF-2A", "5/8-18 UNF-2A", EXT, "unified"),
    Sample(".625-18 UNF-2A", "5/8-18 UNF-2A", EXT, "unified"),
    Sample("#10-32 UNF-2B", "#10-32 UNF-2B", INT, "unified"),
    Sample("1-8 UNC-2A-LH", "1-8 UNC-2A-LH", EXT, "unified"),
    Sample("1/2-20 UNJF-3A", "1/2-20 UNJF-3A", EXT, "unified"),
    Sample("M10", "M10x1.5-6g", EXT, "metric"),
    Sample("M10x1.5-6g", "M10x1.5-6g", EXT, "metric"),
    Sample("M20x1.5-5g6g", "M20x1.5-5g6g", EXT, "metric"),
    Sample("M10-6H", "M10x1.5-6H", INT, "metric"),
    Sample("Tr40x7-7e", "Tr40x7-7e", EXT, "trapezoidal"),
    Sample("Tr40x14(P7)-7e LH", "Tr40x14(P7)-7e LH", EXT, "trapezoidal"),
    Sample("Tr40x7-7H", "Tr40x7-7H", INT, "trapezoidal"),
    Sample("3/4-6 ACME-2G", "3/4-6 ACME-2G", EXT, "acme"),
    Sample("3/4-6 STUB ACME-2G", "3/4-6 STUB ACME-2G", EXT, "stub_acme"),
    Sample("1/2 BSW medium", "1/2 BSW medium", EXT, "whitworth"),
    Sample("1/4 BSF", "1/4 BSF medium", EXT, "whitworth"),
    Sample("1/2 BSW medium nut", "1/2 BSW medium nut", INT, "whitworth"),
    Sample("G1/2 A", "G1/2 A", EXT, "pipe_g"),
    Sample("G1/2", "G1/2", INT, "pipe_g"),
    Sample("25 h6", "25 h6", OD, "iso286"),
    Sample("Ø40 H7", "40 H7", BORE, "iso286"),
    Sample("40 H7/g6", "40 H7", BORE, "iso286"),
    Sample("12.70 +0.00/-0.02", "12.70 +0.00/-0.02", OD, "stated"),
    Sample("24.98/25.00", "24.98/25.00", OD, "stated"),
    Sample("1.000 RC4 shaft", "1.000 in RC4 shaft", OD, "ansi_b4_1"),
    Sample("2 BA", "2 BA normal", EXT, "ba"),
)
