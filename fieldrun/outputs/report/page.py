"""The report as one page that needs nothing else: no net, no font, no script to be read."""

import base64
import hashlib
from functools import lru_cache
from importlib.resources import files

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from fieldrun.outputs.report.records import Report


def page_text(report: Report) -> str:
    """The HTML. Texts are escaped, whatever is in them; style and script run by their hashes only."""
    style, script = _packaged("style.css"), _packaged("script.js")
    own = {"style": Markup(style), "script": Markup(script), "policy": policy(style, script)}  # noqa: S704 - ours
    return _template().render(report=report, **own).lstrip()


def policy(style: str, script: str) -> str:
    """What the page may do: nothing but its own style, its own script and images that are in it."""
    return (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _packaged(name: str) -> str:
    return (files("fieldrun.outputs.report") / name).read_text(encoding="utf-8")


@lru_cache
def _template() -> Template:
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=False, keep_trailing_newline=True)
    environment.filters["sentence"] = lambda text: text[:1].upper() + text[1:]
    return environment.from_string(_packaged("page.html.jinja"))
