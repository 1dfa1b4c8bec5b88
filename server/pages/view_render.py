"""The Jinja environment of a language: strict names, everything escaped, drawings as functions."""

from __future__ import annotations

from collections.abc import Callable
from gettext import NullTranslations
from hashlib import sha256
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, nodes
from jinja2.visitor import NodeTransformer
from markupsafe import Markup

from server.pages import drawings
from server.pages.language import ENGLISH, LANGUAGES, catalogue, script_words
from server.pages.views import FRAGMENTS, TEMPLATES, Page, context
from server.settings import resource_dir
from server.sharing.roles import may
from server.wording import Catalogue, say, say_as, say_n, told


class ToldEnvironment(Environment):
    """Tells what a template says without values when it is compiled, once for all."""

    words: Catalogue = NullTranslations()

    def _generate(
        self,
        source: nodes.Template,
        name: str | None,
        filename: str | None,
        defer_init: bool = False,
    ) -> str:
        told_tree = _Telling(self.words).visit(source)
        return super()._generate(told_tree, name, filename, defer_init)


class _Telling(NodeTransformer):
    def __init__(self, words: Catalogue) -> None:
        self.words = words

    def visit_Call(self, node: nodes.Call) -> nodes.Node:
        self.generic_visit(node)
        is_say = isinstance(node.node, nodes.Name) and node.node.name == "say"
        match node.args:
            case [nodes.Const(value=str(message))] if is_say and not node.kwargs:
                return nodes.Const(self.words.gettext(message), lineno=node.lineno)
        return node


class Templates(dict[str, ToldEnvironment]):
    """The environment of each language, made when the first reader asks for it.

    space_warning  what to say where the disk runs full; "" while there is room
    """

    def __init__(self, space_warning: Callable[[], str] = str) -> None:
        self.space_warning = space_warning

    def __missing__(self, language: str) -> ToldEnvironment:
        made = environment(
            resource_dir("templates"), resource_dir("static"), language, self.space_warning
        )
        return self.setdefault(language, made)


def environment(
    templates: Path,
    static: Path,
    language: str = ENGLISH,
    space_warning: Callable[[], str] = str,
) -> ToldEnvironment:
    """The environment of one language; addresses of static files carry a hash of their content."""
    env = ToldEnvironment(
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
    env.globals["space_warning"] = space_warning
    env.globals["draw_ladder"] = drawings.draw_ladder
    env.globals["draw_plot"] = drawings.draw_plot
    env.globals["language"] = language
    env.globals["languages"] = LANGUAGES
    env.globals["script_words"] = script_words(language)
    speak(env, catalogue(language))
    return env


def speak(env: ToldEnvironment, words: NullTranslations) -> None:
    """Lets templates say things, and shows everything that was said in that language.

    To be called before a template is compiled.
    """
    env.words = words

    def say_html(message: str, /, **values: object) -> Markup:
        """As say, for a message with tags of ours in it; values are escaped."""
        shown = {name: told(value, words) for name, value in values.items()}
        return Markup(words.gettext(message)).format(**shown)

    env.globals.update(say=say, say_as=say_as, say_n=say_n, say_html=say_html)
    if words is not catalogue(ENGLISH):
        env.finalize = lambda value: told(value, words)

        def length(value: Any) -> int:
            return len(told(value, words))  # as long as it is shown

        env.filters["length"] = length


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
