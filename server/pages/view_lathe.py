"""What lathe.html and _lathe_body.html may read."""

from __future__ import annotations

from dataclasses import dataclass

from server.pages.drawings import Ladder
from server.pages.view_base import NO_VERDICT, Choice, Entry, Fact, Finish, Page, Verdict
from server.wording import say


@dataclass(frozen=True, kw_only=True)
class FeatureTab:
    feature_id: int
    label: str
    url: str  # "/pieces/3/lathe?feature=7"
    verdict: Verdict = NO_VERDICT
    stock_left: str = ""
    is_current: bool = False


@dataclass(frozen=True, kw_only=True)
class NextCut:
    """What to dial.  headline is the largest thing on the screen.

    action    first_reading, cut, spring_pass, measure_again, wait, finer_feed, done or lost
    headline  a number as "0.0690", or one or two short words: "Spring pass", "Measure", "Wait"
    """

    action: str
    headline: str
    is_number: bool
    is_back: bool = False  # the dial goes back by the headline: more stands than is left
    say: str  # above the number: "Dial in on the cross-slide", "Nothing more to cut"
    unit: str = ""
    dial: str = ""  # "counts diameter, 0.001 in a line"
    landing: str = ""  # "0.5853"
    landing_low: str = ""
    landing_high: str = ""
    chance_in_limits: str = ""  # "97 %"
    chance_past_limit: str = ""  # "0.2 %"
    after: str = ""  # "Measure after it" or ""
    why: str = ""  # one sentence
    how: str = ""  # what goes with the headline: "Ten on its dial is then one on the cross-slide."
    hints: tuple[str, ...] = ()  # ways out, warnings: "The compound as a fine feed divides by 10"


@dataclass(frozen=True, kw_only=True)
class Warm:
    """state: settled, drifting, wait or none (nothing to say)."""

    state: str
    word: str
    sentence: str = ""
    wait_seconds: int = 0  # counted down on the screen; 0 for none
    wait_words: str = ""  # "about 4 min", shown without JavaScript


NO_WARMTH = Warm(state="none", word="")


@dataclass(frozen=True, kw_only=True)
class AskChoice:
    """A button that answers a question: it sends the same form again with name=value."""

    word: str
    name: str  # "confirm" or "unit"
    value: str  # "true", "mm"


@dataclass(frozen=True, kw_only=True)
class Ask:
    """A reading that is possible but not likely, or whose unit is in doubt."""

    message: str
    choices: tuple[AskChoice, ...]


@dataclass(frozen=True, kw_only=True)
class Caution:
    code: str  # "measuring", "warm", "shoulder": dismissed for the session by this name
    text: str
    hot_from: str = ""  # stands hidden until the form says so hot, in its degrees, or a warm touch


@dataclass(frozen=True, kw_only=True)
class LathePage(Page):
    """lathe.html (whole page) and _lathe_body.html (the part that changes).

    GET  /pieces/{id}/lathe?feature=ID      whole page; with the header HX-Request the fragment
    POST log_action                          fields below; 303 here, or 422/409 with this page;
                                             with HX-Request the fragment and 200/422/409
    """

    help: str = "lathe"
    piece_id: int
    part_name: str
    part_url: str
    piece_name: str  # "Piece 2"
    feature_id: int
    feature_label: str
    designation: str
    tabs: tuple[FeatureTab, ...]
    is_closed: bool = False  # finished: nothing can be logged
    closed_words: str = ""  # "Finished good, 12 March, by JK"

    next_cut: NextCut
    verdict: Verdict = NO_VERDICT
    warm: Warm = NO_WARMTH
    size_name: str = say("size")  # "pitch diameter"
    size: str = ""
    doubt: str = ""
    size_low: str = ""  # where a touch made the size a range
    size_high: str = ""
    unit: str  # the feature's unit, "in" or "mm"
    low: str
    high: str
    aim: str
    measured_name: str = ""  # "over 0.0320 wires" where the reading is not the size itself
    measured_low: str = ""
    measured_high: str = ""
    measured_aim: str = ""
    stock_left: str = ""
    stock_left_on: str = say("on diameter")
    stock_facts: tuple[Fact, ...] = ()  # per flank, on the compound, on the cross-slide
    ladder: Ladder | None = None
    cautions: tuple[Caution, ...] = ()

    log_action: str  # "/pieces/3/readings"
    entry_key: str  # fresh UUID
    last_seq: int  # newest entry this page knows of
    slide: str  # cross_slide, compound, carriage
    slides: tuple[Choice, ...]
    advised_step: str = ""  # as the dial step would be typed; "" where no cut is advised
    dial_unit: str  # what the dials of this lathe are graduated in, "in" or "mm"
    prefill: str = ""  # leading digits that can't change: "0.5"
    units: tuple[Choice, ...]
    instruments: tuple[Choice, ...] = ()
    instrument_id: str = ""
    temperature_unit: str = "C"
    operators: tuple[str, ...] = ()
    operator: str = ""  # whose initials stand there before anything is chosen: the device's
    ask: Ask | None = None

    entries: tuple[Entry, ...] = ()  # the last ones, newest first
    earlier: int = 0  # how many more the pass history has
    undo_action: str = ""  # posts entry_id and entry_type of the newest entry; "" for none
    undo_entry_id: int = 0
    undo_entry_type: str = ""
    undo_words: str = ""  # "reading 0.6480"
    pass_action: str  # "/pieces/3/passes"
    pass_entry_key: str
    event_action: str  # "/pieces/3/events"
    event_entry_key: str
    setup_action: str = ""  # "/pieces/3/setup": slide, compound_angle_deg, angle_from
    setup_words: str = ""  # "compound at 29.5° from the cross-slide ..."
    compound_angle: str = ""
    angle_from: str = ""
    angle_conventions: tuple[Choice, ...] = ()
    fine_feed_angle: str = ""  # "5.74" where the compound is advised as a fine feed
    gauge_action: str = ""  # "/pieces/3/gauges": gauge, enters, entry_key
    gauge_entry_key: str = ""
    gauge_words: str = ""  # what GO and NOT GO proved since the last cut
    is_gauged: bool = False  # judged by gauges alone: no reading is asked for
    working_url: str = ""  # "/pieces/3/working?feature=7"
    finish: Finish | None = None
    history_url: str
    stream_url: str  # "/pieces/3/events-stream"
    mark: str = ""  # what the stream says while nothing has changed
