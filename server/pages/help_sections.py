"""Help in the words of the trade: one section a screen, in the order of the page."""

from __future__ import annotations

from server.pages.help_shop import SHOP_SECTIONS
from server.pages.view_guide import help_section as section
from server.wording import say

SECTIONS = (
    section(
        "start",
        say("A guided first part"),
        say(
            "Lathe, instrument, part and first piece on one page, for the first time or for a "
            "lathe that is not in the tool crib yet."
        ),
        (
            say(
                "Say what one line of each dial is and whether the dial counts diameter or travel."
            ),
            say("Say what you measure with and what its finest line or digit is."),
            say("Type what the drawing says, then press Go to the lathe."),
        ),
        (
            say("How do I find out what a dial counts?"),
            say(
                "Measure, turn in ten lines, cut, measure again. Ten lines off the diameter: it "
                "counts diameter. Twenty: it counts slide travel."
            ),
        ),
        (
            say("Do I need wires for a thread?"),
            say(
                "With a plain micrometer, yes: type the size of the three wires you have. A thread "
                "micrometer or GO and NOT GO gauges need none."
            ),
        ),
        (
            say("What if I typed something wrong?"),
            say(
                "Slide and compound angle can be changed at the lathe. For anything else add a new "
                "lathe, instrument or feature and use that one."
            ),
        ),
    ),
    section(
        "parts",
        say("Parts"),
        say(
            "The pieces in work and what each still needs, the drawings to start a piece from, "
            "and a search over what is finished."
        ),
        (
            say("Press a feature of a piece to go to the lathe with it."),
            say("Write down a new part, or start another piece of one that is known."),
            say("Search finished pieces by part, thread, material, date or initials."),
        ),
        (
            say("What is the difference between a part and a piece?"),
            say(
                "The part is what the drawing describes. A piece is one bar of metal made to it; "
                "a lot has several."
            ),
        ),
        (
            say("Why does a feature say it waits?"),
            say(
                "Its last reading was taken too warm to decide by. Let the piece cool and measure "
                "again."
            ),
        ),
        (
            say("Can I work on several features in turn?"),
            say("Yes. Each keeps its own readings and its own advice; press the one you cut next."),
        ),
    ),
    section(
        "part",
        say("A part and its features"),
        say(
            "One drawing: the sizes to reach, with what they are cut and measured, and the pieces "
            "made to it."
        ),
        (
            say(
                "Type each size as the drawing writes it: 5/8-18 UNF-2A, 25 h6, 12.70 +0.00/-0.02."
            ),
            say("Choose how it is measured and which slide feeds."),
            say("Press First piece, or Another piece, and go to the lathe."),
        ),
        (
            say("When must I choose the kind?"),
            say(
                "Where the text can't tell: 24.98/25.00 may be a shaft, a bore or a length. "
                "Threads and fit letters say it themselves."
            ),
        ),
        (
            say("What does the tool flat or nose radius change?"),
            say(
                "How deep the thread must be cut from the crest, and at what depth the wires "
                "begin to sit on the flanks."
            ),
        ),
        (
            say("Can I change a feature later?"),
            say(
                "Its limits stay as they were typed, so that old readings keep their meaning. "
                "Slide and compound can be changed at the lathe; else add a new feature."
            ),
        ),
    ),
    section(
        "targets",
        say("Target card"),
        say(
            "Every number of one feature on a small sheet: limits, aim, wires and what to read "
            "over them, infeed, relief, chamfer."
        ),
        (
            say("Type what the drawing says; the card changes as you type."),
            say(
                "Add the wire you have, the tool flat and the crest as turned, where you know "
                "them; for a plain size the blank as it is shows its passes."
            ),
            say("Make a feature of it, or the whole set a thread needs, or print the card."),
        ),
        (
            say("Which over-wire rule should I use?"),
            say(
                "Leave it at “by the thread”. The handbook rule agrees with wire charts; exact "
                "contact adds the small tilt of the thread, which counts for coarse and "
                "many-start threads."
            ),
        ),
        (
            say("Why is my wire refused?"),
            say(
                "It would touch the root, lie below the crest or miss the straight flank. The card "
                "names the smallest and largest wire that work."
            ),
        ),
        (
            say("Why aim at the middle?"),
            say(
                "It leaves the same room for error to both sides. Move the aim inside the limits "
                "when a looser or tighter fit is wanted."
            ),
        ),
    ),
    section(
        "lathe",
        say("At the lathe"),
        say(
            "The screen beside the machine: what to dial next, where that should land, and the "
            "reading you just took."
        ),
        (
            say("Stop the spindle, clear chips with a brush, measure."),
            say(
                "Say what was cut since the last reading and how warm the part feels, type the "
                "reading, press Log."
            ),
            say(
                "Dial the big number on the slide it names, cut, and measure again when it says so."
            ),
        ),
        (
            say("Why doesn't it tell me to take all that is left?"),
            say(
                "Work and tool give way, so a cut rarely takes what was dialled. The advice holds "
                "back until your own readings show how this cut behaves."
            ),
        ),
        (
            say("I cut but didn't measure. What now?"),
            say(
                "Open “A cut without a reading” and log it. What was not done is never logged for "
                "you."
            ),
        ),
        (
            say("I misread. How do I correct it?"),
            say(
                "Press Undo right away, or strike the reading with a reason. It stays visible and "
                "leaves every computation."
            ),
        ),
    ),
    section(
        "history",
        say("Pass history"),
        say(
            "Every cut, reading and event of a piece in the order it happened, with what was "
            "expected and what came."
        ),
        (
            say("Read down the table: dialled, took off, size, expected, off."),
            say("Finish the piece here or at the lathe, as good, concession or scrap."),
            say("Print it, or take it along as CSV or JSON."),
        ),
        (
            say("Why are struck readings still there?"),
            say(
                "A record that can lose lines proves nothing. They are shown with their reason "
                "and not counted."
            ),
        ),
        (
            say("What does “off” mean?"),
            say(
                "The size that came less the size expected. A plus on a shaft means that more "
                "metal stayed on than expected."
            ),
        ),
        (
            say("Can a finished piece be opened again?"),
            say("Yes, under Rework, with a reason. The first closing stays in the record."),
        ),
    ),
    section(
        "working",
        say("The working"),
        say(
            "Every formula behind a size and its next cut, with the numbers filled in and the "
            "source beside it."
        ),
        (
            say("Follow a reading through temperature, wires and zero error to the size at 20 °C."),
            say("See which line makes most of the doubt."),
            say("Read what was learned from the cuts so far."),
        ),
        (
            say("How do I make the doubt smaller?"),
            say(
                "Work on the line with the largest share: a finer instrument, a zero check, a "
                "thermometer, measured wires or more readings."
            ),
        ),
        (
            say("Why does the size differ from what I read?"),
            say(
                "Over wires the wire constant comes off, and warmth and the zero error are taken "
                "out. The steps show each."
            ),
        ),
        (
            say("Where do the numbers come from?"),
            say("Each step names its standard or says that it is common practice."),
        ),
    ),
    *SHOP_SECTIONS,
)
