"""Options and fixtures of all tests."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import settings

from tests.browser import browser as browser
from tests.browser import page as page

# The same examples everywhere and no clock: a slow machine fails no test.
settings.register_profile("house", deadline=None, derandomize=True)
settings.load_profile("house")

GOLDEN = Path(__file__).parent / "golden"


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--rewrite-golden", action="store_true", help="write golden files anew instead of comparing")


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Callable[[str, str], None]:
    """Compare a text with tests/golden/NAME exactly, or write it there with --rewrite-golden."""

    def compare(name: str, text: str) -> None:
        path = GOLDEN / name
        if request.config.getoption("--rewrite-golden"):
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8", newline="\n")
        compare_with_golden(path, text)

    return compare


def compare_with_golden(path: Path, text: str) -> None:
    """Fail unless the file holds exactly `text`; says the first line that differs."""
    if not path.exists():
        pytest.fail(f"{path.name} is missing: run pytest --rewrite-golden, then look at the file")
    kept = path.read_bytes().decode("utf-8")
    if kept == text:
        return
    old, new = kept.splitlines(), text.splitlines()
    line = next((k for k, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), min(len(old), len(new)))
    before, after = (lines[line] if line < len(lines) else "(end)" for lines in (old, new))
    pytest.fail(f"{path.name} differs from line {line + 1} on:\n  kept: {before}\n  new:  {after}")
