"""Small jobs and a runner for the commands."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cli.main import main

TINY = """\
job: Hut
unit: m
materials:
  - {name: Sheet, width: 2, price: 12.50 per m}
rooms:
  - {name: Den, rectangle: 3.0 x 2.5}
"""

TOO_LITTLE = """\
job: Hut
unit: m
materials:
  - {name: Sheet, width: 2, stock only: yes}
stock:
  - {id: R-1, width: 2, length: 1.2}
rooms:
  - {name: Den, rectangle: 3.0 x 2.5}
"""

Run = Callable[..., Result]


@pytest.fixture
def run() -> Run:
    """Return a function that runs the command with its arguments; it plans in this process unless told otherwise."""

    def invoke(*arguments: object) -> Result:
        given = [str(argument) for argument in arguments]
        if (
            given[:1] in (["plan"], ["plan-again"], ["trade-off"], ["why"], ["what-if"])
            and "--workers" not in given
            and "--scheduler" not in given
        ):
            given += ["--workers", "1"]
        return CliRunner().invoke(main, given)

    return invoke


@pytest.fixture
def tiny(tmp_path: Path) -> Path:
    """Return the file of a tiny job."""
    file = tmp_path / "hut.yaml"
    file.write_text(TINY)
    return file


@pytest.fixture(scope="session")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the results of the tiny job; not to be changed."""
    folder = tmp_path_factory.mktemp("planned")
    (folder / "hut.yaml").write_text(TINY)
    done = CliRunner().invoke(
        main, ["plan", str(folder / "hut.yaml"), "--out", str(folder / "out"), "--effort", "1", "--workers", "1"]
    )
    assert done.exit_code == 0, done.output
    return folder / "out"
