"""Help in the words of the trade: one section a screen."""

from __future__ import annotations

from server.pages.view_guide import Answered, HelpSection


def section(
    key: str, title: str, purpose: str, steps: tuple[str, ...], *asked: tuple[str, str]
) -> HelpSection:
    return HelpSection(
        key=key,
        title=title,
        purpose=purpose,
        steps=steps,
        questions=tuple(Answered(question=each, answer=answer) for each, answer in asked),
    )


SECTIONS = (
    section(
        "start",
        "A guided first part",
        "Lathe, instrument, part and first piece on one page, for the first time or for a lathe "
        "that is not in the tool crib yet.",
        (
            "Say what one line of each dial is and whether the dial counts diameter or travel.",
            "Say what you measure with and what its finest line or digit is.",
            "Type what the drawing says, then press Go to the lathe.",
        ),
        (
            "How do I find out what a dial counts?",
            "Measure, turn in ten lines, cut, measure again. Ten lines off the diameter: it counts "
            "diameter. Twenty: it counts slide travel.",
        ),
        (
            "Do I need wires for a thread?",
            "With a plain micrometer, yes: type the size of the three wires you have. A thread "
            "micrometer or GO and NOT GO gauges need none.",
        ),
        (
            "What if I typed something wrong?",
            "Slide and compound angle can be changed at the lathe. For anything else add a new "
            "lathe, instrument or feature and use that one.",
        ),
    ),
    section(
        "parts",
        "Parts",
        "The pieces in work and what each still needs, the drawings to start a piece from, and a "
        "search over what is finished.",
        (
            "Press a feature of a piece to go to the lathe with it.",
            "Write down a new part, or start another piece of one that is known.",
            "Search finished pieces by part, thread, material, date or initials.",
        ),
        (
            "What is the difference between a part and a piece?",
            "The part is what the drawing describes. A piece is one bar of metal made to it; a lot "
            "has several.",
        ),
        (
            "Why does a feature say it waits?",
            "Its last reading was taken too warm to decide by. Let the piece cool and measure "
            "again.",
        ),
        (
            "Can I work on several features in turn?",
            "Yes. Each keeps its own readings and its own advice; press the one you cut next.",
        ),
    ),
    section(
        "part",
        "A part and its features",
        "One drawing: the sizes to reach, with what they are cut and measured, and the pieces "
        "made to it.",
        (
            "Type each size as the drawing writes it: 5/8-18 UNF-2A, 25 h6, 12.70 +0.00/-0.02.",
            "Choose how it is measured and which slide feeds.",
            "Press First piece, or Another piece, and go to the lathe.",
        ),
        (
            "When must I choose the kind?",
            "Where the text can't tell: 24.98/25.00 may be a shaft, a bore or a length. Threads "
            "and fit letters say it themselves.",
        ),
        (
            "What does the tool flat or nose radius change?",
            "How deep the thread must be cut from the crest, and at what depth the wires begin to "
            "sit on the flanks.",
        ),
        (
            "Can I change a feature later?",
            "Its limits stay as they were typed, so that old readings keep their meaning. Slide "
            "and compound can be changed at the lathe; else add a new feature.",
        ),
    ),
    section(
        "targets",
        "Target card",
        "Every number of one feature on a small sheet: limits, aim, wires and what to read over "
        "them, infeed, relief, chamfer.",
        (
            "Type what the drawing says; the card changes as you type.",
            "Add the wire you have, the tool flat and the crest as turned, where you know them; "
            "for a plain size the blank as it is shows its passes.",
            "Make a feature of it, or the whole set a thread needs, or print the card.",
        ),
        (
            "Which over-wire rule should I use?",
            "Leave it at “by the thread”. The handbook rule agrees with wire charts; exact contact "
            "adds the small tilt of the thread, which counts for coarse and many-start threads.",
        ),
        (
            "Why is my wire refused?",
            "It would touch the root, lie below the crest or miss the straight flank. The card "
            "names the smallest and largest wire that work.",
        ),
        (
            "Why aim at the middle?",
            "It leaves the same room for error to both sides. Move the aim inside the limits when "
            "a looser or tighter fit is wanted.",
        ),
    ),
    section(
        "lathe",
        "At the lathe",
        "The screen beside the machine: what to dial next, where that should land, and the "
        "reading you just took.",
        (
            "Stop the spindle, clear chips with a brush, measure.",
            "Say what was cut since the last reading and how warm the part feels, type the "
            "reading, press Log.",
            "Dial the big number on the slide it names, cut, and measure again when it says so.",
        ),
        (
            "Why doesn't it tell me to take all that is left?",
            "Work and tool give way, so a cut rarely takes what was dialled. The advice holds back "
            "until your own readings show how this cut behaves.",
        ),
        (
            "I cut but didn't measure. What now?",
            "Open “A cut without a reading” and log it. What was not done is never logged for you.",
        ),
        (
            "I misread. How do I correct it?",
            "Press Undo right away, or strike the reading with a reason. It stays visible and "
            "leaves every computation.",
        ),
    ),
    section(
        "history",
        "Pass history",
        "Every cut, reading and event of a piece in the order it happened, with what was expected "
        "and what came.",
        (
            "Read down the table: dialled, took off, size, expected, off.",
            "Finish the piece here or at the lathe, as good, concession or scrap.",
            "Print it, or take it along as CSV or JSON.",
        ),
        (
            "Why are struck readings still there?",
            "A record that can lose lines proves nothing. They are shown with their reason and not "
            "counted.",
        ),
        (
            "What does “off” mean?",
            "The size that came less the size expected. A plus on a shaft means that more metal "
            "stayed on than expected.",
        ),
        (
            "Can a finished piece be opened again?",
            "Yes, under Rework, with a reason. The first closing stays in the record.",
        ),
    ),
    section(
        "working",
        "The working",
        "Every formula behind a size and its next cut, with the numbers filled in and the source "
        "beside it.",
        (
            "Follow a reading through temperature, wires and zero error to the size at 20 °C.",
            "See which line makes most of the doubt.",
            "Read what was learned from the cuts so far.",
        ),
        (
            "How do I make the doubt smaller?",
            "Work on the line with the largest share: a finer instrument, a zero check, a "
            "thermometer, measured wires or more readings.",
        ),
        (
            "Why does the size differ from what I read?",
            "Over wires the wire constant comes off, and warmth and the zero error are taken out. "
            "The steps show each.",
        ),
        (
            "Where do the numbers come from?",
            "Each step names its standard or says that it is common practice.",
        ),
    ),
    section(
        "lot",
        "The lot",
        "The pieces of one part side by side: final sizes, drift from piece to piece, and how "
        "well the process holds the limits.",
        (
            "Look at the first and the last piece against the limits.",
            "Where drift is sure, set the dial by the amount it names.",
            "Start the next piece from here.",
        ),
        (
            "What makes sizes drift?",
            "Mostly the tool wearing, so that shafts grow and bores shrink; also the machine "
            "warming up.",
        ),
        (
            "Why is no capability shown?",
            "A few pieces say too little. With enough of them it is shown with its interval.",
        ),
        (
            "Which readings count?",
            "The final size of each piece; struck readings and pieces without a size don't.",
        ),
    ),
    section(
        "record",
        "Inspection record",
        "What goes to the customer: limits, final sizes with their doubt, instruments, "
        "temperature, rule, who and when.",
        (
            "Finish the piece first, so that the record says how.",
            "Print it, or save it as CSV, spreadsheet or JSON.",
            "Keep the digest with it.",
        ),
        (
            "What is the digest for?",
            "It is worked out from every reading. If one changes its text, time or strike, the "
            "digest changes too.",
        ),
        (
            "Which rule decided?",
            "The one named at the foot, chosen under Shop.",
        ),
        (
            "Does a good size over wires pass the thread?",
            "It passes the pitch diameter. Form and lead show on a GO ring or the mating part; log "
            "that as evidence.",
        ),
    ),
    section(
        "crib",
        "Tool crib",
        "The shop's lathes, instruments and wire sets, with what their dials count and when they "
        "were last checked.",
        (
            "Add each lathe with one line of each dial.",
            "Add each instrument with what it reads to and its largest error.",
            "Check zeros on a standard and note what they read.",
        ),
        (
            "What is “error at most”?",
            "The largest error its paper or calibration allows. Left empty, the usual one of its "
            "kind is taken.",
        ),
        (
            "What does a zero check change?",
            "The zero error is taken off later readings, and the doubt gets smaller.",
        ),
        (
            "Nominal or measured wires?",
            "Measure them if you can: an error in the wire counts about three times in the pitch "
            "diameter of a 60° thread.",
        ),
    ),
    section(
        "shop",
        "Shop",
        "What holds for the whole shop: units, temperature, the rule that decides, materials, "
        "operators.",
        (
            "Note the shop temperature in the morning.",
            "Choose when a size is in limits and what chance of going past you accept.",
            "Add the initials of who works here.",
        ),
        (
            "Which rule should we take?",
            "“Inside by more than its doubt” is the default: nobody can then prove the part out. "
            "Plain acceptance takes the size as read.",
        ),
        (
            "What is the chance a piece may go past a limit?",
            "Your bound for a whole piece. Lower it and the last steps get smaller and more "
            "numerous.",
        ),
        (
            "My material is not in the list.",
            "Add it with its growth in µm per metre and °C from the supplier's sheet.",
        ),
    ),
    section(
        "sharing",
        "Sharing",
        "Other tablets of the shop on this Midlimit, each with a role, and the list of who did "
        "what.",
        (
            "Make a code on the machine that Midlimit runs on.",
            "Open the address on the tablet, type the code and your initials.",
            "End the pairing of a device that was lost or sold.",
        ),
        (
            "What may each role do?",
            "Look sees every page. Log also takes readings and finishes pieces. Manage also sets "
            "up parts, the tool crib and the shop.",
        ),
        (
            "What happens when the link drops?",
            "Readings wait on the tablet and are sent when it is back, each one once.",
        ),
        (
            "Can the list of who did what be changed?",
            "No. It only grows.",
        ),
    ),
)
