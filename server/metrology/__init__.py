"""Pure computation: sizes, limits, contact, temperature, doubt and infeed.

Lengths are millimetres, angles radians, temperatures degrees Celsius. Nothing in here knows of
the web, a database or the clock.
"""
