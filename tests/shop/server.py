"""A PostgreSQL server for the tests: the one that is named, or Debian's own, started in a folder of its own.

`ROLLWRIGHT_POSTGRES` may be the URL of a server whose user may make databases. Else a server of the newest version
under /usr/lib/postgresql is started on a free port of this machine, by a user without rights where the tests run as
root. Without either the tests that need one are skipped, unless the variable says `required`.
"""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest

ASKED = "ROLLWRIGHT_POSTGRES"
STARTS_S = 60
QUICK = ("fsync=off", "full_page_writes=off", "wal_level=minimal", "max_wal_senders=0", "autovacuum=off")
"""For tests: what is written need not outlive the machine."""


def programs() -> Path | None:
    """Return the folder of the newest server's programs; None: none is installed."""
    found = [path.parent for path in Path("/usr/lib/postgresql").glob("*/bin/initdb")]
    return max(found, key=lambda path: int(path.parent.name), default=None)


@contextmanager
def server(*settings: str) -> Iterator[str]:
    """Give the URL of a running server's database `postgres`, with a user who may make others."""
    asked = os.environ.get(ASKED, "")
    if asked not in ("", "required"):
        yield asked
        return
    bin_folder = programs()
    if bin_folder is None:
        if asked:
            pytest.fail("a PostgreSQL server is required, and there is none: install Debian's package postgresql")
        pytest.skip("no PostgreSQL server: install Debian's package postgresql, or set ROLLWRIGHT_POSTGRES to a URL")
    folder = Path(tempfile.mkdtemp(prefix="rack-server-"))
    try:
        with _started(bin_folder, folder, settings or QUICK) as url:
            yield url
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _user() -> str | None:
    """Return a user without rights for the server, which refuses to run as root; None: this one is well."""
    if os.getuid() != 0:
        return None
    names = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in names else "nobody"


@contextmanager
def _started(bin_folder: Path, folder: Path, settings: tuple[str, ...]) -> Iterator[str]:
    user = _user()
    if user is not None:
        shutil.chown(folder, user)
    data, port = folder / "data", _free_port()
    as_user: dict[str, object] = {} if user is None else {"user": user, "extra_groups": []}
    initdb = [bin_folder / "initdb", "-D", data, "-U", "tests", "-A", "trust", "-E", "UTF8", "--no-sync", "--no-locale"]
    subprocess.run(initdb, check=True, capture_output=True, cwd="/", **as_user)  # type: ignore[call-overload]
    options = [f"port={port}", f"unix_socket_directories={folder}", "listen_addresses=127.0.0.1", *settings]
    command = [bin_folder / "postgres", "-D", data, *(word for option in options for word in ("-c", option))]
    with (folder / "log").open("wb") as log:
        running = subprocess.Popen(command, stdout=log, stderr=log, cwd="/", **as_user)  # type: ignore[call-overload]
        url = f"postgresql://tests@127.0.0.1:{port}/postgres"
        try:
            _wait(url, running, folder / "log")
            yield url
        finally:
            running.terminate()
            try:
                running.wait(20)
            except subprocess.TimeoutExpired:
                running.kill()
                running.wait()


def _free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def _wait(url: str, running: subprocess.Popen[bytes], log: Path) -> None:
    end = time.monotonic() + STARTS_S
    while True:
        try:
            psycopg.connect(url, connect_timeout=5).close()
        except psycopg.OperationalError:
            if running.poll() is not None or time.monotonic() > end:
                pytest.fail(f"the PostgreSQL server did not start:\n{log.read_text(errors='replace')[-2000:]}")
            time.sleep(0.1)
        else:
            return


def run_sql(url: str, *statements: str) -> None:
    """Run statements outside any transaction."""
    with psycopg.connect(url, autocommit=True) as link:
        for statement in statements:
            link.execute(statement.encode())
