"""The next cut as the lathe screen says it, with what a careful hand would add."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime

from server.advice.model import Action
from server.advice.model import NextCut as Advice
from server.logbook import cautions
from server.logbook.answers import (
    advised_dial_step,
    advised_slide,
    is_compound_set_over,
    shown_advice,
    warm_words,
)
from server.logbook.around import Around
from server.logbook.evaluate import FINE_FEED_SHARE, GAUGED, Evaluation
from server.metrology import groove
from server.metrology.decision import Verdict as Code
from server.metrology.dials import Slide
from server.metrology.thermal import WarmState
from server.pages.views import NO_WARMTH, NextCut, Warm
from server.pages.words import COUNTED, WARM_WORDS, percent, size_text
from server.wording import say, say_as, sentence

DIAL_IN = {
    Slide.CROSS_SLIDE: say("Dial in on the cross-slide"),
    Slide.COMPOUND: say("Dial in on the compound"),
    Slide.CARRIAGE: say("Dial in on the carriage"),
}
DIAL_BACK = {
    Slide.CROSS_SLIDE: say("Set the dial back on the cross-slide"),
    Slide.COMPOUND: say("Set the dial back on the compound"),
    Slide.CARRIAGE: say("Set the dial back on the carriage"),
}
FINE_FEED_ANGLE = f"{math.degrees(math.asin(FINE_FEED_SHARE)):.2f}"


def warnings_of(around: Around, found: Evaluation) -> list[str]:
    """What would settle a close call, what the stations say, what is wrong with the instrument."""
    at = datetime.now(UTC).isoformat()
    said = [cautions.settling(around, found, at)]
    if found.current is not None:
        said.extend(cautions.station_words(found, found.current))
    said.extend(cautions.instrument_warnings(around, found, at[:10]))
    return [sentence(words) for words in said if words]


def with_hints(cut: NextCut, hints: list[str]) -> NextCut:
    return replace(cut, hints=(*cut.hints, *(hint for hint in hints if hint not in cut.hints)))


def step_text(found: Evaluation, advice: Advice) -> tuple[str, str]:
    """(the step as the dial shows it, the dial's unit)."""
    step, dial = advised_dial_step(found, advice)
    return f"{step:f}", dial.unit


def advised_step(found: Evaluation) -> str:
    """The advised step as it is dialled and typed; "" where none is advised."""
    advice = shown_advice(found)
    if advice is None or advice.action is not Action.CUT:
        return ""
    return step_text(found, advice)[0]


def next_cut_view(found: Evaluation) -> NextCut:
    advice = shown_advice(found)
    if found.setup.method == GAUGED:
        return gauged_view(found)
    if found.known is None:
        return NextCut(
            action="first_reading",
            headline=say("Measure"),
            is_number=False,
            say=say("First reading"),
            why=say(
                "Touch off, take a light cut, stop the spindle, measure and log what you read."
            ),
        )
    if found.known.verdict is Code.PAST_LIMIT:
        return NextCut(
            action="lost",
            headline=say("Stop"),
            is_number=False,
            say=say("Cut past the limit"),
            why=say(
                "Nothing brings the metal back. Measure again to be sure; then close the piece."
            ),
        )
    if advice is None and found.known.verdict is Code.TOO_CLOSE:
        return NextCut(
            action="measure_again",
            headline=say("Decide"),
            is_number=False,
            say=say("Too close to call, no cut would help"),
            why=say("Measure with something finer, or finish it with initials and a reason."),
        )
    if advice is None:
        return NextCut(
            action="done",
            headline=say("Done"),
            is_number=False,
            say=say("Nothing more to cut"),
            why=say("In limits with room to spare; another cut would only add risk."),
        )
    if advice.action is Action.FINER_FEED:
        return fine_feed_view(found, advice)
    return advice_view(found, advice)


def gauged_view(found: Evaluation) -> NextCut:
    """A feature without a size: what the gauges proved."""
    evidence = found.evidence
    is_good = evidence is not None and evidence.verdict is Code.IN_LIMITS
    return NextCut(
        action="done" if is_good else "measure_again",
        headline=say("Done") if is_good else say_as("do this", "Gauge"),
        is_number=False,
        say=say("GO and NOT GO"),
        why=(evidence.words if evidence else say("Try GO, then NOT GO, and log what each does.")),
    )


def is_fine_feed_advised(found: Evaluation) -> bool:
    advice = shown_advice(found)
    return advice is not None and is_compound_set_over(found, advice)


def fine_feed_view(found: Evaluation, advice: Advice) -> NextCut:
    """The set-up comes first: until the compound stands over, its dial means something else."""
    if not is_compound_set_over(found, advice):
        return NextCut(
            action=advice.action.value,
            headline=say("Finer feed"),
            is_number=False,
            say=say("No line of this dial fits what is left"),
            why=sentence(advice.why),
            hints=tuple(sentence(note) for note in advice.notes),
        )
    return NextCut(
        action=advice.action.value,
        headline=f"{FINE_FEED_ANGLE}°",
        is_number=True,
        say=say("Set the compound as a fine feed, from the lathe axis"),
        why=sentence(advice.why),
        how=say("Ten on its dial is then one on the cross-slide."),
        hints=(
            say(
                "Say under Slide and compound when it is set: the next cut is then worked out "
                "for it."
            ),
            *(sentence(note) for note in advice.notes),
        ),
    )


def advice_view(found: Evaluation, advice: Advice) -> NextCut:
    setup = found.setup
    slide = advised_slide(found, advice)
    step, unit = step_text(found, advice)
    is_cut = advice.action is Action.CUT
    words = {
        Action.SPRING_PASS: (say("Spring pass"), say("Same dial setting, once more")),
        Action.MEASURE_AGAIN: (say("Measure"), say("No cut: measure again")),
        Action.WAIT: wait_words(found),
    }
    is_back = is_cut and step.startswith("-")
    way = (DIAL_BACK if is_back else DIAL_IN)[slide]
    headline, to_do = words.get(advice.action, (step.removeprefix("-"), way))
    low, high = sorted(
        (found.size_at(advice.landing.low_mm), found.size_at(advice.landing.high_mm))
    )
    expected = found.size_at(advice.landing.expected_mm)
    hints = list(advice.notes) + list(found.stock.warnings if found.stock else ())
    if found.current is not None and found.current.is_rough:
        hints.insert(0, rough_words(found))
    shows_landing = advice.action not in (Action.WAIT, Action.MEASURE_AGAIN)
    return NextCut(
        action=advice.action.value,
        headline=headline,
        is_number=is_cut,
        is_back=is_back,
        say=to_do,
        unit=unit if is_cut else "",
        dial=dial_words(found, slide) if is_cut else "",
        landing=size_text(setup, expected) if shows_landing else "",
        landing_low=size_text(setup, low) if shows_landing else "",
        landing_high=size_text(setup, high) if shows_landing else "",
        chance_in_limits=percent(advice.chance_in_limits) if shows_landing else "",
        chance_past_limit=percent(advice.chance_past_limit) if shows_landing else "",
        after=say("Measure after it") if is_cut and advice.measure_after else "",
        why=sentence(advice.why),
        hints=tuple(sentence(hint) for hint in hints),
    )


def wait_words(found: Evaluation) -> tuple[str, str]:
    """(headline, what to do): a part that nobody felt warm may be, or waiting tells no more."""
    now = found.known
    if now is None or now.last.says_warm:
        return say("Wait"), say("Warm: let it settle")
    if now.wait_minutes is None:
        return say("Measure"), say("Its temperature decides here")
    return say("Wait"), say("May be warm: let it settle")


def rough_words(found: Evaluation) -> str:
    now = found.current
    if now is None:
        return ""
    words = {case.value: text for case, text in groove.WORDS.items()}
    return words.get(now.contact, say("The wires do not touch the thread yet: rough"))


def dial_words(found: Evaluation, slide: Slide) -> str:
    dial = found.setup.slides.dial(slide)
    return say(
        "counts {what}, {graduation} {unit} a line",
        what=COUNTED[dial.counts],
        graduation=f"{dial.graduation:f}",
        unit=dial.unit,
    )


def warm_view(found: Evaluation, waited_min: float = 0.0) -> Warm:
    """waited_min: since the reading was taken; the countdown goes on from there."""
    now = found.current
    if now is None:
        return NO_WARMTH
    state = now.warm_state.value
    if now.warm_state is WarmState.SETTLED:
        return Warm(state=state, word=WARM_WORDS[state])
    minutes = now.wait_minutes if now.warm_state is WarmState.WAIT else None
    left = max(minutes - waited_min, 0.0) if minutes else 0.0
    enough = say("waited long enough: measure again")
    words = say("about {minutes} min", minutes=f"{left:.0f}") if left else enough
    return Warm(
        state=state,
        word=WARM_WORDS[state],
        sentence=warm_words(found, now),
        wait_seconds=max(round(left * 60), 1) if minutes else 0,
        wait_words=words if minutes else "",
    )
