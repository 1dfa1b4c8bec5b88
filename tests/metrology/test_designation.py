"""What people write on drawings: spellings, defaults, wrong parts and hostile text."""

from __future__ import annotations

import string

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from server.metrology.designation import EXAMPLES, LONGEST, normalised, read
from server.metrology.model import DesignationError, Kind, Target, ThreadTarget
from server.wording import told
from tests.web.other_words import WORD, WideWords

EXTERNAL, INTERNAL = Kind.EXTERNAL_THREAD, Kind.INTERNAL_THREAD


def thread(text: str, kind: Kind | None = None) -> ThreadTarget:
    target = read(text, kind)
    assert isinstance(target, ThreadTarget)
    return target


def refusal(text: str, kind: Kind | None = None) -> DesignationError:
    with pytest.raises(DesignationError) as caught:
        read(text, kind)
    return caught.value


SPELLINGS = [
    ("5/8-18 UNF-2A", "5/8-18 UNF-2A"),
    (".625-18 UNF-2A", "5/8-18 UNF-2A"),
    ("0.625-18UNF 2A", "5/8-18 UNF-2A"),
    ("0,625-18 UNF-2A", "5/8-18 UNF-2A"),
    ("5/8 - 18 unf - 2a", "5/8-18 UNF-2A"),
    ("  5/8–18  UNF–2A ", "5/8-18 UNF-2A"),  # noqa: RUF001
    ("5/8″-18 UNF-2A", "5/8-18 UNF-2A"),
    ("⅝-18 UNF-2A", "5/8-18 UNF-2A"),
    ("5/8 18 UNF 2A", "5/8-18 UNF-2A"),
    ("5/8x18 UNF-2A", "5/8-18 UNF-2A"),
    ("5/8-18 UNF class 2A", "5/8-18 UNF-2A"),
    ("5/8-18 UNF-2A RH", "5/8-18 UNF-2A"),
    ("5/8-18 UNF-2A (22)", "5/8-18 UNF-2A"),
    ("#10-32 UNF-2B", "#10-32 UNF-2B"),
    ("10-32 UNF-2A", "#10-32 UNF-2A"),
    ("No. 10-32 UNF-2A", "#10-32 UNF-2A"),
    ("#10 (.190)-32 UNF-2A", "#10-32 UNF-2A"),
    (".190-32 UNF-2A", "#10-32 UNF-2A"),
    ("1-64 UNC-2A", "#1-64 UNC-2A"),
    ("1-8 UNC-2A-LH", "1-8 UNC-2A-LH"),
    ("1-8 UNC-2A left hand", "1-8 UNC-2A-LH"),
    ("1 1/4-12 UNF-3A", "1 1/4-12 UNF-3A"),
    ("1-1/4-12 UNF-3A", "1 1/4-12 UNF-3A"),
    ("1¼-12 UNF-3A", "1 1/4-12 UNF-3A"),
    ("1.250-12 UNF-3A", "1 1/4-12 UNF-3A"),
    ("2-4.5 UNC-2A", "2-4.5 UNC-2A"),
    ("2-4 1/2 UNC-2A", "2-4.5 UNC-2A"),
    ("1 1/8-8 UN-2A", "1 1/8-8 UN-2A"),
    ("1 1/8-8UN-2A", "1 1/8-8 UN-2A"),
    ("5/8-18 UNRF-2A", "5/8-18 UNRF-2A"),
    ("5/8-18 UNR-2A", "5/8-18 UNRF-2A"),
    ("5/8-18 UNJF-3A", "5/8-18 UNJF-3A"),
    ("2 1/2-10 UNS-2A", "2 1/2-10 UNS-2A"),
    ("1.045-18 UNS-3A LE=1.25", "1.045-18 UNS-3A LE=1.25"),
    ("3/4-.0625P-.125L UN-2A", "3/4-0.0625P-0.125L UNF-2A"),
    ("3/4-16 UNF-2A (2 STARTS)", "3/4-0.0625P-0.125L UNF-2A"),
    ("M10x1.5-6g", "M10x1.5-6g"),
    ("m10X1,5 - 6g", "M10x1.5-6g"),
    ("M 10 × 1.5 – 6g", "M10x1.5-6g"),  # noqa: RUF001
    ("M10-1.5-6g", "M10x1.5-6g"),
    ("M10*1.5 6g", "M10x1.5-6g"),
    ("M20x1.5-5g6g", "M20x1.5-5g6g"),
    ("M10x1.5-4H5H", "M10x1.5-4H5H"),
    ("M10-6H", "M10x1.5-6H"),
    ("M10x1-6g-LH", "M10x1-6g-LH"),
    ("M20x2-7g6g-L-LH", "M20x2-7g6g-L-LH"),
    ("M16xPh3P1.5-6g", "M16xPh3P1.5-6g"),
    ("M16xPh3P1.5(two starts)-6H", "M16xPh3P1.5-6H"),
    ("M12-6az", "M12x1.75-6az"),
]


@pytest.mark.parametrize(("typed", "canonical"), SPELLINGS, ids=[t for t, _ in SPELLINGS])
def test_every_spelling_reads_as_one_designation(typed: str, canonical: str) -> None:
    target = thread(typed)
    assert target.designation == canonical
    again = thread(target.designation)
    assert again.designation == canonical
    assert again.pitch_diameter == target.pitch_diameter
    assert (again.hand, again.lead_mm) == (target.hand, target.lead_mm)


@pytest.mark.parametrize(
    ("typed", "kind", "designation", "note"),
    [
        # ASME B1.1 has no default class; 2A and 2B are common practice.
        ("5/8-18 UNF", None, "5/8-18 UNF-2A", "class not given: 2A taken"),
        ("5/8-18 UNF", INTERNAL, "5/8-18 UNF-2B", "class not given: 2B taken"),
        ("5/8-18 UNF-3", INTERNAL, "5/8-18 UNF-3B", "class 3 without a letter: 3B taken"),
        ("5/8-18", None, "5/8-18 UNF-2A", "series not given: UNF taken"),
        ("1-12", None, "1-12 UNF-2A", "series not given: UNF taken"),
        ("6-32", None, "#6-32 UNC-2A", "series not given: UNC taken"),
        ("5/8 UNF-2A", None, "5/8-18 UNF-2A", None),
        (".312-18 UNC-2A", None, "5/16-18 UNC-2A", ".312 read as 5/16"),
        ("5/8-13-2A", None, "5/8-13 UNS-2A", None),
        ("5/8-13 UN-2A", None, "5/8-13 UNS-2A", "not a UN series size: taken as UNS"),
        # ISO 965-1: 6g and 6H when the class is left out, 6h and 5H up to M1.4.
        ("M10", None, "M10x1.5-6g", "pitch not given: coarse pitch 1.5 taken"),
        ("M10", INTERNAL, "M10x1.5-6H", "class not given: 6H taken"),
        ("M1.2", None, "M1.2x0.25-6h", "class not given: 6h taken"),
        ("M1.2", INTERNAL, "M1.2x0.25-5H", "class not given: 5H taken"),
        ("M10 x 1 LH", None, "M10x1-6g-LH", "class not given: 6g taken"),
        ("M10-L", INTERNAL, "M10x1.5-7H-L", "class not given: 7H taken"),
        ("M10x1.5-6H/6g", INTERNAL, "M10x1.5-6H", None),
        ("M10x1.5-6H/6g", EXTERNAL, "M10x1.5-6g", None),
    ],
)
def test_what_is_left_out_is_taken_and_said(
    typed: str, kind: Kind | None, designation: str, note: str | None
) -> None:
    target = thread(typed, kind)
    assert target.designation == designation
    assert note is None or note in target.notes


@pytest.mark.parametrize(
    ("typed", "part", "near"),
    [
        ("5/8-18 UNF-4A", "4A", "3A"),
        ("5/8-18 UNF-2C", "2C", "2A"),
        ("5/8-18 UFN-2A", "UFN", "5/8-18 UNF-2A"),
        ("5/8-18 NF-2A", "NF", "5/8-18 UNF-2A"),
        ("5/8-18 UNC-2A", "5/8-18", "5/8-18 UNF"),
        ("1/4-4 UNC-2A", "1/4-4", "1/4-20 UNC"),
        ("1/4-4 UNS-2A", "1/4-4", "1/4-20 UNC"),
        ("30.000-100 UN-2A", "30-100", "6-16 UN"),
        ("#7-32 UNF-2A", "#7", "#8-32 UNC"),
        ("5/7-18 UNF-2A", "5/7", None),
        ("abc-18 UNF", "ABC-18", "5/8-18 UNF-2A"),
        ("5/8-18 UNF-2A extra", "EXTRA", None),
        ("5/8-18 UNF-2A-3A", "3A", None),
        ("5/8 (.500)-18 UNF-2A", ".500", None),
        ("1 UNF-2A", "1", "#1-72 UNF"),
        ("3/4-.0625P-.1L UN-2A", ".0625P-.1L", None),
        ("M10x1.5-5g", "5g", "M10x1.5-5g6g"),
        ("M10x1.5-6k", "6k", "M10x1.5-6g"),
        ("M10x1.5-9H", "9H", "M10x1.5-8H"),
        ("M10x1.5-4H6h", "4H6h", "M10x1.5-6H"),
        ("M10x1.5-6gz", "6gz", None),
        ("M10x1.5-4az", "4az", "M10x1.5-6az"),
        ("M13", "M13", "M14x2"),
        ("M10x12", "M10x12", "M10x1.5"),
        ("M0.5x0.1", "M0.5x0.1", "M1x0.2"),
        ("M2-6e", "6e", "M2x0.4-6g"),
        ("MJ10x1.5", "MJ", "M10x1.5"),
        ("M16xPh4P1.5-6g", "Ph4", "Ph3P1.5"),
        ("M10x1.5-6H/6g", "6H/6g", "M10x1.5-6g"),
        ("1/8-27 NPT", "NPT", None),
        ("5/8-18 XYZ-2A", "XYZ", "5/8-18 UNF-2A"),
        ("Rd20x1/8", "Rd", None),
        ("25-30 h6", "25-30 h6", "25 h6"),
        ("3/8", "3/8", "3/8-16 UNC"),
        ("#10", "#10", "#10-24 UNC"),
        ("hello", "hello", None),
        ("", "", None),
        ("   ", "", None),
    ],
)
def test_the_wrong_part_is_named_and_the_nearest_offered(
    typed: str, part: str, near: str | None
) -> None:
    error = refusal(typed)
    assert error.part == part
    assert part in error.message
    assert near is None or near in error.nearest


NOT_IN_STANDARD = ["5/8-18 XYZ", "5/8-18 UNF-4A", "5/8-18 UNC", "1/4-2 UNS", "#7-32 UNF", "M13"]
NOT_IN_STANDARD += ["M10x12", "M10-6k", "M10-5g", "Rd20x1/8"]


@pytest.mark.parametrize("typed", NOT_IN_STANDARD)
def test_what_no_standard_has_says_so(typed: str) -> None:
    error = refusal(typed)
    assert error.code == "not_in_standard"
    assert error.nearest
    for near in error.nearest:
        if "-" in near or "x" in near:
            assert thread(near).family in ("unified", "metric")


@pytest.mark.parametrize(
    ("typed", "kind", "part"),
    [
        ("5/8-18 UNF-2A", INTERNAL, "2A"),
        ("5/8-18 UNF-2B", EXTERNAL, "2B"),
        ("M10x1.5-6g", INTERNAL, "6g"),
        ("M10x1.5-6H", EXTERNAL, "6H"),
        ("M10x1.5-6g", Kind.BORE, "M10x1.5-6g"),
        ("5/8-18 UNF-2A", Kind.OUTSIDE_DIAMETER, "5/8-18 UNF-2A"),
    ],
)
def test_a_class_that_contradicts_the_feature_is_named(typed: str, kind: Kind, part: str) -> None:
    error = refusal(typed, kind)
    assert error.part == part
    assert kind.replace("_", " ") in error.message


@pytest.mark.parametrize(
    ("typed", "special"),
    [
        ("5/8-18 UNF-2A", False),
        ("M10x1.5-6g", False),
        ("M20x1.5-5g6g", False),
        ("1.045-18 UNS-3A", True),
        ("5/8-18 UNS-2A LE=1.0", True),
        ("7-8 UN-2A", True),
        ("M23x1.5-6g", True),
        ("M10x1.4-6g", True),
        ("M400x6-6g", True),
        ("M3-8g", True),
    ],
)
def test_a_special_thread_is_marked(typed: str, special: bool) -> None:
    assert any("outside the standard's range" in note for note in thread(typed).notes) is special


def test_a_longer_engagement_widens_the_tolerance() -> None:
    short, long = thread("1-18 UNS-2A LE=.25"), thread("1-18 UNS-2A LE=2")
    assert short.pitch_diameter.tolerance_mm < long.pitch_diameter.tolerance_mm


@pytest.mark.parametrize(
    ("typed", "family", "kind"),
    [
        ("5/8-18 UNF-2A", "unified", EXTERNAL),
        ("#10-32 UNF-2B", "unified", INTERNAL),
        ("M20x1.5-5g6g", "metric", EXTERNAL),
        ("Tr40x7-7e", "trapezoidal", EXTERNAL),
        ("Tr40x14(P7)-7e LH", "trapezoidal", EXTERNAL),
        ("3/4-6 ACME-2G", "acme", EXTERNAL),
        ("1/2 BSW medium", "whitworth", EXTERNAL),
        ("G1/2 A", "pipe_g", EXTERNAL),
        ("25 h6", "iso286", Kind.OUTSIDE_DIAMETER),
        ("Ø40 H7", "iso286", Kind.BORE),
        ("12.70 +0.00/-0.02", "stated", Kind.OUTSIDE_DIAMETER),
        ("24.98/25.00", "stated", Kind.OUTSIDE_DIAMETER),
    ],
)
def test_each_family_claims_its_own(typed: str, family: str, kind: Kind) -> None:
    target = read(typed)
    assert (target.family, target.kind) == (family, kind)


def test_letter_case_of_a_fit_is_kept() -> None:
    assert read("25 h6").kind is Kind.OUTSIDE_DIAMETER
    assert read("25 H6").kind is Kind.BORE
    assert normalised(" ⌀25  h6 ") == "25 h6"


def test_low_and_high_limits_are_no_thread() -> None:
    assert read("24.98/25.00").kind is Kind.OUTSIDE_DIAMETER
    assert refusal("24.5-25").part == "24.5-25"
    assert read("24.98-25.00").kind is Kind.OUTSIDE_DIAMETER


HOSTILE = [
    "9" * 5000,
    "M" + "9" * 70,
    "1/" * 40,
    "- " * 40,
    "5/8-18 UNF-2A\0",
    "5/8-18 UNF-2A" + "\u200b",
    "M١٠x1.5",
    "M10x1.5-6g" * 8,
    "(" * 80,
    "UN" * 40,
    "1 " * 40,
    "x" * 80,
    "5/8-18 " + "LH " * 20,
    "0/0-0 UN",
    "#0-0 UNC",
    "M0",
    "M10x0",
    "M10xPh0P0",
    "3/4-.0P-.0L UN",
    "3/4-0.0001P-99.9L UN",
    "1.0-0.5 UN",
    "M1e400",
    "M-10",
    "NaN",
    "inf",
    "\ud800",
    "5/8-18 UNF-2A LE=0",
    "5/8-18 UNF-2A LE=.0001",
    "5/8-18 UNF-2A LE=99",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_refused_in_words(text: str) -> None:
    error = refusal(text)
    assert error.message
    assert len(error.message) < 1000
    assert "\0" not in error.message


def answers(text: str, kind: Kind | None = None) -> Target | DesignationError:
    try:
        return read(text, kind)
    except DesignationError as error:
        return error


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=2 * LONGEST), st.sampled_from([None, *Kind]))
def test_any_text_is_read_or_refused(text: str, kind: Kind | None) -> None:
    answer = answers(text, kind)
    assert not isinstance(answer, DesignationError) or answer.message


ALPHABET = string.digits * 3 + 'MxX-/. ,#"()UNCFEJRSLHABghefGH=P' + "½–×"  # noqa: RUF001


@settings(max_examples=500, deadline=None)
@given(st.text(alphabet=ALPHABET, max_size=24))
@example("M1.0.0")
@example("1/2-20 UNF-2A-")
@example("1-1/0-4 UN")
def test_nearly_right_text_is_read_or_refused(text: str) -> None:
    answer = answers(text)
    if isinstance(answer, ThreadTarget):
        low_mm, high_mm = answer.pitch_diameter.both()
        assert 0 < low_mm < high_mm


@settings(max_examples=400, deadline=None)
@given(
    st.sampled_from([typed for typed, _ in SPELLINGS]),
    st.integers(0, 30),
    st.sampled_from(["cut", "double", "swap", "put"]),
    st.sampled_from(ALPHABET),
)
def test_one_slip_of_the_finger_is_read_or_refused(
    typed: str, at: int, slip: str, mark: str
) -> None:
    at %= len(typed)
    before, here, after = typed[:at], typed[at], typed[at + 1 :]
    slipped = {
        "cut": before + after,
        "double": before + here + here + after,
        "swap": before + after[:1] + here + after[1:],
        "put": before + mark + here + after,
    }[slip]
    answer = answers(slipped)
    if isinstance(answer, ThreadTarget):
        assert thread(answer.designation, answer.kind).pitch_diameter == answer.pitch_diameter
    elif isinstance(answer, DesignationError):
        assert answer.message


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=60))
def test_normalising_twice_changes_nothing(text: str) -> None:
    once = normalised(text)
    assert normalised(once) == once


@pytest.mark.parametrize("text", [*EXAMPLES, "25 h6", "1.000 RC4", "12.70 +0.00/-0.02"])
def test_a_source_is_told_but_for_the_standard(text: str) -> None:
    source = str(told(read(text).source, WideWords()))
    assert set(WORD.findall(source)) <= {"ANSI", "ASME", "BS", "ISO"}
