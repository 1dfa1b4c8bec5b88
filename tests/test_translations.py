"""Every language tells all that is said, as it is said.

The rule is a function from a catalogue to the faults in it, so that planted bad ones can show that
it catches them.
"""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from babel.messages import Catalog
from babel.messages.pofile import read_po

from tests.messages import ROOT, by_key, extracted, forms, of_scripts, places

LANGUAGES = sorted((ROOT / "server" / "languages").glob("*.po"))
TAG = re.compile(r"</?[a-z][^<>]*>")


def catalogue_faults(found: Catalog, wanted: Catalog) -> list[str]:
    """What keeps a catalogue from telling all that is said, as it is said."""
    theirs, ours = by_key(found), by_key(wanted)
    faults = [f"missing: {key}" for key in ours.keys() - theirs.keys()]
    faults += [f"stale: {key}" for key in theirs.keys() - ours.keys()]
    faults += [f"stale: {each.id!r}" for each in found.obsolete.values()]
    faults += [f"not of a script: {key}" for key in of_scripts(wanted) - of_scripts(found)]
    for key in ours.keys() & theirs.keys():
        message = theirs[key]
        if forms(message.id) != forms(ours[key].id):
            faults.append(f"other plural: {key}")
        if message.fuzzy:
            faults.append(f"fuzzy: {key}")
        for text in forms(message.string):
            faults += [f"{fault}: {key}" for fault in text_faults(text, forms(message.id))]
    return sorted(faults)


def text_faults(text: str, originals: tuple[str, ...]) -> list[str]:
    """How a translation differs from every form of its message where it may not."""
    if not text.strip():
        return ["empty"]
    parts = {
        "other places": places,
        "other tags": lambda each: sorted(TAG.findall(each)),
        "other blanks": lambda each: re.sub(r"(?s)\S.*\S|\S", "…", each),
    }
    return [
        fault
        for fault, part in parts.items()
        if part(text) not in [part(original) for original in originals]
    ]


@pytest.mark.parametrize("file", LANGUAGES, ids=lambda file: file.stem)
def test_a_language_tells_all_of_it(file: Path) -> None:
    with file.open("rb") as source:
        found = read_po(source, locale=file.stem)

    assert catalogue_faults(found, extracted()) == []


GOOD = r"""
msgid ""
msgstr "Content-Type: text/plain; charset=utf-8\nPlural-Forms: nplurals=2; plural=(n != 1);\n"

#: static/board.js
msgid "Wait {minutes} min."
msgstr "{minutes} min warten."

#: server/one.py
msgid " or "
msgstr " oder "

#: templates/one.html
msgid "Aim <b>{size}</b> {unit}"
msgstr "<b>{size}</b> {unit} anpeilen"

#: server/one.py
msgctxt "stairs"
msgid "Step"
msgstr "Stufe"

#: server/one.py
msgid "One reading"
msgid_plural "{n} readings"
msgstr[0] "Ein Messwert"
msgstr[1] "{n} Messwerte"
"""


def planted(text: str) -> Catalog:
    return read_po(io.BytesIO(text.encode()), locale="de")


@pytest.mark.parametrize(
    ("good", "bad", "faults"),
    [
        ('msgid " or "', 'msgid " and "', ["missing", "stale"]),
        ('msgctxt "stairs"\n', "", ["missing", "stale"]),
        (
            'msgid " or "\nmsgstr',
            '#~ msgid "nor"\n#~ msgstr "noch"\n\nmsgid " or "\nmsgstr',
            ["stale"],
        ),
        ("#: static/board.js", "#: static/board.py", ["not of a script"]),
        ('"{n} readings"', '"{n} values"', ["other plural"]),
        ("#: templates/one.html", "#, fuzzy", ["fuzzy"]),
        ('"Stufe"', '""', ["empty"]),
        ('"Ein Messwert"', '""', ["empty"]),
        ("{minutes} min warten", "5 min warten", ["other places"]),
        ("{minutes} min warten", "{minuten} min warten", ["other places"]),
        ("{minutes} min warten", "{minutes min warten", ["other places"]),
        ("{minutes} min warten", "{minutes:.1f} min warten", ["other places"]),
        ('"{n} Messwerte"', '"{m} Messwerte"', ["other places"]),
        ("</b> {unit} anpeilen", "<b> {unit} anpeilen", ["other tags"]),
        ('" oder "', '" oder"', ["other blanks"]),
        ('"Stufe"', r'"Stufe\n"', ["other blanks"]),
    ],
)
def test_the_guard_of_the_catalogues_catches(good: str, bad: str, faults: list[str]) -> None:
    assert GOOD.count(good) == 1
    found = catalogue_faults(planted(GOOD.replace(good, bad)), planted(GOOD))

    assert [fault.partition(":")[0] for fault in found] == faults


def test_the_guard_of_the_catalogues_lets_pass() -> None:
    assert catalogue_faults(planted(GOOD), planted(GOOD)) == []
