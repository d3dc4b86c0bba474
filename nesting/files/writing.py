"""Results written whole: aside first, then moved into place, so that nothing half-written is ever seen."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Container, Mapping
from pathlib import Path

from nesting.errors import Fault, JobError

MANIFEST = ".rollwright-written"
"""Lists what a run wrote into a folder, so that the next one can clear away what it no longer makes."""


def write_whole(folder: Path, texts: Mapping[str, str], *, keep: Container[str] = ()) -> tuple[Path, ...]:
    """Write `texts` (file name to text) into `folder`, made if need be, and return the paths in the order given.

    Every file is written aside and moved into place when all of them are complete. Files of an earlier run that are not
    made any more are removed, if the list that this run left says that they were ours, unless their name is in `keep`.

    Raises
    ------
    JobError
        If the folder cannot be made or written to; nothing is changed then, or only whole files are.
    ValueError
        If a name is not a plain file name.
    """
    for name in texts:
        if not _plain(name):
            raise ValueError(f"{name!r} is not a plain file name")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        earlier = _listed(folder)
        everything = {**texts, MANIFEST: _listing({*texts, *earlier})}
        _move_in(folder, everything)
        kept = {name for name in earlier if name in keep}
        for name in sorted(earlier - kept - set(texts)):
            with contextlib.suppress(FileNotFoundError):
                (folder / name).unlink()
        _move_in(folder, {MANIFEST: _listing(kept | set(texts))})
    except OSError as error:
        reason = error.strerror or str(error)
        hint = "name a folder that can be written to"
        raise JobError(
            [Fault(code="cannot-write", what=f"cannot write here: {reason}", hint=hint, file=str(folder))]
        ) from None
    return tuple(folder / name for name in texts)


def clear_written(folder: Path) -> None:
    """Take away what an earlier run wrote to a folder, and the folder itself if nothing else is in it.

    Files that the run's own list does not name stay as they are.

    Raises
    ------
    JobError
        If something cannot be taken away.
    """
    if not (folder / MANIFEST).is_file():
        return
    write_whole(folder, {})
    (folder / MANIFEST).unlink()
    with contextlib.suppress(OSError):
        folder.rmdir()


def write_new(path: Path, text: str) -> None:
    """Write `text` to a file that is not there yet, in a folder that is made if need be.

    Raises
    ------
    JobError
        If there is something of that name already, or nothing can be written there.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("xb") as stream:
            stream.write(text.encode("utf-8"))
    except FileExistsError:
        fault = Fault(code="file-exists", what="it is there already", hint="give another name", file=str(path))
        raise JobError([fault]) from None
    except OSError as error:
        what = f"cannot write here: {error.strerror or error}"
        raise JobError([Fault(code="cannot-write", what=what, file=str(path))]) from None


def write_over(path: Path, text: str) -> None:
    """Write `text` to a file, aside first, in a folder that is made if need be; what is there is replaced.

    Raises
    ------
    JobError
        If it cannot be written.
    """
    aside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with aside.open("wb") as stream:
            stream.write(text.encode("utf-8"))
            stream.flush()
            os.fsync(stream.fileno())
        aside.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            aside.unlink(missing_ok=True)
        what = f"cannot write here: {error.strerror or error}"
        raise JobError([Fault(code="cannot-write", what=what, file=str(path))]) from None


def _plain(name: str) -> bool:
    return bool(name) and name not in (".", "..", MANIFEST) and not set(name) & set('/\\:*?"<>|\0\n\r')


def _listing(names: set[str]) -> str:
    return "".join(f"{name}\n" for name in sorted(names))


def _listed(folder: Path) -> set[str]:
    """Return the plain names of files that an earlier run says it wrote."""
    try:
        text = (folder / MANIFEST).read_text(encoding="utf-8")
    except (FileNotFoundError, UnicodeDecodeError):
        return set()
    return {name for name in text.splitlines() if _plain(name) and (folder / name).is_file()}


def _move_in(folder: Path, texts: Mapping[str, str]) -> None:
    """Write all of `texts` aside, then move each into place."""
    aside = {name: folder / f".{name}.{os.getpid()}.part" for name in texts}
    try:
        for name, text in texts.items():
            with aside[name].open("wb") as stream:
                stream.write(text.encode("utf-8"))
                stream.flush()
                os.fsync(stream.fileno())
        for name in texts:
            aside[name].replace(folder / name)
    finally:
        for path in aside.values():
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)
