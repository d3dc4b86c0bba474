"""What only a process of its own can show: start-up, Ctrl-C, the same bytes whatever the hash seed."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

from nesting.checker import check_plan
from nesting.files.plan_file import load_plan

ROOT = Path(__file__).parents[2]
COMMAND = [sys.executable, "-m", "cli.main"]
HEAVY = ("ortools", "shapely", "numpy", "pydantic", "ruamel.yaml", "svgwrite")

MANY_ROOMS = "job: Hostel\nunit: m\nmaterials: [{name: Sheet, width: 3.2}]\nrooms:\n" + "".join(
    f"  - {{name: Room {number}, rectangle: {3 + number % 5 * 0.37:.2f} x {2.4 + number % 7 * 0.29:.2f}}}\n"
    for number in range(1, 13)
)


def test_help_shows_without_loading_anything_heavy() -> None:
    code = (
        "import sys\nfrom click.testing import CliRunner\nfrom cli.main import main\n"
        "for name in ('', *main.commands):\n"
        "    assert CliRunner().invoke(main, [*name.split(), '--help']).exit_code == 0\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert done.stdout == "[]\n", done.stderr


def test_ctrl_c_writes_the_best_plan_so_far(tmp_path: Path) -> None:
    (tmp_path / "job.yaml").write_text(MANY_ROOMS)
    arguments = ["plan", str(tmp_path / "job.yaml"), "--out", str(tmp_path / "out"), "--effort", "1000"]
    with subprocess.Popen(
        [*COMMAND, *arguments], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stderr is not None
        for line in process.stderr:
            if "first solution" in line:
                process.send_signal(signal.SIGINT)
                break
        out, err = process.communicate(timeout=30)
    assert process.returncode == 130, err
    assert "Traceback" not in err and "stopped: a longer run may find less" in out
    plan = load_plan(tmp_path / "out" / "plan.json")
    assert not check_plan(plan)
    assert plan.materials[0].stop == "stopped"


def _bytes_of(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_the_same_job_gives_the_same_bytes_in_every_process(tmp_path: Path) -> None:
    lines = MANY_ROOMS.splitlines(keepends=True)
    (tmp_path / "job.yaml").write_text("".join(lines[:8]))
    made = []
    for seed in ("0", "1", "424242"):
        out = tmp_path / f"out-{seed}"
        done = subprocess.run(
            [*COMMAND, "plan", str(tmp_path / "job.yaml"), "--out", str(out), "--effort", "1", "--json"],
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            timeout=300,
        )
        assert done.returncode == 0, done.stderr
        made.append((_bytes_of(out), json.loads(done.stdout)))
    assert made[0] == made[1] == made[2]


def test_the_commands_work_as_a_process(tmp_path: Path) -> None:
    def run(*arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [*COMMAND, *arguments], cwd=ROOT, capture_output=True, text=True, timeout=120, stdin=subprocess.DEVNULL
        )

    job, plan = tmp_path / "job.yaml", tmp_path / "out" / "plan.json"
    assert run("starter", str(job)).returncode == 0
    assert run("plan", str(job), "--out", str(tmp_path / "out"), "--effort", "0").returncode == 0
    assert run("check", str(plan)).returncode == 0
    plan.write_text(plan.read_text().replace('"used_nm": ', '"used_nm": 1', 1))
    assert run("check", str(plan)).returncode == 1
    job.write_text("job: Hut\n")
    bad = run("plan", str(job), "--out", str(tmp_path / "other"))
    assert bad.returncode == 2 and bad.stdout == "" and not (tmp_path / "other").exists()


def test_output_that_nobody_reads_is_no_error() -> None:
    done = subprocess.run(
        f"{sys.executable} -m cli.main schema | head -c 1", cwd=ROOT, shell=True, capture_output=True, text=True
    )
    assert done.stdout == "{" and done.stderr == ""
