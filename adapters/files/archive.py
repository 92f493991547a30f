"""What a zip archive holds, read into memory by name: nothing is unpacked to disk, and nothing can swell without bound.

Question answered: *which wanted files are in this archive?* A member whose path leads out of the archive, an archive that
would swell (many megabytes out of few), one that holds too many files, is encrypted or damaged is refused whole.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable
from io import BytesIO
from pathlib import Path, PurePosixPath
from zipfile import BadZipFile, LargeZipFile, ZipFile, ZipInfo

from adapters.files.bounded import MOST_BYTES, fault_of, read_bytes

MOST_MEMBERS = 2_000
MOST_SWELL, SWELL_FREE_BYTES = 200, 5_000_000
"""An honest text file shrinks ten to thirty times; more than this is refused once it matters."""
ENCRYPTED = 0x1


def is_zip(content: bytes) -> bool:
    """Return whether bytes begin as a zip archive does."""
    return content[:4] in (b"PK\x03\x04", b"PK\x05\x06")


def read_archive(path: Path, wanted: Callable[[str], bool], most: int = MOST_BYTES) -> dict[str, bytes]:
    """Return the wanted members of an archive by their path in it.

    Parameters
    ----------
    path : Path
    wanted : callable
        Path of a member (``/`` between parts) -> whether it is read.
    most : int
        Bytes that the wanted members may unpack to, together.

    Raises
    ------
    FarmFileError
        It is no archive, damaged, encrypted, leads outside, or would swell.
    """
    content = read_bytes(path)
    try:
        with ZipFile(BytesIO(content)) as archive:
            members = [one for one in archive.infolist() if not one.is_dir()]
            _judge(path.name, members, most)
            return {
                one.filename: _member(archive, one, path.name)
                for one in members
                if not _clutter(one.filename) and wanted(one.filename)
            }
    except (
        BadZipFile,
        LargeZipFile,
        zlib.error,
        EOFError,
        NotImplementedError,
        ValueError,
        UnicodeDecodeError,
    ) as error:
        raise fault_of(path.name, "is no zip archive, or a damaged one", "a whole zip archive") from error


def _judge(file: str, members: list[ZipInfo], most: int) -> None:
    if len(members) > MOST_MEMBERS:
        raise fault_of(file, f"holds {len(members):,} files", f"at most {MOST_MEMBERS:,}")
    for one in members:
        parts = PurePosixPath(one.filename.replace("\\", "/"))
        if parts.is_absolute() or ".." in parts.parts or ":" in one.filename or "\0" in one.filename:
            raise fault_of(
                file, "names a file outside of the archive", "plain names", "member", one.filename[:60]
            )
        if one.flag_bits & ENCRYPTED:
            raise fault_of(
                file, "is locked with a password", "an archive without one", "member", one.filename[:60]
            )
        if one.file_size > SWELL_FREE_BYTES and one.file_size > MOST_SWELL * max(1, one.compress_size):
            raise fault_of(file, "would swell more than any honest file", "an archive of real files", "member", one.filename[:60])  # fmt: skip
    total = sum(one.file_size for one in members)
    if total > most:
        raise fault_of(file, f"would unpack to {total / 1e6:,.0f} MB", f"at most {most / 1e6:,.0f} MB")


def _member(archive: ZipFile, one: ZipInfo, file: str) -> bytes:
    """Return a member; never more bytes than its heading claims, whatever the stream holds."""
    with archive.open(one) as stream:
        content = stream.read(one.file_size + 1)
    if len(content) > one.file_size:
        raise fault_of(
            file, "is larger than its heading says", "an honest archive", "member", one.filename[:60]
        )
    return content


def _clutter(name: str) -> bool:
    """Return whether a member is a computer's own (resource forks, hidden files)."""
    return any(part == "__MACOSX" or part.startswith(".") for part in name.split("/"))
