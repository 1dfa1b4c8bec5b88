"""What targets.html and _card.html may read."""

from __future__ import annotations

from dataclasses import dataclass

from server.pages.view_base import Choice, Fact, Page
from server.wording import say


@dataclass(frozen=True, kw_only=True)
class LimitRow:
    """One size of the card; "" where the standard gives none."""

    label: str  # "Pitch diameter"
    low: str
    high: str
    tolerance: str = ""
    is_aimed: bool = False  # the size the feature is cut to


@dataclass(frozen=True, kw_only=True)
class Aim:
    """Where to land.  share_from_low is 0 at the low limit and 100 at the high one."""

    value: str
    share_from_low: int
    low_word: str  # "free" or "tight": what a part at the low limit feels like
    high_word: str
    is_moved: bool = False  # the user moved it from the middle

    @property
    def scale_at(self) -> float:
        """Place on a scale drawn from 20 (low) to 380 (high)."""
        return 20 + 3.6 * self.share_from_low


@dataclass(frozen=True, kw_only=True)
class Wires:
    """Over wires (three wires, or balls and pins for internal threads)."""

    best: str
    smallest: str
    largest: str
    wire: str  # in use
    wire_name: str = ""  # "crib set B, measured"
    title: str = say("Wires")  # "Balls" for an internal thread
    over_words: str = ""  # "Over 0.0320 wires"
    crib: tuple[Fact, ...] = ()  # the crib's own sets: name, size, "nearest best" or why not
    flattening: str = ""
    flattening_note: str = ""  # "shown, not applied"
    constant: str = ""
    low: str = ""
    high: str = ""
    aim: str = ""
    rule_word: str = ""  # "handbook rule"
    rule_why: str = ""  # "lead correction is below 0.00015 in"
    lead_correction: str = ""
    other_rule_word: str = ""  # "exact contact"
    other_low: str = ""
    other_high: str = ""
    why_smallest: str = ""
    why_largest: str = ""
    problem: str = ""  # why the wire can't be used; then the sizes above are empty


@dataclass(frozen=True, kw_only=True)
class ScheduleRow:
    number: str
    step: str  # infeed of this pass
    total: str
    dial: str  # on the slide in use
    word: str = ""  # "set pass", "spring pass"


@dataclass(frozen=True, kw_only=True)
class Card:
    """One feature on one small sheet.  Lengths are in unit."""

    heading: str  # canonical designation
    kind_word: str  # "External thread"
    unit: str
    source: str
    limits: tuple[LimitRow, ...]
    aim: Aim
    aims: tuple[Fact, ...] = ()  # a tight, a middle and a free aim, over wires where there are any
    facts: tuple[Fact, ...] = ()  # pitch, lead, half angle, hand, class, allowance
    wires: Wires | None = None
    groove: tuple[
        Fact, ...
    ] = ()  # relief groove, chamfer, total infeed straight and on the compound
    swing: str = ""  # which way to swing the compound, which flank leads
    seconds: tuple[Fact, ...] = ()  # time in the relief groove; never without caution
    caution: str = ""
    schedule: tuple[ScheduleRow, ...] = ()
    schedule_words: str = ""  # "on the compound at 29.5° from the cross-slide"
    plating: tuple[Fact, ...] = ()  # sizes before plating
    notes: tuple[str, ...] = ()
    set_words: tuple[str, ...] = ()  # what "the whole set" makes, one line each; () for plain sizes
    method: str = "direct"  # how the feature is usually measured


@dataclass(frozen=True, kw_only=True)
class TargetsPage(Page):
    """targets.html; _card.html is the fragment that is swapped as one types.

    GET  /targets?designation=&unit=&kind=&wire=&wire_set_id=&rule=&aim=&flat=&nose_radius=
         &crest_diameter=&blank=&compound_angle_deg=&angle_from=&slide=&lathe_id=&passes=&plating=&rpm=
         &tool_width=&groove_width=          whole page, or with HX-Request _card.html.
    POST /targets  the same fields and part_id (or new_part), label, lathe_id, instrument_id,
         method, slide, make=feature|set    303 to /parts/{id}, or 422 with this page.
    typed holds the fields of the query.
    """

    help: str = "targets"
    designation: str = ""
    card: Card | None = None
    before: str = ""  # how the same size went on finished pieces
    before_url: str = ""
    message: str = ""  # why there is no card: names the part that can't be read
    accepted: str = ""  # what would be
    nearest: tuple[str, ...] = ()
    examples: tuple[str, ...] = ()
    unfolded: bool = False  # something is typed in the folded section
    units: tuple[Choice, ...]
    kinds: tuple[Choice, ...]
    rules: tuple[Choice, ...]
    angle_conventions: tuple[Choice, ...]
    parts: tuple[Choice, ...] = ()
    lathes: tuple[Choice, ...] = ()
    wire_sets: tuple[Choice, ...] = ()
    instruments: tuple[Choice, ...] = ()
    methods: tuple[Choice, ...] = ()
    slides: tuple[Choice, ...] = ()
