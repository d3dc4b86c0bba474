"""A Dask cluster runs the errands: the same plan, byte by byte; a cluster that is not there is said to be so."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

import nesting.search.cluster as cluster
from cli.asked import hands
from nesting.errors import JobError
from nesting.files.job_file import parse_job
from nesting.files.plan_file import dump_plan
from nesting.pipeline import Settings, plan_job
from nesting.search.cluster import cluster_executor
from nesting.search.workers import Workers
from tests.cli.conftest import Run

distributed = pytest.importorskip("distributed")

TEXT = """\
job: Two goods
unit: m
materials:
  - {name: Sheet, width: 3.2, repeat along: 0.5, repeat across: none, match: straight}
  - {name: Broadloom, width: 4, repeat along: 0.64, repeat across: 0.8, match: half-drop}
rooms:
  - {name: A, material: Sheet, rectangle: 3.7 x 2.9}
  - {name: D, material: Broadloom, rectangle: 5.1 x 3.3}
"""
JOB = parse_job(TEXT).job
EFFORT = 1


@pytest.fixture(scope="module")
def alone() -> str:
    """Return the plan that this process makes by itself."""
    return _planned(None)


def _planned(executor: Executor | None) -> str:
    plan = plan_job(JOB, Settings(effort=EFFORT, executor=executor)).plan
    assert plan is not None
    return dump_plan(plan)


def _cluster(**more: Any) -> Any:
    return distributed.LocalCluster(threads_per_worker=1, dashboard_address=":0", silence_logs=40, **more)


@pytest.fixture(scope="module")
def in_threads() -> Iterator[str]:
    """Return the address of a cluster in threads of this process."""
    with _cluster(n_workers=2, processes=False) as local:
        yield local.scheduler_address


def test_a_cluster_makes_the_same_plan(alone: str, in_threads: str) -> None:
    with cluster_executor(in_threads) as executor:
        assert _planned(executor) == alone


@pytest.mark.parametrize("threads", [1, 2])
def test_threads_make_the_same_plan(alone: str, threads: int) -> None:
    with ThreadPoolExecutor(threads) as executor:
        assert _planned(executor) == alone


@pytest.mark.slow
def test_processes_and_a_cluster_of_processes_make_the_same_plan(alone: str) -> None:
    with Workers(2) as executor:
        while not executor.at_hand():
            pass
        assert _planned(executor) == alone
    with _cluster(n_workers=2, processes=True) as local, cluster_executor(local.scheduler_address) as executor:
        assert _planned(executor) == alone


def test_a_stopped_search_does_not_wait_for_the_cluster(in_threads: str) -> None:
    with cluster_executor(in_threads) as executor:
        plan = plan_job(JOB, Settings(effort=1000, executor=executor, stop=lambda: True)).plan
    assert plan is not None and [item.stop for item in plan.materials] == ["stopped"] * 2


def test_the_command_line_uses_the_cluster(alone: str, in_threads: str, run: Run, tmp_path: Path) -> None:
    with hands(None, in_threads) as executor:
        assert type(executor).__name__ == "ClientExecutor"
    (tmp_path / "job.yaml").write_text(TEXT)
    done = run("plan", tmp_path / "job.yaml", "--out", tmp_path / "out", "--effort", EFFORT, "--scheduler", in_threads)
    assert done.exit_code == 0, done.output
    assert (tmp_path / "out" / "plan.json").read_text() == alone


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:1", "nowhere", "tcp://", "carrier-pigeon://coop:7"])
def test_a_cluster_that_is_not_there_is_refused(
    address: str, run: Run, tiny: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "CONNECT_SECONDS", 1)
    done = run("plan", tiny, "--out", tmp_path / "out", "--scheduler", address)
    assert done.exit_code == 2 and not (tmp_path / "out").exists()
    assert "[cluster-unreachable]" in done.stderr and f"no scheduler answers at {address}" in done.stderr
    assert "dask scheduler" in done.stderr and done.stdout == ""


def test_a_cluster_without_workers_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "CONNECT_SECONDS", 1)
    with (
        _cluster(n_workers=0, processes=False) as local,
        pytest.raises(JobError, match="cluster-without-workers"),
        cluster_executor(local.scheduler_address),
    ):
        pass


def test_workers_of_another_version_are_refused(in_threads: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "__version__", "0.0.1")
    with (
        pytest.raises(JobError, match=r"cluster-version.*\n.*install rollwright 0\.0\.1"),
        cluster_executor(in_threads),
    ):
        pass


def test_without_the_package_the_way_to_it_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(JobError, match=r"rollwright\[cluster\]"), cluster_executor("tcp://127.0.0.1:1"):
        pass
