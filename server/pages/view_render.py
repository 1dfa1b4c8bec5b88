"""The one Jinja environment: strict names, everything escaped, drawings as functions."""

from __future__ import annotations

from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from server.pages import drawings
from server.pages.views import FRAGMENTS, TEMPLATES, Page, context


def environment(folder: Path) -> Environment:
    """The environment for the templates in folder."""
    env = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.globals["draw_ladder"] = drawings.draw_ladder
    env.globals["draw_plot"] = drawings.draw_plot
    return env


def page(env: Environment, view: Page) -> str:
    """The whole page of a view."""
    return env.get_template(TEMPLATES[type(view)]).render(context(view))


def fragment(env: Environment, view: Page) -> str:
    """The part of a page that changes, for a request that carries HX-Request."""
    return env.get_template(FRAGMENTS[type(view)]).render(context(view))
