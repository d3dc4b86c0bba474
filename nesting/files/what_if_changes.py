"""What may be changed in a job: each change writes among the values of its file, as a person would.

*Wound the other way*: the start of the roll is its other end, so the goods, seen face up, are turned by half a turn.
The lattice spanned by (Rx, D) and (0, Ry) is the same after half a turn: (-Rx, -D) is a vector of it. So every match
stays as it is, a drop match too, and no advance changes; what is turned round is the arrow. Where a room of directed
goods is laid `towards` or `from` somewhere, its lay is turned so that the arrow points where it did; a lay of either
way is free to follow by itself. Goods in hand stay as they lie, their marks as measured.

*Drop the other way* is what a mirror does, and what one gets by reading the drop from the back: the motif sits down
where it sat up, (Rx, D) becomes (Rx, -D). That changes the advance of every match but straight and half-drop.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from nesting.files.fields import nearest, normal_word
from nesting.files.yaml_tree import Loc
from nesting.units import UnitError, parse_length, parse_price


class CannotBeError(Exception):
    """A change that is none, or that does not apply to the job."""

    def __init__(self, code: str, what: str, hint: str = "") -> None:
        super().__init__(what)
        self.code, self.what, self.hint = code, what, hint


@dataclass(slots=True)
class Changing:
    """A job's values while they are changed; `given`: the paths of what is new."""

    data: dict[str, Any]
    given: list[Loc] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    widened: dict[int, str] = field(default_factory=dict)  # materials of other widths, with their price per length
    priced: set[int] = field(default_factory=set)

    def all_notices(self) -> Iterator[str]:
        """Yield what the user should know of the changes."""
        yield from self.notices
        for number, price in self.widened.items():
            if number not in self.priced:
                yield f"{self.name(number)}: the price stays {price}, whatever the width; give `price` with the width"

    @property
    def materials(self) -> list[dict[str, Any]]:
        """The materials as they stand in the file."""
        found: list[dict[str, Any]] = self.data["materials"]
        return found

    def name(self, number: int) -> str:
        """Return what a material is called."""
        return str(self.materials[number]["name"]).strip()

    def number_of(self, name: str) -> int:
        """Return the number of the material called so."""
        for key in ("name", "id"):
            for number, item in enumerate(self.materials):
                if str(item.get(key, "")).strip().lower() == name.lower():
                    return number
        names = [self.name(number) for number in range(len(self.materials))]
        raise CannotBeError("unknown-name", f"there is no material {name!r}", nearest(name, names))

    def one(self, number: int | None) -> int:
        """Return the number of the material that is meant, or of the only one."""
        if number is None and len(self.materials) > 1:
            names = ", ".join(self.name(other) for other in range(len(self.materials)))
            raise CannotBeError("missing-key", "which material is missing", f"put `for …` behind it, one of: {names}")
        return number or 0

    def set(self, loc: Loc, value: Any) -> None:
        """Write a value at a path whose parts above are there or can be made."""
        at: Any = self.data
        for part in loc[:-1]:
            at = at[part] if isinstance(part, int) else at.setdefault(part, {})
        at[loc[-1]] = value
        self.given.append(loc)

    def rooms_of(self, number: int | None) -> list[tuple[int, dict[str, Any]]]:
        """Return the rooms of a material with their numbers; None: all rooms."""
        rooms = list(enumerate(self.data.get("rooms") or []))
        if number is None:
            return rooms
        return [(n, room) for n, room in rooms if self.one_of(room) == number]

    def one_of(self, item: dict[str, Any]) -> int:
        """Return the number of the material that a room or piece is of."""
        name = item.get("material")
        return 0 if name is None else self.number_of(str(name).strip())

    def layers(self, number: int | None) -> list[dict[str, Any]]:
        """Return all parts whose settings count before those of a material, or before those of the whole job."""
        above = self.materials if number is None else []
        return [*above, *(room for _, room in self.rooms_of(number))]

    def head(self, number: int | None) -> Loc:
        """Return the path of a material's settings, or of the whole job's."""
        return () if number is None else ("materials", number)


Make = Callable[[Changing, re.Match[str], int | None], None]
"""What makes a change: the job's values, the words, and the number of the material behind `for`."""


def width(job: Changing, match: re.Match[str], number: int | None) -> None:
    """Change the roll width made, or the widths; the prices of those that were made before stay theirs."""
    which = job.one(number)
    material, loc = job.materials[which], ("materials", which)
    widths = re.split(r"\s+or\s+|\s*,\s*", match["widths"])
    had = material.pop("widths", None) or material.pop("width", [])
    had = _listed(had)
    key: tuple[str, Any] = ("width", widths[0]) if len(widths) == 1 else ("widths", widths)
    job.set((*loc, key[0]), key[1])
    unit = str(job.data["unit"]).strip().lower()
    prices = material.get("prices")
    if prices is not None:
        by_width = {_length(width, unit): price for width, price in zip(had, prices, strict=True)}
        kept = [by_width.get(_length(width, unit)) for width in widths]
        material["prices"] = [] if None in kept else kept  # none fits: said when it is read
        if len(kept) == 1 and kept[0] is not None:
            material["price"] = kept[0]
            del material["prices"]
    elif {_length(width, unit) for width in widths} != {_length(width, unit) for width in had}:
        price = str(material.get("price", ""))
        if price and parse_price(price).per_m is not None:
            job.widened[which] = price


def _length(text: str, unit: str) -> int | None:
    try:
        return parse_length(text, unit)
    except UnitError:
        return None  # a fault that is said when it is read


def trim(job: Changing, match: re.Match[str], number: int | None) -> None:
    """Change the trim in every room."""
    for layer in job.layers(number):
        layer.pop("trim", None)
    job.set((*job.head(number), "trim"), match["trim"])


def cross_seams(job: Changing, match: re.Match[str], number: int | None) -> None:
    """Change how many cross seams a breadth may have, in every room."""
    if number is not None and _is_waived(job.data):
        what = "the rule on cross seams is waived for the whole job"
        raise CannotBeError("rule-waived", what, "leave `for …` out, or change the job file")
    own = job.data if number is None else job.materials[number]
    for layer in (own, *job.layers(number)):
        rules = layer.get("rules") or {}
        rules.pop("cross seams", None)
        if _is_waived(layer):
            rules["waive"] = [rule for rule in _listed(rules["waive"]) if normal_word(rule) != "cross-seams"]
    many = match.groupdict().get("many") or "1"
    job.set((*job.head(number), "rules", "cross seams"), "0" if many.lower() == "no" else many)


def _is_waived(layer: dict[str, Any]) -> bool:
    """Tell whether the rule on cross seams is waived in this very part of the file."""
    waived = (layer.get("rules") or {}).get("waive") or []
    return "cross-seams" in (normal_word(rule) for rule in _listed(waived))


def _listed(value: Any) -> list[str]:
    return value if isinstance(value, list) else [value]


def without_rule(job: Changing, match: re.Match[str], number: int | None) -> None:
    """Waive a rule."""
    head = job.head(number)
    layer = job.data if number is None else job.materials[number]
    rules = layer.setdefault("rules", {})
    waived = _listed(rules.get("waive") or [])
    rules["waive"] = [*waived, match["rule"]]
    job.given.append((*head, "rules", "waive", len(waived)))


def _stock(job: Changing, number: int | None) -> list[dict[str, Any]]:
    found = [item for item in job.data.get("stock") or [] if number is None or job.one_of(item) == number]
    if not found:
        raise CannotBeError("no-stock", "the job has no such goods in hand", "leave it out")
    return found


def _keep(job: Changing, gone: list[dict[str, Any]]) -> None:
    kept = [item for item in job.data["stock"] if not any(item is other for other in gone)]
    if kept:
        job.data["stock"] = kept
    else:
        del job.data["stock"]


def without_stock(job: Changing, match: re.Match[str], number: int | None) -> None:
    """Leave out all goods in hand, or all remnants."""
    which = match["which"].lower()
    found = _stock(job, number)
    if which == "remnants":
        found = [item for item in found if normal_word(str(item.get("kind") or "remnant")) == "remnant"]
    if not found:
        raise CannotBeError("no-stock", "the job has no remnants", "to leave out rolls too, write `without stock`")
    _keep(job, found)


def _labelled(job: Changing, labels: str, number: int | None) -> list[dict[str, Any]]:
    found = _stock(job, number)
    ids = {str(item["id"]).strip().lower(): item for item in found}
    named = []
    for label in filter(None, re.split(r"\s*,\s*|\s+and\s+", labels)):
        if label.lower() not in ids:
            hint = nearest(label, [str(item["id"]) for item in found])
            raise CannotBeError("unknown-name", f"no piece in hand is labelled {label!r}", hint)
        named.append(ids[label.lower()])
    return named


def without_pieces(job: Changing, match: re.Match[str], number: int | None) -> None:
    """Leave out some goods in hand."""
    _keep(job, _labelled(job, match["labels"], number))


def only_pieces(job: Changing, match: re.Match[str], number: int | None) -> None:
    """Leave out all goods in hand but some."""
    kept = _labelled(job, match["labels"], number)
    gone = [item for item in _stock(job, number) if not any(item is other for other in kept)]
    if gone:
        _keep(job, gone)


def _patterned(job: Changing, number: int | None) -> int:
    which = job.one(number)
    material = job.materials[which]
    none = normal_word(str(material.get("match", ""))) in ("", "none", "random", "free")
    if none or "repeat along" not in material:
        raise CannotBeError("no-repeat", f"{job.name(which)} has no pattern", "leave it out")
    return which


def repeat(job: Changing, match: re.Match[str], number: int | None) -> None:
    """Change a repeat that was known to what was measured on the delivered roll."""
    which = _patterned(job, number)
    key = f"repeat {match['way'].lower()}"
    known = normal_word(str(job.materials[which].get(key, "unknown")))
    if known in ("unknown", "at-the-seam", "none", "no", "does-not-vary"):
        what = f"no repeat {match['way'].lower()} of {job.name(which)} is known that could have been measured"
        raise CannotBeError("no-repeat", what, f"give `{key}` in the job file")
    job.set(("materials", which, key), match["much"])


def drop(job: Changing, match: re.Match[str], number: int | None) -> None:
    """Change the sense of the drop: (Rx, D) becomes (Rx, -D)."""
    which = _patterned(job, number)
    text = str(job.materials[which]["match"])
    down = re.search(r"\bdown\s+by\b", text, re.I)
    up = None if down else re.search(r"\bup\s+by\b|\bdrop\s+(?=\S)", text, re.I)
    if down:
        text = f"{text[: down.start()]}up by{text[down.end() :]}"
    elif up:
        text = f"{text[: up.start()]}down by {text[up.end() :].strip()}"
    else:
        raise CannotBeError("bad-drop", f"`match: {text}` is the same up and down", "leave it out")
    job.set(("materials", which, "match"), text)


def wound(job: Changing, match: re.Match[str], number: int | None) -> None:
    """Turn round what is laid one way only, so that the arrow of the goods points where it did."""
    which = job.one(number)
    if str(job.materials[which].get("directed", "yes")).strip().lower() in ("no", "false", "off"):
        what = f"{job.name(which)} has no arrow, and its match is the same after half a turn"
        raise CannotBeError("no-arrow", what, "leave it out; for a motif that sits down, write `drop the other way`")
    turned = []
    for n, room in job.rooms_of(which):
        if "layout from" in (room.get("pins") or {}):
            what = f"the layout of {room.get('name')} is pinned with its lay"
            raise CannotBeError("pinned-lay", what, "take the pin out")
        lays = room.get("lay", [])
        turned_lays = [_turned_round(lay) for lay in _listed(lays)]
        if turned_lays != _listed(lays):
            job.set(("rooms", n, "lay"), turned_lays)
            turned.append(str(room.get("name")))
    match_ = "" if "repeat along" not in job.materials[which] else "; the match is the same after half a turn"
    laid = f"{' and '.join(turned)} laid the other way round" if turned else "no room is laid one way only"
    job.notices.append(f"{job.name(which)} wound the other way: {laid}{match_}")


def _turned_round(lay: str) -> str:
    """Return a lay that is one way only the other way round, any other as it is."""
    head, _, rest = " ".join(lay.split()).partition(" ")
    if head.lower() in ("towards", "to") and rest:
        return f"from {rest}"
    return f"towards {rest}" if head.lower() == "from" and rest else lay


def _goal(job: Changing) -> dict[str, Any]:
    goal = job.data.get("goal", {})
    job.data["goal"] = {"kind": goal} if isinstance(goal, str) else goal
    found: dict[str, Any] = job.data["goal"]
    return found


def of_goal(key: str) -> Make:
    """Return what changes a key of the goal."""

    def make(job: Changing, match: re.Match[str], number: int | None) -> None:
        if number is not None:
            raise CannotBeError("bad-change", "this holds for the whole job, not for a material", "leave `for …` out")
        goal = _goal(job)
        much = match.groupdict().get("much")
        if match[0].lower().startswith("any"):
            goal.pop(key, None)
        else:
            job.set(("goal", key), much or "0")

    return make


def of_material(key: str) -> Make:
    """Return what changes a key of a material."""

    def make(job: Changing, match: re.Match[str], number: int | None) -> None:
        which = job.one(number)
        if key == "price":
            job.materials[which].pop("prices", None)
            job.priced.add(which)
        job.set(("materials", which, key), match["much"])

    return make
