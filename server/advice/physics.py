"""What is believed of a cut before this shop has taught anything.

Cutting stiffness over machine stiffness: from some hundredths for a stiff shop lathe to near one
for slender work and boring bars (Kienzle force tables, cantilever stiffness; recalled).  Thinnest
cut: 0.2 to 0.4 of an edge radius of 3 to 60 um (Weule 2001, Vogler 2004; recalled), twice that on
diameter; a V cut needs the chip on its flanks, so about twice again.  A tool pulled out and
returned to its dial repeats to about 0.01 mm on a 0.025 mm graduation (common practice), closer on
the finer screw that a finer graduation sits on.
"""

from __future__ import annotations

from dataclasses import replace

from server.advice.model import CutKind, Job, Prior

_USUAL_GRADUATION_MM = 0.025
_SHARPNESS = 0.3  # how the thinnest cut does: fine work gets a sharp tool
_FINENESS = 0.5  # how the scatter of a cut follows the graduation
_FINENESS_IN_A_THREAD = 0.25  # there the half nut and the lead of the screw scatter too

_STARTING = {
    CutKind.TURN: Prior(0.10, 0.8, 0.019, 0.012, 0.8, 0.006, 0.45),
    CutKind.BORE: Prior(0.32, 0.85, 0.019, 0.012, 0.8, 0.005, 0.45),
    CutKind.THREAD: Prior(0.13, 0.95, 0.017, 0.014, 0.8, 0.010, 0.5),
    CutKind.LENGTH: Prior(0.05, 0.8, 0.019, 0.012, 0.8, 0.006, 0.45),
}


def starting_prior(kind: CutKind) -> Prior:
    """What physics says of a cut of this kind, before this shop has taught anything."""
    return _STARTING[kind]


def scaled(prior: Prior, kind: CutKind, graduation_mm: float, *, back: bool = False) -> Prior:
    """The prior fitted to the fineness of a dial, or back to the usual graduation."""
    ratio = graduation_mm / _USUAL_GRADUATION_MM
    fineness = _FINENESS_IN_A_THREAD if kind is CutKind.THREAD else _FINENESS
    scatter = min(max(ratio**fineness, 0.25), 1.6)
    least = min(max(ratio**_SHARPNESS, 0.3), 1.3)
    if back:
        scatter, least = 1 / scatter, 1 / least
    return replace(
        prior,
        cut_scatter_mm=prior.cut_scatter_mm * scatter,
        least_cut_mm=prior.least_cut_mm * least,
    )


def prior_for(job: Job, prior: Prior | None) -> Prior:
    """The prior in force: the shop's, else physics, fitted to the fineness of this dial."""
    return scaled(
        prior if prior is not None else starting_prior(job.kind), job.kind, job.graduation_mm
    )
