"""A YAML file as plain values that remember their lines.

Every scalar stays the text that was written (a length must not pass through a binary float), every value knows its
line. Anchors, aliases, merge keys, tags and keys that stand twice are refused, depth and size are bounded: a job has
no use for them, and a hostile file none for us.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    NodeEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)
from ruamel.yaml.reader import ReaderError

from nesting.errors import Fault, JobError

LARGEST_JOB_BYTES = 2_000_000
DEEPEST = 12
MOST_VALUES = 60_000
LONGEST_TEXT = 2_000

Loc = tuple[str | int, ...]
"""The path of a value: keys and list indexes."""

_NULLS = ("", "~", "null", "Null", "NULL")


@dataclass(frozen=True, slots=True)
class Tree:
    """The values of a file: dicts, lists, text; the line of each by its path. Keys without a value are left out.

    `given`: paths of values that stand in no file, with where they come from.
    """

    data: Any
    lines: dict[Loc, int]
    given: dict[Loc, str] = field(default_factory=dict)

    def origin_of(self, loc: Loc) -> str:
        """Return where the value at `loc` comes from if it stands in no file, else ""."""
        return next((self.given[loc[:n]] for n in range(len(loc), 0, -1) if loc[:n] in self.given), "")

    def line_of(self, loc: Loc) -> int:
        """Return the line of the value at `loc`, or of the nearest thing round it."""
        while loc and loc not in self.lines:
            loc = loc[:-1]
        return self.lines.get(loc, 1)


def normal_key(text: str) -> str:
    """Return a key as the models know it: lower case, single spaces for `_` and `-`."""
    return " ".join(text.lower().replace("_", " ").replace("-", " ").split())


def read_tree(text: str, file: str, what: str = "job") -> Tree:
    """Return the tree of a YAML text; `what` it should hold, for the messages.

    Raises
    ------
    JobError
        With all faults of this kind that were found.
    """
    builder = _Builder(file=file, what=what)
    try:
        events = iter(YAML(typ="safe", pure=True).parse(text))
        data = builder.document(events)
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        what = " ".join(str(error.problem or error.context or "cannot be read").split())
        raise JobError([builder.not_yaml(what, mark.line + 1 if mark else 0)]) from None
    except ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        what = f"the sign U+{ord(text[min(error.position, len(text) - 1)]):04X} cannot stand in a text file"
        raise JobError([builder.fault("not-yaml", what, line, "delete it: your editor may not show it")]) from None
    except YAMLError as error:
        first = (str(error).strip().splitlines() or ["cannot be read"])[0]
        raise JobError([builder.not_yaml(first, 0)]) from None
    except (ValueError, RecursionError) as error:
        raise JobError([builder.not_yaml(str(error)[:80], 0)]) from None
    if builder.faults:
        raise JobError(builder.faults)
    return Tree(data, builder.lines)


@dataclass(slots=True)
class _Builder:
    """Turns the parser's events into values; it never goes deeper than `DEEPEST`."""

    file: str
    what: str
    lines: dict[Loc, int] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    values: int = 0

    def fault(self, code: str, what: str, line: int, hint: str = "") -> Fault:
        return Fault(code=code, what=what, hint=hint, file=self.file, line=line)

    def not_yaml(self, what: str, line: int) -> Fault:
        hint = "indent with spaces, `key: value` on a line; put a value that starts with a quote into quotes"
        if "\\t" in what or "'\t'" in what:
            hint = "indent with spaces, not with tabs"
        return self.fault("not-yaml", f"this is not YAML: {what}", line, hint)

    def document(self, events: Iterator[Event]) -> Any:
        """Return the value of the one document."""
        data: Any = None
        documents = 0
        for event in events:
            if isinstance(event, DocumentStartEvent):
                documents += 1
                if documents > 1:
                    line = event.start_mark.line + 1
                    raise JobError(
                        [self.fault("two-documents", "a second document begins here", line, f"one {self.what} a file")]
                    )
            elif isinstance(event, NodeEvent):
                data = self.value(event, events, ())
        if data is None:
            raise JobError(
                [
                    self.fault(
                        "empty-file", f"the file holds no {self.what}", 0, "`rollwright starter` writes a starter job"
                    )
                ]
            )
        return data

    def value(self, event: Event, events: Iterator[Event], loc: Loc) -> Any:
        """Return the value that begins with `event`."""
        line = event.start_mark.line + 1
        self.lines.setdefault(loc, line)
        self.values += 1
        if self.values > MOST_VALUES:
            raise JobError([self.fault("too-large", f"the file holds more than {MOST_VALUES} values", line)])
        if isinstance(event, AliasEvent) or getattr(event, "anchor", None) is not None:
            name = getattr(event, "anchor", "")
            what = f"anchors and aliases (&{name}, *{name}) are not read"
            raise JobError([self.fault("alias", what, line, "write the values out")])
        if getattr(event, "tag", None) is not None and not isinstance(event, ScalarEvent):
            what = f"tags ({getattr(event, 'tag', '')}) are not read"
            raise JobError([self.fault("tag", what, line, "leave the tag out")])
        if isinstance(event, ScalarEvent):
            return self.scalar(event, line)
        if len(loc) >= DEEPEST:
            raise JobError([self.fault("too-deep", f"values are nested more than {DEEPEST} deep", line)])
        if isinstance(event, MappingStartEvent):
            return self.mapping(events, loc)
        assert isinstance(event, SequenceStartEvent)
        items: list[Any] = []
        while not isinstance(inner := next(events), SequenceEndEvent):
            items.append(self.value(inner, events, (*loc, len(items))))
        return items

    def scalar(self, event: ScalarEvent, line: int) -> str | None:
        """Return the text of a scalar, None for a plain null."""
        if event.tag is not None and not (event.tag == "!" or event.implicit[0] or event.implicit[1]):
            raise JobError([self.fault("tag", f"tags ({event.tag}) are not read", line, "leave the tag out")])
        if len(event.value) > LONGEST_TEXT:
            raise JobError([self.fault("too-large", f"a text of more than {LONGEST_TEXT} letters stands here", line)])
        if event.style is None and event.value in _NULLS:
            return None
        return str(event.value)

    def mapping(self, events: Iterator[Event], loc: Loc) -> dict[str, Any]:
        """Return a mapping, without the keys that have no value."""
        data: dict[str, Any] = {}
        seen: dict[str, int] = {}
        while not isinstance(event := next(events), MappingEndEvent):
            line = event.start_mark.line + 1
            if not isinstance(event, ScalarEvent) or event.anchor is not None:
                raise JobError([self.fault("bad-key", "a key must be plain text", line)])
            key = normal_key(str(event.value))
            if key == "<<":
                raise JobError([self.fault("alias", "merge keys (<<) are not read", line, "write the values out")])
            if key in seen:
                what = f"the key `{key}` stands twice; it was given on line {seen[key]}"
                self.faults.append(self.fault("key-twice", what, line, "leave one of them out"))
            seen[key] = line
            inner = (*loc, key)
            self.lines[inner] = line
            value = self.value(next(events), events, inner)
            if value is not None:
                data[key] = value
        return data
