"""Bytes and text out of a file that nobody here wrote: bounded in size, decoded by what it says of itself."""

from __future__ import annotations

from pathlib import Path

from shared.errors import FarmFileError, Fault

MOST_BYTES = 40_000_000
"""Far above the boundaries of a thousand fields (a few MB), far below what a small computer holds."""


def fault_of(file: str, problem: str, allowed: str, key: str = "the file", value: str = "") -> FarmFileError:
    """Return the error of one fault."""
    return FarmFileError([Fault(file, key, value, problem, allowed)])


def read_bytes(path: Path, most: int = MOST_BYTES) -> bytes:
    """Return the content of a file.

    Raises
    ------
    FarmFileError
        It is missing, no file, not readable, empty, or larger than `most` bytes.
    """
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise fault_of(str(path), "is a folder", "a file")
        if size > most:
            raise fault_of(
                path.name, f"holds {size / 1e6:,.0f} MB", f"at most {most / 1e6:,.0f} MB; leave out what is not needed"
            )  # fmt: skip
        content = path.read_bytes()
    except FileNotFoundError as error:
        raise fault_of(str(path), "does not exist", "the path of a file") from error
    except OSError as error:
        raise fault_of(str(path), f"cannot be read ({error.strerror})", "a readable file") from error
    if not content:
        raise fault_of(path.name, "is empty", "a file with something in it")
    return content


def decode(content: bytes) -> tuple[str, str]:
    """Return the text of bytes and what letters they were taken for.

    A byte-order mark decides (UTF-8, UTF-16); then UTF-8 if it fits; then the Western code page 1252, in which any
    byte is a letter, so that the text must be looked at by a person.
    """
    for mark, name in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if content.startswith(mark):
            return content.decode(name, errors="replace"), name
    try:
        return content.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace"), "cp1252"
