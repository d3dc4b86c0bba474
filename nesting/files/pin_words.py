"""Pins in words, as the command line takes them ("Kitchen: no seam"), put among the keys of the job file."""

from __future__ import annotations

import copy
import re
from collections.abc import Sequence
from typing import Any

from nesting.errors import Fault, JobError
from nesting.files.fields import nearest
from nesting.files.yaml_tree import Loc, Tree

HINT = (
    "write `ROOM: lay north-south`, `ROOM: seam 1.2 m from north`, `ROOM: seam from 0, 1.2 to 4, 1.2`, "
    "`ROOM: no seam`, `ROOM: at most 2 seams`, `ROOM: cut from R-17, R-18`, `ROOM: layout from PLAN` "
    "or `ROOM, ROOM: one lot`"
)

_WORDS = (
    ("lay", re.compile(r"(?:lay|laid)\s+(?P<lay>.+)", re.I)),
    ("seams", re.compile(r"seam\s+from\s+(?P<start>.+?)\s+to\s+(?P<end>.+)", re.I)),
    ("seams", re.compile(r"seam\s+(?:at\s+)?(?P<distance>.+?)\s+from\s+(?:the\s+)?(?P<wall>.+)", re.I)),
    ("most seams", re.compile(r"no\s+seams?", re.I)),
    ("most seams", re.compile(r"at\s+most\s+(?P<most>\S+)\s+seams?", re.I)),
    ("cut from", re.compile(r"cut\s+from\s+(?P<goods>.+)", re.I)),
    ("layout from", re.compile(r"layout\s+from\s+(?P<plan>.+)", re.I)),
    ("one lot", re.compile(r"(?:of\s+)?one\s+lot", re.I)),
)


def with_pins(tree: Tree, pins: Sequence[str]) -> Tree:
    """Return a job's values with pins in words among them; one that the file has too counts instead of it.

    Raises
    ------
    JobError
        With every pin that is none.
    """
    if not pins or not isinstance(tree.data, dict):
        return tree
    data = copy.deepcopy(tree.data)
    given: dict[Loc, str] = {}
    faults = []
    for text in pins:
        found = _added(data, text)
        if isinstance(found, Fault):
            faults.append(found)
        else:
            given[found] = option(text)
    if faults:
        raise JobError(faults)
    return Tree(data, tree.lines, given)


def option(text: str) -> str:
    """Return how a pin was typed."""
    return f'--pin "{text}"'


def _rooms(data: dict[str, Any]) -> dict[str, int]:
    """Return the numbers of the rooms by their names and ids, lower case."""
    items = data.get("rooms")
    found: dict[str, int] = {}
    for key in ("id", "name"):
        for i, item in enumerate(items if isinstance(items, list) else []):
            if isinstance(item, dict) and isinstance(item.get(key), str):
                found.setdefault(item[key].strip().lower(), i)
    return found


def _added(data: dict[str, Any], text: str) -> Loc | Fault:
    """Add one pin to the values; return its path, or what is wrong with it."""

    def fault(code: str, what: str, hint: str = HINT) -> Fault:
        return Fault(code=code, what=what, hint=hint, file=option(text))

    rooms = _rooms(data)
    heads = [text[: found.start()] for found in re.finditer(":", text)]
    if not heads:
        return fault("bad-pin", "this is not a pin: no room stands before a colon")
    head = next((head for head in heads if head.strip().lower() in rooms), heads[0])
    words = " ".join(text[len(head) + 1 :].split())
    which = next(((key, match) for key, form in _WORDS if (match := form.fullmatch(words))), None)
    if which is None:
        return fault("bad-pin", f"{words!r} does not say what is fixed")
    key, match = which
    if key == "one lot":
        lots = data.get("one lot")
        lots = [*lots] if isinstance(lots, list) else []
        data["one lot"] = [*lots, [name.strip() for name in re.split(r",|\band\b", head) if name.strip()]]
        return "one lot", len(lots)
    number = rooms.get(head.strip().lower())
    if number is None:
        names = [str(item.get("name", "")) for item in data.get("rooms") or [] if isinstance(item, dict)]
        return fault("unknown-name", f"there is no room {head.strip()!r}", nearest(head.strip(), names))
    return _pinned(data["rooms"][number], ("rooms", number), key, match)


def _pinned(room: dict[str, Any], loc: Loc, key: str, match: re.Match[str]) -> Loc:
    """Write a pin into the values of its room; return its path."""
    if key == "lay":
        room["lay"] = match["lay"]
        return (*loc, "lay")
    pins = room.setdefault("pins", {})
    if not isinstance(pins, dict):
        return (*loc, "pins")  # a fault of the file, said when it is read
    if key == "seams":
        seams = pins.get("seams")
        seams = [*seams] if isinstance(seams, list) else []
        by_points = "start" in match.groupdict()
        seam = (
            {"from": match["start"], "to": match["end"]}
            if by_points
            else {"parallel to": match["wall"], "distance": match["distance"]}
        )
        pins["seams"] = [*seams, seam]
        return (*loc, "pins", "seams", len(seams))
    if key == "most seams":
        pins[key] = match.groupdict().get("most") or "0"
    elif key == "cut from":
        pins[key] = [name.strip() for name in re.split(r",|\s+and\s+", match["goods"]) if name.strip()]
    else:
        pins[key] = match["plan"]
    return (*loc, "pins", key)
