"""The work behind `rollwright rack`."""

from __future__ import annotations

import getpass
import json
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

import click

from cli.planning import sound_plan
from cli.rack_lines import (
    history_lines,
    piece_data,
    piece_lines,
    shelf_lines,
    table_lines,
    worth_of,
)
from cli.running import EXIT_VIOLATIONS
from nesting.domain.job import Unit
from nesting.domain.plan import Plan
from nesting.domain.rack import Act, Delivery, Order, PieceFilter, PieceState
from nesting.drawing.piece_sheet import piece_sheet
from nesting.errors import Fault, JobError
from nesting.files.fields import Reading
from nesting.files.plan_file import dump_plan
from nesting.files.rack_entry import material_named, piece_as_typed, size_as_typed
from nesting.files.reading import read_text
from nesting.files.writing import write_over
from nesting.shop import Rack, open_rack

LARGEST_IMPORT = 2_000_000_000
GOODS = (
    "material", "size", "kind", "lot", "lot_orderable", "shape", "flaws", "first_mark", "cost", "currency", "supplier",
    "note", "place",
)  # fmt: skip


def where_is(where: str | None) -> Path | str:
    """Return where the rack is: as given, or a file of the user's own."""
    if not where:
        return Path(click.get_app_dir("rollwright")) / "rack.db"
    return where if "://" in where else Path(where)


def opened(given: Mapping[str, Any], *, make: bool = True) -> Rack:
    """Return the rack of a command."""
    return open_rack(where_is(given["where"]), make=make)


def act_of(given: Mapping[str, Any]) -> Act:
    """Return who does something, now, and why."""
    return Act(who=given.get("who") or getpass.getuser(), now=datetime.now(UTC), why=given.get("why") or "")


def say(given: Mapping[str, Any], text: str) -> int:
    """Say what was done; return the exit code."""
    if not given.get("quiet"):
        click.echo(text)
    return 0


def _typed(given: Mapping[str, Any]) -> dict[str, Any]:
    """Return what was typed of a piece, by the keys of its entry."""
    return {name.replace("_", " "): given[name] for name in GOODS if name in given}


def receive_piece(given: Mapping[str, Any]) -> int:
    """Put a piece on the rack."""
    piece = piece_as_typed({**_typed(given), "label": given["label"] or None}, Reading(given["unit"]))
    with opened(given) as rack:
        (label,) = rack.receive([piece], act_of(given))
    return say(given, f"received: {label}")


def list_to_screen(given: Mapping[str, Any]) -> int:
    """List pieces."""
    states = tuple(PieceState(state) for state in given["states"] if state != "any")
    if not given["states"]:
        states = PieceFilter().states
    least = size_as_typed(given["least"], Reading(given["unit"])) if given["least"] else (0, 0)
    by_value = given["order"] == "value"
    order = {"label": Order.ID, "value": Order.ID}.get(given["order"]) or Order(given["order"])
    wanted = PieceFilter(
        material_id=material_named(given["material"]) if given["material"] else None,
        states=() if "any" in given["states"] else states,
        lot=given["lot"],
        place=given["place"],
        job=given["job"],
        least_width_nm=least[0],
        least_length_nm=least[1],
        text=given["text"],
        order=order,
        limit=None if by_value else given["limit"],
    )
    with opened(given) as rack:
        pieces = list(rack.pieces(wanted))
    if by_value:
        pieces = sorted(pieces, key=lambda piece: (-worth_of(piece), piece.id))[: given["limit"]]
    if given["as_json"]:
        click.echo(json.dumps([piece_data(piece) for piece in pieces], indent=2, ensure_ascii=False))
    else:
        click.echo("\n".join(table_lines(pieces, given["unit"], datetime.now(UTC))))
    return 0


def show_piece(given: Mapping[str, Any]) -> int:
    """Show one piece, with its history."""
    with opened(given) as rack:
        piece = rack.piece(given["label"])
        history = rack.history(piece.id)
    if given["out"] is not None:
        write_over(given["out"], piece_sheet(piece, Unit(given["unit"])))
    if given["as_json"]:
        data = piece_data(piece) | {"history": [_entry(one) for one in history]}
        click.echo(json.dumps(data, indent=2, ensure_ascii=False))
    else:
        click.echo("\n".join([*piece_lines(piece, given["unit"]), "", *history_lines(history)]))
    return 0


def _entry(entry: Any) -> dict[str, Any]:
    return {"number": entry.number, "at": entry.at, "who": entry.who, "why": entry.why, "what": entry.what,
            "piece": entry.piece_id, "booking": entry.booking, "late": entry.late}  # fmt: skip


def move_pieces(given: Mapping[str, Any]) -> int:
    """Move pieces."""
    with opened(given) as rack:
        rack.move(given["labels"], given["place"], act_of(given))
    return say(given, f"moved to {given['place']}: {', '.join(given['labels'])}")


def correct_piece(given: Mapping[str, Any]) -> int:
    """Correct a piece."""
    with opened(given) as rack:
        old = rack.piece(given["label"])
        reading = Reading(given["unit"], old.coin_per_unit)
        rack.correct([piece_as_typed(_typed(given), reading, old)], act_of(given))
    return say(given, f"corrected: {old.id}")


def count_shelf(given: Mapping[str, Any]) -> int:
    """Hold a shelf against the book, and book the count if asked; the exit code says whether they agree."""
    labels = list(given["labels"])
    if given["found"] is not None:
        lines = read_text(given["found"], most_bytes=LARGEST_IMPORT, what="list of labels").splitlines()
        labels += [line.strip() for line in lines if line.strip()]
    if given["book"] and not given["why"]:
        raise click.UsageError("booking a count needs a reason: give --why")
    with opened(given) as rack:
        if given["book"]:
            found = rack.book_count(given["place"], labels, act_of(given))
        else:
            found = rack.count_shelf(given["place"], labels)
    say(given, "\n".join(shelf_lines(found, booked=given["book"])))
    return 0 if found.agrees or given["book"] else EXIT_VIOLATIONS


def scrap_pieces(given: Mapping[str, Any]) -> int:
    """Scrap pieces."""
    with opened(given) as rack:
        rack.scrap(given["labels"], act_of(given))
    return say(given, f"scrapped: {', '.join(given['labels'])}")


def reserve_pieces(given: Mapping[str, Any]) -> int:
    """Reserve pieces by their labels, or those of a plan."""
    if (given["plan_file"] is None) == (not given["labels"]):
        raise click.UsageError("give labels, or a plan with --plan")
    if given["plan_file"] is None:
        if not given["job"]:
            raise click.UsageError("for which job? give --job")
        with opened(given) as rack:
            rack.reserve(given["labels"], given["job"], act_of(given))
        return say(given, f"reserved for {given['job']}: {', '.join(given['labels'])}")
    plan = sound_plan(given["plan_file"])
    if plan is None:
        return EXIT_VIOLATIONS
    job = given["job"] or plan.job.name
    with opened(given) as rack:
        done = rack.reserve_plan(plan, key_of(plan), job, act_of(given), outside=outside_of(plan))
    freed = f"; free again: {', '.join(done.freed)}" if done.freed else ""
    return say(given, f"reserved for {job}: {', '.join(done.taken) or 'nothing'}{freed}")


def key_of(plan: Plan) -> str:
    """Return what tells a plan from all others."""
    return sha256(dump_plan(plan).encode()).hexdigest()


def outside_of(plan: Plan) -> tuple[str, ...]:
    """Return the goods in hand of a plan that are not the rack's: those that stood in the job file."""
    return tuple(piece.id for piece in plan.job.stock if not piece.on_rack)


def release_pieces(given: Mapping[str, Any]) -> int:
    """Release pieces by their labels, or all that a job holds."""
    if bool(given["job"]) == bool(given["labels"]):
        raise click.UsageError("give labels, or a job with --job")
    with opened(given) as rack:
        labels: Sequence[str] = given["labels"]
        if given["job"]:
            labels = rack.release_job(given["job"], act_of(given))
        else:
            rack.release(labels, act_of(given))
    return say(given, f"free again: {', '.join(labels) or 'nothing'}")


def confirm_cuts(given: Mapping[str, Any]) -> int:
    """Book the cuts of a plan."""
    plan = sound_plan(given["plan_file"])
    if plan is None:
        return EXIT_VIOLATIONS
    delivery = Delivery(
        supplier=given["supplier"],
        place=given["place"],
        places=_pairs("--place-of", given["places"]),
        lots=_pairs("--lot-of", given["lots"]),
    )
    with opened(given) as rack:
        done = rack.confirm_plan(
            plan, key_of(plan), plan.job.name, act_of(given), delivery=delivery, outside=outside_of(plan)
        )
    made = ", ".join(done.made) or "none"
    return say(given, f"booking {done.number}: cut up {', '.join(done.taken) or 'nothing'}; new pieces: {made}")


def _pairs(option: str, texts: Sequence[str]) -> dict[str, str]:
    """Return `NAME=VALUE` texts as a mapping."""
    found = {}
    for text in texts:
        name, equals, value = text.partition("=")
        if not (name.strip() and equals and value.strip()):
            raise click.UsageError(f"{option} {text!r}: write NAME=VALUE")
        found[name.strip()] = value.strip()
    return found


def undo_booking(given: Mapping[str, Any]) -> int:
    """Undo a booking by its number, or that of a plan file."""
    with opened(given) as rack:
        if given["booking"].isdecimal():
            number = int(given["booking"])
        else:
            plan = sound_plan(Path(given["booking"]))
            if plan is None:
                return EXIT_VIOLATIONS
            held = [one for one in rack.bookings(plan_key=key_of(plan)) if not one.undone]
            if not held:
                what, hint = "this plan was never confirmed, or is undone already", "see `rollwright rack history`"
                raise JobError([Fault(code="no-booking", what=what, hint=hint, file=given["booking"])])
            number = held[-1].number
        done = rack.undo(number, act_of(given))
    return say(given, f"undone: booking {done.number} of {done.job}")


def say_history(given: Mapping[str, Any]) -> int:
    """Show the history of a piece, or of all."""
    with opened(given) as rack:
        found = rack.history(given["label"], limit=given["limit"])
    if given["as_json"]:
        click.echo(json.dumps([_entry(one) for one in found], indent=2, ensure_ascii=False))
    else:
        click.echo("\n".join(history_lines(found)))
    return 0


def write_export(given: Mapping[str, Any]) -> int:
    """Write the rack to a file."""
    kind = _kind_of(given["file"])
    with opened(given, make=False) as rack:
        text = rack.export_json() if kind == "json" else rack.export_csv()
    write_over(given["file"], text)
    return say(given, f"written to {given['file']}")


def read_import(given: Mapping[str, Any]) -> int:
    """Read pieces, or a whole rack, from a file."""
    kind = _kind_of(given["file"])
    text = read_text(given["file"], most_bytes=LARGEST_IMPORT, what="export of a rack")
    with opened(given) as rack:
        count = rack.import_json(text) if kind == "json" else len(rack.import_csv(text, act_of(given)))
    return say(given, f"{count} pieces read from {given['file']}")


def _kind_of(file: Path) -> str:
    kind = file.suffix.lower().removeprefix(".")
    if kind not in ("json", "csv"):
        raise click.UsageError(f"{file}: a rack is carried as .json or .csv")
    return kind


def audit_rack(where: str, *, as_json: bool, quiet: bool) -> int:
    """Audit a rack: the exit code says whether anything is wrong with it."""
    with open_rack(where_is(where), make=False) as rack:
        findings, accounts = rack.audit(), rack.accounts()
    if as_json:
        rows = [{"rule": one.rule, "where": one.where, "text": one.text} for one in findings]
        areas = [{name: getattr(one, name) for name in one.__slots__} for one in accounts]
        click.echo(json.dumps({"violations": rows, "accounts": areas}, indent=2, ensure_ascii=False))
    elif findings:
        click.echo("\n".join(f"{one.rule} {one.where}: {one.text}" for one in findings))
    elif not quiet:
        for one in accounts:
            click.echo(
                f"{one.material_id}: received {_m2(one.received_nm2)} = in stock {_m2(one.in_stock_nm2)} + cut "
                f"{_m2(one.cut_away_nm2)} + scrapped {_m2(one.scrapped_nm2)} + missing {_m2(one.missing_nm2)} + with "
                f"clients {_m2(one.client_nm2)}"
            )
        click.echo("sound: the areas add up, and every history leads to what is there")
    return EXIT_VIOLATIONS if findings else 0


def _m2(nm2: int) -> str:
    return f"{nm2 / 10**18:.2f} m²"
