"""Every way a job file can be wrong: its code, line and words. After a change: pytest --rewrite-golden, and read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from nesting.errors import JobError
from nesting.files.job_file import parse_job, read_job

HEAD = "job: Bad\nunit: m\n"
GOODS = "materials:\n  - {name: Sheet, width: 2 m}\n"
ROOM = "rooms:\n  - {name: Den, rectangle: 3 x 2.5}\n"


def room(*lines: str) -> str:
    """Return a job of one room, 3 m x 2.5 m, with more keys."""
    return HEAD + GOODS + "rooms:\n  - name: Den\n    rectangle: 3 x 2.5\n" + "".join(f"    {line}\n" for line in lines)


def floor(*lines: str) -> str:
    """Return a job of one room with a floor of its own."""
    return HEAD + GOODS + "rooms:\n  - name: Den\n" + "".join(f"    {line}\n" for line in lines)


def goods(*lines: str) -> str:
    """Return a job of one room and one material with more keys."""
    return HEAD + "materials:\n  - name: Sheet\n" + "".join(f"    {line}\n" for line in lines) + ROOM


def stock(*lines: str) -> str:
    return HEAD + GOODS + ROOM + "stock:\n" + "".join(f"  - {line}\n" for line in lines)


def two_rooms(first: str, second: str, *more: str) -> str:
    """Return a job of two rooms, 3 x 2.5 m each, with one door each."""
    rooms = f"rooms:\n  - name: Den\n    rectangle: 3 x 2.5\n    doors: [{first}]\n"
    return HEAD + GOODS + rooms + f"  - name: Hall\n    rectangle: 3 x 2.5\n    doors: [{second}]\n" + "\n".join(more)


PATTERN = ("width: 3.66 m", "repeat along: 640 mm")

CASES: dict[str, tuple[str, list[str]]] = {
    # --- the file itself
    "empty": ("", ["empty-file"]),
    "comments only": ("# nothing\n", ["empty-file"]),
    "not YAML": ("job: [unclosed\nunit: m\n", ["not-yaml"]),
    "a tab": ("job: Bad\nmaterials:\n\t- name: x\n", ["not-yaml"]),
    "a bare quote": ('job: "Bad" room\n', ["not-yaml"]),
    "prose": ("Please lay two rooms.\n", ["not-a-job"]),
    "a list": ("- job: Bad\n", ["not-a-job"]),
    "control signs": ("job: \x07\n", ["not-yaml"]),
    "two documents": (HEAD + "---\n" + HEAD, ["two-documents"]),
    "an alias": (HEAD + GOODS + "rooms:\n  - &a {name: Den, rectangle: 3 x 2}\n  - *a\n", ["alias"]),
    "a merge key": (HEAD + GOODS + "rooms:\n  - {<<: {name: Den}, rectangle: 3 x 2}\n", ["alias"]),
    "a tag": ("job: !!python/object:os.system Bad\n", ["tag"]),
    "a tagged list": (HEAD + "materials: !!set [a]\n", ["tag"]),
    "a list as a key": ("? [a, b]\n: c\n", ["bad-key"]),
    "a key twice": (HEAD + "unit: ft\n" + GOODS + ROOM, ["key-twice"]),
    "a key twice in two spellings": (goods("width: 2 m", "order step: 5 cm", "order_step: 6 cm"), ["key-twice"]),
    "too deep": ("job: " + "[" * 40 + "]" * 40 + "\n", ["too-deep"]),
    "a bomb": ("a: &a [x, x]\nb: &b [*a, *a]\nc: &c [*b, *b]\n", ["alias"]),
    # --- keys and types
    "nothing in it": (HEAD, ["missing-key", "missing-key"]),
    "no unit": ("job: Bad\n" + GOODS + ROOM, ["missing-key"]),
    "unknown unit": ("job: Bad\nunit: furlong\n" + GOODS + ROOM, ["unknown-name"]),
    "unknown key of the job": (HEAD + "roms: []\n" + GOODS + ROOM, ["unknown-key"]),
    "unknown key of a room": (room("rectangel: 3 x 2"), ["unknown-key"]),
    "unknown key of a door": (room("doors: [{wall: north, from left: 1, width: 1, dept: 5 cm}]"), ["unknown-key"]),
    "a room is text": (HEAD + GOODS + "rooms:\n  - Den\n", ["wrong-type"]),
    "rooms are text": (HEAD + GOODS + "rooms: Den\n", ["wrong-type"]),
    "a length is a list": (room("trim: [1, 2]"), ["wrong-type"]),
    "yes or no is neither": (goods("width: 2 m", "directed: perhaps"), ["wrong-type"]),
    "a count of half": (
        HEAD + GOODS + "loose pieces:\n  - {name: Mat, size: 1 x 1, count: 1.5}\n",
        ["wrong-type"],
    ),
    "a count of none": (HEAD + GOODS + "loose pieces:\n  - {name: Mat, size: 1 x 1, count: 0}\n", ["too-small"]),
    "unknown goal": (HEAD + "goal: cheapest\n" + GOODS + ROOM, ["unknown-name"]),
    "unknown rule": (HEAD + "rules: {waive: keep-outs}\n" + GOODS + ROOM, ["unknown-name"]),
    "odd coins": (HEAD + "coins: 7\n" + GOODS + ROOM, ["bad-money"]),
    # --- lengths
    "a length of nothing": (goods("width: 0"), ["zero-size"]),
    "a negative length": (goods("width: -2 m"), ["negative-size"]),
    "an absurd length": (goods("width: 20000 m"), ["absurd-size"]),
    "no number": (goods("width: nan"), ["bad-length"]),
    "an unknown unit of length": (goods("width: 2 cubits"), ["unknown-unit"]),
    "a decimal comma": (goods("width: 2,5 m"), ["decimal-comma"]),
    "a size with one side": (floor("rectangle: 3"), ["bad-size"]),
    "a size with a side of nothing": (floor("rectangle: 3 x 0"), ["zero-size"]),
    "a point with one number": (floor("corners: [1, '2, 3', '4, 5']"), ["bad-point"]),
    # --- materials
    "no width": (goods("longest: 30 m"), ["missing-key"]),
    "width and widths": (goods("width: 2 m", "widths: [2 m, 4 m]"), ["given-twice"]),
    "a width twice": (goods("widths: [2 m, 200 cm]"), ["given-twice"]),
    "an overlap that eats the roll": (goods("width: 2 m", "selvedge: 50 cm", "seam overlap: 1 m"), ["roll-eaten"]),
    "a trim that eats the roll": (room("trim: 1 m"), ["roll-eaten"]),
    "whole rolls of no length": (goods("width: 2 m", "whole rolls: yes"), ["missing-key"]),
    "a minimum cut beyond the roll": (goods("width: 2 m", "longest: 3 m", "minimum cut: 4 m"), ["too-large"]),
    "a price per roll": (goods("width: 2 m", "price: 24 per roll"), ["bad-price"]),
    "one price for two widths": (goods("widths: [2, 4]", "price: 24 per m"), ["bad-price"]),
    "two prices for one width": (goods("width: 2", "prices: [24 per m, 30 per m]"), ["bad-price"]),
    "a match without a repeat": (goods("width: 2 m", "match: straight"), ["no-repeat"]),
    "a repeat without a match": (goods(*PATTERN), ["no-match"]),
    "an unknown match": (goods(*PATTERN, "match: crooked"), ["unknown-name"]),
    "a drop of a whole repeat": (goods(*PATTERN, "match: drop 640 mm"), ["bad-drop"]),
    "a drop without a repeat across": (
        goods(*PATTERN, "match: half-drop", "repeat across: none"),
        ["drop-without-across"],
    ),
    "a half-drop of eight repeats": (goods(*PATTERN, "repeat across: 45 cm", "match: half-drop"), ["drop-unclear"]),
    "a quarter-drop of three repeats": (goods(*PATTERN, "repeat across: 1.2 m", "match: drop 1/4"), ["drop-unclear"]),
    "a drop at the seam of two widths": (
        goods(
            "widths: [2 m, 3 m]",
            "repeat along: 64 cm",
            "repeat across: 50 cm",
            "match: drop 1/4",
            "drop counts: at the seam",
        ),
        ["drop-unclear"],
    ),
    "a drop per unknown repeat": (goods(*PATTERN, "match: half-drop", "drop counts: per repeat"), ["no-repeat"]),
    "a repeat wider than the roll": (goods(*PATTERN, "repeat across: 4 m", "match: straight"), ["repeat-too-wide"]),
    "seam lines without a repeat": (goods("width: 2 m", "seam lines across: [0, 50 cm]"), ["no-repeat"]),
    "a seam line beyond the repeat": (
        goods(*PATTERN, "repeat across: none", "match: straight", "seam lines along: 70 cm"),
        ["too-large"],
    ),
    "two materials of one name": (
        HEAD
        + "materials:\n  - {name: Sheet, width: 2}\n  - {name: sheet, width: 3}\n"
        + ROOM.replace("{", "{material: Sheet, "),
        ["name-twice"],
    ),
    # --- stock
    "stock of no known material": (stock("{id: R1, material: Shet, width: 2, length: 3}"), ["unknown-name"]),
    "one label twice": (stock("{id: R1, width: 2, length: 3}", "{id: r1, width: 2, length: 4}"), ["id-twice"]),
    "a flaw beside the roll": (
        stock("{id: R1, width: 2, length: 3, flaws: [{from start: 1, from left: 1.9, size: 20 x 20 cm}]}"),
        ["flaw-outside"],
    ),
    "a mark on plain goods": (stock("{id: R1, width: 2, length: 3, first mark: 1 cm along}"), ["no-repeat"]),
    "a mark in no words": (
        goods(*PATTERN, "match: straight") + "stock:\n  - {id: R1, width: 2, length: 3, first mark: somewhere}\n",
        ["bad-mark"],
    ),
    "a lot to order without a name": (stock("{id: R1, width: 2, length: 3, lot orderable: yes}"), ["missing-key"]),
    # --- floors
    "no floor": (HEAD + GOODS + "rooms:\n  - {name: Den}\n", ["no-floor"]),
    "two floors": (floor("rectangle: 3 x 2", "corners: ['0, 0', '1, 0', '0, 1']"), ["no-floor"]),
    "a walk that does not close": (floor("walk: [north 3, east 4, south 3.2, west 4]"), ["walk-open"]),
    "a walk that turns back": (floor("walk: [north 3, east 4, south 3, east 4]"), ["walk-open"]),
    "a walk open both ways": (floor("walk: [north 3, east 4, south 2, west 3]"), ["walk-open"]),
    "a walk with two missing walls": (floor("walk: [north 3, close, south 3, close]"), ["walk-open"]),
    "a walk that closes another way": (floor("walk: [north 3, east 4, south 3, east close]"), ["walk-open"]),
    "a step in no words": (floor("walk: [north, east 4, south 3, west 4]"), ["bad-step"]),
    "a step to nowhere": (floor("walk: [forward 3, east 4, south 3, west 4]"), ["bad-direction"]),
    "a wall of nothing": (floor("walk: [north 3, east 0, south 3, west 4]"), ["zero-size"]),
    "a walk of two walls": (floor("walk: [north 3, south 3]"), ["too-few-walls"]),
    "crossing corners": (floor("corners: ['0, 0', '3, 3', '3, 0', '0, 3']"), ["self-crossing"]),
    "corners on a line": (floor("corners: ['0, 0', '1, 0', '2, 0']"), ["self-crossing"]),
    "walls of one name": (
        floor("walk: [{go: north 3, wall: bay}, east 4, {go: south 3, wall: Bay}, west 4]"),
        ["name-twice"],
    ),
    "sides that make no triangle": (
        floor("sides: {south: 3, east: 2, north: 3, west: 2, diagonal: 6}"),
        ["sides-impossible"],
    ),
    "a diagonal that contradicts": (
        floor("sides: {south: 3, east: 4, north: 3, west: 4, diagonal: 5, other diagonal: 5.2}"),
        ["diagonal-off"],
    ),
    # --- on walls
    "a door off its wall": (room("doors: [{wall: north, from left: 2.5, width: 90 cm}]"), ["door-off-wall"]),
    "a door on no wall": (room("doors: [{wall: nroth, from left: 1, width: 90 cm}]"), ["unknown-name"]),
    "a door without a place": (room("doors: [{wall: north, width: 90 cm}]"), ["no-place"]),
    "a door with two places": (room("doors: [{wall: north, from left: 1, from west: 1, width: 90 cm}]"), ["no-place"]),
    "a door from an end that is none": (room("doors: [{wall: north, from south: 1, width: 90 cm}]"), ["no-place"]),
    "a door in a door": (
        room(
            "doors:", "  - {wall: north, from left: 1, width: 90 cm}", "  - {wall: north, from left: 1.5, width: 90 cm}"
        ),
        ["door-off-wall"],
    ),
    "two doors of one name": (
        room(
            "doors:",
            "  - {name: A, wall: north, from left: 1, width: 90 cm}",
            "  - {name: a, wall: south, from left: 1, width: 90 cm}",
        ),
        ["name-twice"],
    ),
    "an alcove off its wall": (room("alcoves: [{wall: east, from left: 2, width: 1, depth: 1}]"), ["alcove-off-wall"]),
    "an alcove into the room": (
        HEAD
        + GOODS
        + "rooms:\n  - name: Den\n    walk: [east 4, north 3, west 1, south 2, west 2, north 2, west 1, south 3]\n"
        + "    alcoves: [{wall: wall 4, centred: yes, width: 1, depth: 3}]\n",
        ["alcove-overlaps"],
    ),
    "a cut-out outside": (room("cut out: [{at: '5, 5', size: 1 x 1}]"), ["cut-out-outside"]),
    "a cut-out through a wall": (room("cut out: [{at: '2.5, 1', size: 1 x 1}]"), ["cut-out-outside"]),
    "a cut-out across the room": (room("cut out: [{at: '1, 0', size: 1 x 2.5}]"), ["cut-out-outside"]),
    "a cut-out deeper than the room": (
        room("cut out: [{wall: north, centred: yes, width: 1, depth: 3}]"),
        ["cut-out-outside"],
    ),
    "two cut-outs in one place": (
        room("cut out: [{at: '1, 1', size: 50 x 50 cm}, {at: '1.2, 1.2', size: 50 x 50 cm}]"),
        ["cut-outs-overlap"],
    ),
    "a cut-out without a place": (room("cut out: [{size: 1 x 1}]"), ["no-place"]),
    "a keep-out elsewhere": (room("keep out: [{at: '9, 9', size: 1 x 1}]"), ["keep-out-outside"]),
    "a keep-out with a dent": (
        room("keep out: [{corners: ['0, 0', '2, 0', '0.5, 0.5', '0, 2']}]"),
        ["not-convex"],
    ),
    "a joint of no length": (room("joints below: [{from: '1, 1', to: '1, 1'}]"), ["no-place"]),
    "a joint beyond the room": (room("joints below: [{parallel to: north, distance: 4}]"), ["joint-outside"]),
    "a cove on no wall": (room("coves: [{walls: [norht], height: 10 cm}]"), ["unknown-name"]),
    # --- the rest of a room
    "a room of no known material": (
        HEAD + GOODS + "rooms:\n  - {name: Den, material: Shet, rectangle: 3 x 2}\n",
        ["unknown-name"],
    ),
    "a room of one of two materials": (
        HEAD + "materials:\n  - {name: Sheet, width: 2}\n  - {name: Carpet, width: 3}\n" + ROOM,
        ["missing-key"],
    ),
    "two rooms of one name": (HEAD + GOODS + ROOM + "  - {name: den, rectangle: 3 x 2}\n", ["name-twice"]),
    "two rooms of one id": (
        HEAD + GOODS + "rooms:\n  - {name: A, id: a, rectangle: 3 x 2}\n  - {name: B, id: a, rectangle: 3 x 2}\n",
        ["id-twice"],
    ),
    "a lay in no words": (room("lay: lengthwise"), ["bad-direction"]),
    "a lay that may mean two": (room("lay: north"), ["direction-unclear"]),
    "a lay along no wall": (room("lay: along the wall 7"), ["unknown-name"]),
    "a least trim above the trim": (room("least trim: 10 cm"), ["too-large"]),
    "a pattern placed on plain goods": (room("pattern: {along: balanced}"), ["no-repeat"]),
    "a weight limit without a weight": (room("access: {heaviest: 60 kg}"), ["no-weight"]),
    # --- rooms together
    "a door joined to no room": (
        room("doors: [{wall: north, from left: 1, width: 1, joins: Hall / a}]"),
        ["unknown-name"],
    ),
    "a door joined to no door": (
        two_rooms("{wall: north, centred: yes, width: 1, joins: Hall / back}", "{wall: south, centred: yes, width: 1}"),
        ["unknown-name"],
    ),
    "a door joined in no words": (room("doors: [{wall: north, from left: 1, width: 1, joins: Hall}]"), ["bad-join"]),
    "joined doors side by side": (
        two_rooms(
            "{wall: north, centred: yes, width: 1, joins: Hall / door 1}", "{wall: east, centred: yes, width: 1}"
        ),
        ["doors-differ"],
    ),
    "joined doors of two widths": (
        two_rooms(
            "{wall: north, centred: yes, width: 1, joins: Hall / door 1}", "{wall: south, centred: yes, width: 90 cm}"
        ),
        ["doors-differ"],
    ),
    "joined doors of two joints": (
        two_rooms(
            "{wall: north, centred: yes, width: 1, joint: seam, joins: Hall / door 1}",
            "{wall: south, centred: yes, width: 1, joint: transition}",
        ),
        ["doors-differ"],
    ),
    "recesses deeper than the wall": (
        two_rooms(
            "{wall: north, centred: yes, width: 1, depth: 10 cm, wall thickness: 15 cm, joins: Hall / door 1}",
            "{wall: south, centred: yes, width: 1, depth: 10 cm}",
        ),
        ["doors-differ"],
    ),
    "a loop that does not close": (
        two_rooms(
            "{wall: north, from west: 0, width: 1, joins: Hall / door 1}, "
            "{wall: north, from east: 0, width: 1, joins: Hall / door 2}",
            "{wall: south, from west: 0, width: 1}, {wall: south, from east: 10 cm, width: 1}",
        ),
        ["loop-open"],
    ),
    "a match with no room": (HEAD + "match: [[Den, Hal]]\n" + GOODS + ROOM, ["unknown-name"]),
    "a match of rooms apart": (
        HEAD + "match: [[Den, Hall]]\n" + GOODS + ROOM + "  - {name: Hall, rectangle: 3 x 2}\n",
        ["match-differs"],
    ),
    "a strip of no known room": (
        HEAD + GOODS + ROOM + "strips:\n  - {name: Cove, width: 10 cm, walls of: Dne}\n",
        ["unknown-name"],
    ),
    "a strip without runs": (HEAD + GOODS + ROOM + "strips:\n  - {name: Cove, width: 10 cm}\n", ["missing-key"]),
    "parts longer than the piece": (
        HEAD + GOODS + "loose pieces:\n  - {name: Mat, size: 2 x 0.5, most parts: 2}\n",
        ["too-large"],
    ),
    # --- all at once
    "many": (
        HEAD
        + "materials:\n  - {name: Sheet, width: 0}\n  - {name: Carpet, width: 3, lenght: 20}\n"
        + "rooms:\n  - {name: Den, material: Sheet, walk: [north 3, east 4, south 2, west 4]}\n"
        + "  - {name: Hall, material: Carpt, rectangle: 3 x 2, doors: [{wall: up, from left: 1, width: 1}]}\n",
        ["zero-size", "unknown-key", "walk-open", "unknown-name", "unknown-name"],
    ),
}


def faults_of(text: str) -> JobError:
    with pytest.raises(JobError) as refused:
        parse_job(text, file="bad.yaml")
    return refused.value


@pytest.mark.parametrize("name", CASES)
def test_codes(name: str) -> None:
    text, codes = CASES[name]
    faults = faults_of(text).faults
    assert [fault.code for fault in faults] == codes
    assert all(fault.file == "bad.yaml" and 0 <= fault.line <= text.count("\n") + 1 for fault in faults)


def test_messages(golden: Callable[[str, str], None]) -> None:
    told = "\n".join(f"--- {name}\n{faults_of(text)}\n" for name, (text, _) in CASES.items())
    golden("files/bad-jobs.txt", told)


def test_files_that_are_no_job(tmp_path: Path) -> None:
    binary, big, utf16, folder = (tmp_path / name for name in ("a.yaml", "b.yaml", "c.yaml", "d.yaml"))
    binary.write_bytes(bytes(range(256)))
    with big.open("wb") as stream:
        stream.truncate(100_000_000)
    utf16.write_text("job: Bad\n", encoding="utf-16")
    folder.mkdir()
    zeros = tmp_path / "e.yaml"
    zeros.write_bytes(b"job: \0\n")
    told = {}
    for path in (binary, big, utf16, folder, zeros, tmp_path / "missing.yaml", Path("a\0b.yaml")):
        with pytest.raises(JobError) as refused:
            read_job(path)
        told[path.name] = refused.value.faults[0].code
    codes = ["not-text", "too-large", "not-text", "is-a-folder", "not-text", "no-file", "no-file"]
    assert list(told.values()) == codes


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    path = tmp_path / "job.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + (HEAD + GOODS + ROOM).encode())
    assert read_job(path).job.name == "Bad"


def test_deep_and_wide_files_are_refused_quickly() -> None:
    assert faults_of("a: " + "[" * 1_000_000).faults[0].code == "too-deep"
    assert faults_of("a: [" + "1," * 70_000 + "]").faults[0].code == "too-large"
