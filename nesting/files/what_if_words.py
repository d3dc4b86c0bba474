"""Changes to a job in words ("Narrow: rolls 3 m wide; no cross seams"), read as if they had stood in its file.

What a change is to mean is said in `what_if_changes`; lengths, words and faults are those of the job file.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Sequence
from dataclasses import dataclass

from nesting.errors import Fault
from nesting.files import what_if_changes as changes
from nesting.files.what_if_changes import CannotBeError, Changing, Make
from nesting.files.yaml_tree import Tree

HINT = (
    "write `rolls 3 m wide`, `trim 2 in`, `no cross seams`, `2 cross seams a breadth`, `without remnants`, "
    "`without R-17`, `only R-17 in hand`, `without rule least-breadth`, `repeat 638 mm along`, `repeat 402 mm across`, "
    "`wound the other way`, `drop the other way`, `seam worth 1 m`, `goal least roll`, `at most 3 seams`, "
    "`any number of seams`, `order step 10 cm`, `longest roll 25 m` or `price 24.50 per m`; put `for MATERIAL` behind "
    "it where there are several"
)

LONGEST_NAME = 60


def named_changes(texts: Sequence[str], taken: Sequence[str]) -> tuple[dict[str, str], list[Fault]]:
    """Return by their text the names of all variants that have one, and what is wrong with the others.

    `taken`: names that are not free.
    """
    found: dict[str, str] = {}
    faults = []
    names = {name.lower() for name in taken}
    for text in texts:
        head, colon, rest = text.partition(":")
        name = " ".join(head.split())
        if not colon or not name or not rest.strip(" ;"):
            what = "a name, a colon and at least one change are expected"
            faults.append(_fault(text, "bad-change", what, "write `Narrow: rolls 3 m wide; trim 2 in`"))
            continue
        if len(name) > LONGEST_NAME or not name.isprintable():
            what = "the name is too long, or cannot be printed"
            faults.append(_fault(text, "bad-name", what, f"at most {LONGEST_NAME} letters"))
        elif name.lower() in names:
            what = f"two variants are called {name!r}"
            faults.append(_fault(text, "name-twice", what, "give each a name of its own"))
        names.add(name.lower())
        found[text] = name
    return found, faults


def option(text: str) -> str:
    """Return how a variant was asked for."""
    return f'--if "{text}"'


def _fault(text: str, code: str, what: str, hint: str = HINT) -> Fault:
    return Fault(code=code, what=what, hint=hint, file=option(text))


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """The values of a job with changes among them, and what its user should know of these."""

    tree: Tree
    notices: tuple[str, ...]


def with_changes(tree: Tree, text: str) -> Changed | list[Fault]:
    """Return a sound job's values with the changes of a text in words, or what is wrong with these."""
    changing = Changing(copy.deepcopy(tree.data))
    faults = []
    for change in filter(None, (" ".join(part.split()) for part in text.partition(":")[2].split(";"))):
        try:
            _make(changing, change)
        except CannotBeError as error:
            faults.append(_fault(text, error.code, f"{change}: {error.what}", error.hint))
    if faults:
        return faults
    given = tree.given | dict.fromkeys(changing.given, option(text))
    return Changed(tree=Tree(changing.data, tree.lines, given), notices=tuple(changing.all_notices()))


def _make(changing: Changing, change: str) -> None:
    """Make one change."""
    words, material = change, None
    if " for " in change.lower():
        cut = change.lower().rindex(" for ")
        words, material = change[:cut].strip(), change[cut + 5 :].strip()
    for form, make in _FORMS:
        match = form.fullmatch(words)
        if match:
            make(changing, match, None if material is None else changing.number_of(material))
            return
    raise CannotBeError("bad-change", "this is not a change that is known", HINT)


_FORMS: tuple[tuple[re.Pattern[str], Make], ...] = tuple(
    (re.compile(form, re.I), make)
    for form, make in (
        (r"(?:rolls?\s+)?(?P<widths>.+?)\s+wide", changes.width),
        (r"width\s+(?P<widths>.+)", changes.width),
        (r"trim\s+(?P<trim>.+)", changes.trim),
        (r"cross\s+seams?\s+allowed", changes.cross_seams),
        (r"(?P<many>\S+)\s+cross\s+seams?(?:\s+(?:a|per|in\s+a|in\s+every)\s+breadth)?", changes.cross_seams),
        (r"without\s+(?:the\s+)?rule\s+(?P<rule>.+)", changes.without_rule),
        (r"without\s+(?:the\s+|any\s+)?(?P<which>stock|goods\s+in\s+hand|remnants)", changes.without_stock),
        (r"without\s+(?P<labels>.+)", changes.without_pieces),
        (r"(?:with\s+)?only\s+(?P<labels>.+?)(?:\s+(?:in\s+hand|from\s+stock))?", changes.only_pieces),
        (r"repeat\s+(?P<much>.+?)\s+(?P<way>along|across)", changes.repeat),
        (r"drop\s+the\s+other\s+way", changes.drop),
        (r"wound\s+the\s+other\s+way", changes.wound),
        (r"seam\s+worth\s+(?P<much>.+)", changes.of_goal("seam worth")),
        (r"goal\s+(?P<much>.+)", changes.of_goal("kind")),
        (r"at\s+most\s+(?P<much>\S+)\s+seams?|no\s+seams?|any\s+number\s+of\s+seams", changes.of_goal("most seams")),
        (r"order\s+step\s+(?P<much>.+)", changes.of_material("order step")),
        (r"longest(?:\s+roll)?\s+(?P<much>.+)", changes.of_material("longest")),
        (r"price\s+(?P<much>.+)", changes.of_material("price")),
    )
)
