"""The one Jinja environment: strict names, everything escaped, drawings as functions."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from server.pages import drawings
from server.pages.views import FRAGMENTS, TEMPLATES, Page, context
from server.sharing.roles import may


def environment(templates: Path, static: Path) -> Environment:
    """The environment; addresses of static files carry a hash of their content."""
    env = Environment(
        loader=FileSystemLoader(templates),
        autoescape=True,
        auto_reload=False,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    addresses: dict[str, str] = {}

    def asset(name: str) -> str:
        if name not in addresses:
            version = sha256((static / name).read_bytes()).hexdigest()[:10]
            addresses[name] = f"/static/{name}?v={version}"
        return addresses[name]

    env.globals["asset"] = asset
    env.globals["may"] = may
    env.globals["space_warning"] = str  # "" until there is a disk to speak of
    env.globals["draw_ladder"] = drawings.draw_ladder
    env.globals["draw_plot"] = drawings.draw_plot
    return env


def get_ready(env: Environment) -> None:
    """Compiles every template, the screen at the lathe first: the first page is then no slower."""
    for name in (*FRAGMENTS.values(), *TEMPLATES.values()):
        env.get_template(name)


def page(env: Environment, view: Page) -> str:
    """The whole page of a view."""
    return env.get_template(TEMPLATES[type(view)]).render(context(view))


def fragment(env: Environment, view: Page) -> str:
    """The part of a page that changes, for a request that carries HX-Request."""
    return env.get_template(FRAGMENTS[type(view)]).render(context(view))
