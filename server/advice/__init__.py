"""Pure computation: what a cut leaves behind, and what to dial next.

All lengths are millimetres **on diameter** (on length for axial stock), positive while metal is
still to come off. Nothing in here knows of the web, a database or the clock.
"""
