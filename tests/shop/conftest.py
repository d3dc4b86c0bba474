"""Empty racks in either database; every test that takes `where` or `rack` runs on both."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest

from nesting.shop import Rack, open_rack
from tests.shop.server import run_sql, server

_numbers = count(1)


@pytest.fixture(scope="session")
def postgres(request: pytest.FixtureRequest) -> Iterator[str]:
    """The URL of a server with a database that holds an empty rack, from which others are copied."""
    name = template(request)
    with server() as url:
        run_sql(url, f"DROP DATABASE IF EXISTS {name}", f"CREATE DATABASE {name}")
        open_rack(in_database(url, name)).close()
        yield url
        run_sql(url, f"DROP DATABASE {name} WITH (FORCE)")


def template(request: pytest.FixtureRequest) -> str:
    """Return the name of this process's database with an empty rack."""
    return f"rack_template_{worker(request)}"


def in_database(url: str, name: str) -> str:
    """Return the URL of another database of a server."""
    return f"{url.rpartition('/')[0]}/{name}"


EMPTY = (
    "ALTER TABLE rack_history DISABLE TRIGGER USER",
    "TRUNCATE rack_piece, rack_reservation, rack_history, rack_booking RESTART IDENTITY",
    "ALTER TABLE rack_history ENABLE TRIGGER USER",
    "UPDATE rack_numbering SET next = 1",
)


@pytest.fixture(scope="session")
def emptied(postgres: str, request: pytest.FixtureRequest) -> Iterator[tuple[str, str]]:
    """Two databases that are used again and again, each time emptied: far quicker than to make new ones."""
    names = tuple(f"rack_{worker(request)}_{name}" for name in ("used", "other"))
    for name in names:
        _make(postgres, name, template(request))
    yield in_database(postgres, names[0]), in_database(postgres, names[1])
    for name in names:
        run_sql(postgres, f"DROP DATABASE {name} WITH (FORCE)")


def _make(url: str, name: str, model: str) -> None:
    run_sql(url, f"DROP DATABASE IF EXISTS {name}", f"CREATE DATABASE {name} TEMPLATE {model}")


@pytest.fixture(params=["file", "server"])
def where(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Where a rack can be opened that has nothing in it.

    A module that changes tables says `FRESH = True` and gets a database of its own for every test.
    """
    if request.param == "file":
        yield str(tmp_path / "shop" / "rack.db")
    elif getattr(request.module, "FRESH", False):
        url = request.getfixturevalue("postgres")
        name = f"rack_{worker(request)}_{next(_numbers)}"
        _make(url, name, template(request))
        yield in_database(url, name)
        run_sql(url, f"DROP DATABASE {name} WITH (FORCE)")
    else:
        url = request.getfixturevalue("emptied")[0]
        run_sql(url, *EMPTY)
        yield url


def worker(request: pytest.FixtureRequest) -> str:
    """Return the name of this process among those that run tests."""
    return getattr(request.config, "workerinput", {}).get("workerid", "main")


@pytest.fixture
def other(request: pytest.FixtureRequest, tmp_path: Path, where: str) -> str:
    """Where a second rack can be opened in the same kind of store."""
    if "://" not in where:
        return str(tmp_path / "other.db")
    url: str = request.getfixturevalue("emptied")[1]
    run_sql(url, *EMPTY)
    return url


@pytest.fixture
def rack(where: str) -> Iterator[Rack]:
    """An empty rack."""
    with open_rack(where) as found:
        yield found
