"""The part of a job that one material is cut for."""

from __future__ import annotations

from dataclasses import replace

from nesting.domain.pins import OneLot
from nesting.estimating.parting import part_of
from nesting.files.job_file import parse_job

JOB = """\
job: Two floors
unit: m
materials:
  - {name: Sheet, id: sheet, width: 2}
  - {name: Carpet, id: carpet, width: 4}
stock:
  - {id: R-1, material: sheet, width: 2, length: 3}
  - {id: R-2, material: carpet, width: 4, length: 3}
match:
  - [Hall, Kitchen]
rooms:
  - name: Hall
    material: sheet
    rectangle: 3 x 2
    doors:
      - {name: to lounge, wall: north, from west: 0.5, width: 0.9, joins: Lounge / to hall}
      - {name: to kitchen, wall: east, from south: 0.5, width: 0.9, joins: Kitchen / to hall}
  - name: Kitchen
    material: sheet
    rectangle: 3 x 3
    doors:
      - {name: to hall, wall: west, from south: 0.5, width: 0.9}
  - name: Lounge
    material: carpet
    rectangle: 5 x 4
    doors:
      - {name: to hall, wall: south, from west: 0.5, width: 0.9}
loose pieces:
  - {name: mat, material: carpet, size: 1 x 1}
strips:
  - {name: skirting, material: sheet, width: 0.1, runs: [2]}
"""


def test_everything_of_a_material_and_nothing_else() -> None:
    job = parse_job(JOB, file="job.yaml").job
    hall, kitchen, lounge = (room.id for room in job.rooms)
    job = replace(job, one_lot=(OneLot(rooms=(hall, lounge)), OneLot(rooms=(hall, kitchen, lounge))))
    sheet, carpet = part_of(job, "sheet"), part_of(job, "carpet")
    assert [room.id for room in sheet.rooms] == [hall, kitchen] and [room.id for room in carpet.rooms] == [lounge]
    assert [piece.id for piece in sheet.stock] == ["R-1"] and [piece.id for piece in carpet.stock] == ["R-2"]
    assert (len(sheet.loose), len(carpet.loose)) == (0, 1) and (len(sheet.strips), len(carpet.strips)) == (1, 0)
    assert sheet.matches == ((hall, kitchen),) and carpet.matches == ()
    assert [one.rooms for one in sheet.one_lot] == [(hall, kitchen)] and carpet.one_lot == ()
    assert [material.id for material in sheet.materials] == ["sheet"]
    assert (sheet.name, sheet.goal, sheet.unit) == (job.name, job.goal, job.unit)


def test_a_door_to_another_material_leads_nowhere_and_stays_as_it_is() -> None:
    job = parse_job(JOB, file="job.yaml").job
    before, after = job.rooms[0].doors, part_of(job, "sheet").rooms[0].doors
    assert before[0].joined is not None and after[0].joined is None
    assert replace(before[0], joined=None) == after[0]
    assert after[1] == before[1] and after[1].joined is not None


def test_a_job_of_one_material_stays_as_it_is() -> None:
    job = parse_job("job: Hut\nunit: m\nmaterials: [{name: A, width: 2}]\nrooms: [{name: B, rectangle: 3 x 2}]\n").job
    assert part_of(job, job.materials[0].id) == job
