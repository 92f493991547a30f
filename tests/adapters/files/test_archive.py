"""Archives from strangers: bombs, paths that lead outside, passwords, damage (CWE-409 and CWE-22 name the kinds of attack)."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.files.archive import read_archive
from adapters.files.bounded import decode, read_bytes
from shared.errors import FarmFileError


def everything(_: str) -> bool:
    return True


def written(path: Path, *members: tuple[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members:
            archive.writestr(name, content)
    return path


def refusal(path: Path, most: int = 40_000_000) -> str:
    with pytest.raises(FarmFileError) as caught:
        read_archive(path, everything, most)
    return str(caught.value)


def test_sound_members_are_read_and_a_computers_own_are_not(tmp_path: Path) -> None:
    path = written(tmp_path / "a.zip", ("x/a.txt", b"a"), ("__MACOSX/x/a.txt", b"no"), ("x/.hidden", b"no"))
    assert read_archive(path, everything) == {"x/a.txt": b"a"}
    assert read_archive(path, lambda name: name.endswith(".csv")) == {}


@pytest.mark.parametrize("name", ["../evil.txt", "/etc/evil", "a/../../evil", "C:/evil", "a\\..\\..\\evil"])
def test_names_that_lead_outside(tmp_path: Path, name: str) -> None:
    assert "outside of the archive" in refusal(written(tmp_path / "a.zip", (name, b"x")))


def test_a_bomb_is_refused_unread(tmp_path: Path) -> None:
    assert "swell" in refusal(written(tmp_path / "a.zip", ("a.txt", b"\0" * 30_000_000)))
    many = written(tmp_path / "b.zip", *[(f"{k}.txt", b"ab" * 1_000_000) for k in range(25)])
    assert "would unpack to 50 MB" in refusal(many)
    crowd = written(tmp_path / "c.zip", *[(f"{k}.txt", b"") for k in range(2_001)])
    assert "holds 2,001 files" in refusal(crowd)


def test_a_member_larger_than_its_heading_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path / "a.zip", ("a.txt", b"x" * 1000))
    content = bytearray(path.read_bytes())
    size = (1000).to_bytes(4, "little")
    for place in (content.index(size), content.rindex(size)):
        content[place : place + 4] = (10).to_bytes(4, "little")
    path.write_bytes(content)
    said = refusal(path)
    assert "larger than its heading" in said or "damaged" in said


def test_damage_and_passwords(tmp_path: Path) -> None:
    (tmp_path / "a.zip").write_bytes(b"PK\x03\x04 nothing more")
    assert "damaged" in refusal(tmp_path / "a.zip")
    path = written(tmp_path / "b.zip", ("a.txt", b"abc"))
    content = bytearray(path.read_bytes())
    for mark, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        content[content.index(mark) + place] |= 1
    path.write_bytes(content)
    assert "password" in refusal(path)


def test_a_file_of_50_mb_is_refused_by_its_size(tmp_path: Path) -> None:
    path = tmp_path / "big.geojson"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    with pytest.raises(FarmFileError, match="holds 50 MB"):
        read_bytes(path)


@given(
    st.text(
        alphabet=st.characters(codec="utf-8", exclude_characters="\ufeff\0", exclude_categories=["Cs"]),
        min_size=1,
    )
)
def test_text_comes_back_however_it_was_saved(text: str) -> None:
    for letters in ("utf-8", "utf-8-sig", "utf-16"):
        assert decode(text.encode(letters))[0] == text


@given(st.binary(min_size=1, max_size=400))
def test_any_bytes_end_in_a_sentence_or_in_members(
    tmp_path_factory: pytest.TempPathFactory, content: bytes
) -> None:
    path = tmp_path_factory.mktemp("z") / "a.zip"
    path.write_bytes(b"PK\x03\x04" + content)
    with pytest.raises(FarmFileError):
        read_archive(path, everything)
