"""Bytes from the disk, or a fault that says why not."""

from __future__ import annotations

from pathlib import Path

from nesting.errors import Fault, JobError


def read_text(path: Path, *, most_bytes: int, what: str) -> str:
    """Return the text of the file at `path`.

    Parameters
    ----------
    path
        The file.
    most_bytes
        A larger file is refused before it is read.
    what
        What the file should be, for the messages: "job" or "plan".

    Raises
    ------
    JobError
        If the file is missing, a directory, unreadable, too large, or not UTF-8 text.
    """

    def fault(code: str, text: str, hint: str = "", line: int = 0) -> JobError:
        return JobError([Fault(code=code, what=text, hint=hint, file=str(path), line=line)])

    try:
        if path.is_dir():
            raise fault("is-a-folder", f"this is a folder, not a {what} file")
        if path.exists() and not path.is_file():
            raise fault("not-a-file", f"this is not a {what} file")
        with path.open("rb") as stream:
            data = stream.read(most_bytes + 1)
    except FileNotFoundError:
        raise fault("no-file", f"there is no such {what} file", "check the name and the folder") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise fault("no-file", f"the file cannot be read: {reason}") from None
    if len(data) > most_bytes:
        raise fault("too-large", f"the file is larger than {most_bytes // 1_000_000} MB; a {what} file is far smaller")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise fault("not-text", "the file is not UTF-8 text", "save it as UTF-8 in your editor", line) from None
    if "\0" in text:
        raise fault("not-text", "the file holds zero bytes: it is not text", "save it as UTF-8 in your editor")
    return text
