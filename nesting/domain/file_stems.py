"""File stems of what is written for a roll or a room: the same for every kind of file."""

from __future__ import annotations

import re


def file_stem(wish: str, taken: set[str]) -> str:
    """Return a file stem near `wish` that any file system takes and that nothing else has; notes it in `taken`."""
    plain = re.sub(r"[^A-Za-z0-9_-]+", "-", wish).strip("-")[:80] or "drawing"
    stem, number = plain, 1
    while stem.lower() in taken:
        number += 1
        stem = f"{plain}-{number}"
    taken.add(stem.lower())
    return stem
