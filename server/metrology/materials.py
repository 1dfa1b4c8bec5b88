"""What parts are made of: expansion, stiffness and how they hold heat."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache

from server.metrology.material_words import BASIS_WORDS, MATERIAL_WORDS
from server.metrology.tables import rows
from server.wording import joined, say

STEEL_EXPANSION_PER_C = 11.5e-6  # gauge-block steel, ISO 3650: 11.5 +-1.0
LEAST_SPREAD_PER_C = 1e-6  # ISO/TR 16015: a handbook coefficient is good to no better
LEAST_NEAR, LEAST_NEAR_GERMAN = 0.5, 0.75  # how alike; an English word is like many German ones


@dataclass(frozen=True)
class Material:
    """One material.

    words                    its name as a screen tells it; what a person typed stays as typed
    basis                    how the coefficient is known, in words; "" for a person's own
    aliases, german          other names it is found by
    expansion_per_c          value to use  [1/K], with low and high of published values
    elastic_modulus_mpa      [MPa], None where it is not known
    density_kg_m3            [kg/m3]
    heat_capacity_j_kg_k     [J/(kg K)]
    """

    name: str
    words: str
    family: str
    grade: str
    expansion_per_c: float
    low_per_c: float
    high_per_c: float
    elastic_modulus_mpa: float | None
    density_kg_m3: float
    heat_capacity_j_kg_k: float
    is_metal: bool
    source: str
    basis: str = ""
    aliases: tuple[str, ...] = ()
    german: tuple[str, ...] = ()

    @property
    def spread_per_c(self) -> float:
        """Half-width of the rectangular distribution that stands for the coefficient.  [1/K]

        Its second moment about the value used, that one not being the middle of low and high, and
        at least 1e-6/K (ISO/TR 16015, from memory).
        """
        below, above = self.expansion_per_c - self.low_per_c, self.high_per_c - self.expansion_per_c
        width = below + above
        about_value = ((below**3 + above**3) / width) ** 0.5 if width > 0 else 0.0
        return max(about_value, LEAST_SPREAD_PER_C)


class MaterialError(ValueError):
    """No material goes by that name; nearest names the likely ones, best first."""

    def __init__(self, text: str, nearest: tuple[str, ...]) -> None:
        super().__init__(
            say(
                "“{text}” is not a material known here; near it: {nearest}",
                text=text[:60],
                nearest=joined(nearest),
            )
            if nearest
            else say("“{text}” is not a material known here", text=text[:60])
        )
        self.text = text
        self.nearest = nearest


def all_materials() -> tuple[Material, ...]:
    """Every material of the table, in its order."""
    return _table()


@lru_cache(maxsize=512)
def find(text: str, own: tuple[Material, ...] = ()) -> Material:
    """The material meant by a family, a grade or both, in any case.  Raises MaterialError.

    own   the user's materials, looked through first
    A family alone is its usual grade with the lowest and highest coefficient of the family.

    >>> find("Aluminum 6061").expansion_per_c
    2.36e-05
    """
    wanted = _key(text)
    for material in (*own, *_table(), *_families()):
        if wanted in _names(material) or wanted in _german_names(material):
            return material
    raise MaterialError(text.strip(), _nearest(wanted, own))


@cache
def _table() -> tuple[Material, ...]:
    return tuple(_from_row(row) for row in rows("materials"))


def _from_row(row: dict[str, str]) -> Material:
    return Material(
        name=row["name"],
        words=MATERIAL_WORDS.get(row["name"], row["name"]),
        family=row["family"],
        grade=row["grade"],
        expansion_per_c=_millionths(row["expansion_1e6_per_c"]),
        low_per_c=_millionths(row["low_1e6_per_c"]),
        high_per_c=_millionths(row["high_1e6_per_c"]),
        elastic_modulus_mpa=float(row["elastic_modulus_gpa"]) * 1000,
        density_kg_m3=float(row["density_kg_m3"]),
        heat_capacity_j_kg_k=float(row["heat_capacity_j_kg_k"]),
        is_metal=row["is_metal"] == "yes",
        source=row["source"],
        basis=BASIS_WORDS[row["kind"]],
        aliases=_listed(row["aliases"]),
        german=_listed(row["german"]),
    )


def _listed(names: str) -> tuple[str, ...]:
    return tuple(name for name in names.split("|") if name)


def _millionths(text: str) -> float:
    return float(text + "e-6")


@cache
def _families() -> tuple[Material, ...]:
    """One material a family: its first row, widened to all of the family."""
    grouped: dict[str, list[Material]] = {}
    for material in _table():
        grouped.setdefault(material.family, []).append(material)
    return tuple(_widened(family, members) for family, members in grouped.items())


def _widened(family: str, members: Sequence[Material]) -> Material:
    return replace(
        members[0],
        name=family,
        words=MATERIAL_WORDS.get(family, family),
        grade="",
        low_per_c=min(member.low_per_c for member in members),
        high_per_c=max(member.high_per_c for member in members),
        aliases=_FAMILY_WORDS.get(family, ()),
        german=_GERMAN_FAMILY_WORDS.get(family, ()),
    )


_FAMILY_WORDS: dict[str, tuple[str, ...]] = {
    "Carbon steel": ("steel", "mild steel", "plain steel", "free cutting steel", "silver steel"),
    "Stainless steel": ("stainless", "inox"),
    "Alloy steel": ("chrome moly", "chromoly"),
    "High-speed steel": ("hss",),
    "Gauge steel": ("gauge block steel",),
    "Tungsten carbide": ("carbide", "hard metal"),
    "Cast iron": ("iron",),
    "Aluminium": ("al", "aluminium alloy"),
    "Titanium": ("ti",),
    "Nickel alloy": ("nickel",),
    "Acetal": ("pom",),
    "Nylon": ("polyamide", "pa"),
    "Polyethylene": ("pe",),
    "PVC": ("rigid pvc", "upvc"),
    "Acrylic": ("pmma", "polymethyl methacrylate"),
}
_GERMAN_FAMILY_WORDS: dict[str, tuple[str, ...]] = {
    "Carbon steel": ("stahl", "baustahl", "automatenstahl", "unlegierter stahl", "silberstahl"),
    "Stainless steel": ("edelstahl", "nichtrostender stahl"),
    "Alloy steel": ("vergütungsstahl", "legierter stahl"),
    "Tool steel": ("werkzeugstahl",),
    "High-speed steel": ("schnellarbeitsstahl",),
    "Gauge steel": ("endmaßstahl",),
    "Tungsten carbide": ("hartmetall",),
    "Cast iron": ("gusseisen", "guss"),
    "Aluminium": ("alu",),
    "Brass": ("messing",),
    "Copper": ("kupfer",),
    "Aluminium bronze": ("aluminiumbronze",),
    "Titanium": ("titan",),
    "Nickel alloy": ("nickellegierung",),
    "Iron-nickel 36 %": ("eisen-nickel 36 %",),
    "Nylon": ("polyamid",),
    "Polyethylene": ("polyethylen",),
    "Polycarbonate": ("polycarbonat",),
    "Acrylic": ("acrylglas",),
}


@lru_cache(maxsize=512)
def _names(material: Material) -> set[str]:
    grades = (material.grade, *material.aliases)
    families = (material.family, *_FAMILY_WORDS.get(material.family, ()))
    return _keys((material.name, *grades), grades if material.grade else (), families)


@lru_cache(maxsize=512)
def _german_names(material: Material) -> set[str]:
    grades = (material.grade, *material.aliases, *material.german)
    families = _GERMAN_FAMILY_WORDS.get(material.family, ())
    return _keys(material.german, grades if material.grade else (), families)


def _keys(names: Iterable[str], grades: Iterable[str], families: Iterable[str]) -> set[str]:
    """The names, and each grade with each word for the family before or after it."""
    pairs = ((grade, family) for grade in grades for family in families)
    both = (f"{x} {y}" for grade, family in pairs for x, y in ((family, grade), (grade, family)))
    return {key for name in (*names, *both) if (key := _key(name))}


def _key(text: str) -> str:
    """One spelling of a name: case, punctuation and American spelling don't count."""
    words = re.sub(r"[^\w]+", " ", text[:200].casefold()).split()
    swaps = {"aluminum": "aluminium", "gray": "grey", "aisi": "", "sae": "", "gage": "gauge"}
    return " ".join(filter(None, (swaps.get(word, word) for word in words)))


def _nearest(wanted: str, own: Sequence[Material]) -> tuple[str, ...]:
    candidates = (*own, *_table(), *_families())
    english = {key: item.words for item in candidates for key in _names(item)}
    german = {key: item.words for item in candidates for key in _german_names(item)}
    shared = [
        item.words
        for item in (*own, *_table())
        if any(len(word) > 2 and word in _key(item.name).split() for word in wanted.split())
    ]
    close = [
        *(german[key] for key in _close(wanted, german, LEAST_NEAR_GERMAN)),
        *(english[key] for key in _close(wanted, english, LEAST_NEAR)),
    ]
    return tuple(dict.fromkeys((*close, *shared)))[:6]


def _close(wanted: str, keys: Iterable[str], least: float) -> list[str]:
    return difflib.get_close_matches(wanted, list(keys), n=6, cutoff=least)
