"""The template engine of the page and the labels. The only place that knows jinja2."""

from __future__ import annotations

import unicodedata
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from nesting.drawing.metrics import clean


@cache
def environment() -> Environment:
    """Return the template engine: all that is filled in is escaped, and a name that is missing is an error.

    Text is made one line without control characters, and set apart where it runs from right to left; what goes
    through the filter `ident` stays letter for letter as it is.
    """
    made = Environment(
        loader=PackageLoader("nesting.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        keep_trailing_newline=True,
        finalize=_plain,
    )
    made.filters["ident"] = escape
    return made


def _plain(value: object) -> object:
    """Return what is filled in as plain text; markup of our own, and text that is plain already, stay as they are."""
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    is_plain = value.isprintable() and not any(unicodedata.bidirectional(char) in ("R", "AL") for char in value)
    return value if is_plain else clean(value)
