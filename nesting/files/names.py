"""Names as identifiers and as file names."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Container

_RESERVED = {"con", "prn", "aux", "nul", *(f"com{n}" for n in range(10)), *(f"lpt{n}" for n in range(10))}
_LONGEST = 48


def slug(name: str, fallback: str = "unnamed") -> str:
    """Return `name` in lower-case ASCII letters, digits and hyphens, at most 48 of them."""
    plain = unicodedata.normalize("NFKD", name.replace("ß", "ss")).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:_LONGEST].strip("-") or fallback


def unique(name: str, taken: Container[str]) -> str:
    """Return `name`, with a number behind it if it is taken."""
    if name not in taken:
        return name
    number = 2
    while f"{name}-{number}" in taken:
        number += 1
    return f"{name}-{number}"


def safe_file_name(stem: str, suffix: str, taken: Container[str] = ()) -> str:
    """Return a file name that every common system takes, made from any text; `suffix` with its dot."""
    plain = slug(stem)
    if plain in _RESERVED:
        plain += "-1"
    number, name = 1, plain
    while f"{name}{suffix}" in taken:
        number += 1
        name = f"{plain}-{number}"
    return f"{name}{suffix}"
