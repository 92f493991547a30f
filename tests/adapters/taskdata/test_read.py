"""TASKDATA in: totals by task, XML that would do harm, archives that would."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from adapters.taskdata import read_taskdata
from shared.errors import FarmFileError

SAMPLES = Path(__file__).resolve().parents[4] / "shared" / "samples" / "TASKDATA"


def document(*tasks: str, more: str = "") -> str:
    return (
        '<?xml version="1.0" encoding="UTF-8"?><ISO11783_TaskData VersionMajor="4" VersionMinor="3" ManagementSoftwareManufacturer="x" '
        'ManagementSoftwareVersion="1" DataTransferOrigin="2"><PFD A="PFD1" B="north" C="North Bench" D="455000"/><CPC A="CPC1" B="plant"/>'
        '<WKR A="WKR1" B="Berg" C="Ana"/><PDT A="PDT1" B="Seed corn"/>'
        '<DVC A="DVC-1" D="A00A8200E0000000" F="31" G="FF000000000000"><DET A="DET-1" B="1" C="1" E="1" F="0"/><DET A="DET-2" B="2" C="2" E="2" F="1"/></DVC>'
        '<DVC A="DVC-2" D="A00A8200E0000001" F="31" G="FF000000000000"><DET A="DET-3" B="1" C="1" E="1" F="0"/></DVC>'
        f"{''.join(tasks)}{more}</ISO11783_TaskData>"
    )  # fmt: skip


def time(start: str, end: str, *values: tuple[str, int], kind: int = 4) -> str:
    inside = "".join(f'<DLV A="0074" B="{area}" C="{element}"/>' for element, area in values)
    return f'<TIM A="2027-05-{start}:00Z" B="2027-05-{end}:00Z" D="{kind}">{inside}</TIM>'


def task(*times: str, status: int = 4, name: str = "TSK1", title: str = "Plant corn") -> str:
    return f'<TSK A="{name}" B="{title}" E="PFD1" F="WKR1" G="{status}">{"".join(times)}<OTP A="CPC1"/><PAN A="PDT1"/></TSK>'


def saved(folder: Path, text: str, name: str = "TASKDATA.XML") -> Path:
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def test_totals_go_on_counting_and_machines_add_up(tmp_path: Path) -> None:
    """Totals of a task taken up again go on (10 then 25 ha, with a boom that says the same); a second machine adds 5 ha."""
    times = (
        time("10T12:00", "10T15:00", ("DET-1", 100_000), ("DET-2", 100_000)),
        time("11T12:00", "11T16:00", ("DET-1", 250_000), ("DET-2", 250_000), ("DET-3", 50_000)),
    )
    found, notes = read_taskdata(saved(tmp_path, document(task(*times))))
    assert len(found) == 1 and notes == []
    one = found[0]
    assert one.area_ha == 30.0 and one.completed
    assert (one.field_code, one.practice, one.worker, one.products) == (
        "north",
        "plant",
        "Ana Berg",
        ("Seed corn",),
    )
    assert one.start is not None and one.end is not None
    assert (one.start.day, one.end.day, one.end.hour) == (10, 11, 16)


def test_the_key_stays_while_the_task_grows(tmp_path: Path) -> None:
    early, _ = read_taskdata(
        saved(tmp_path, document(task(time("10T12:00", "10T15:00", ("DET-1", 100_000)), status=3)))
    )
    later, _ = read_taskdata(
        saved(
            tmp_path,
            document(
                task(
                    time("10T12:00", "10T15:00", ("DET-1", 100_000)),
                    time("11T12:00", "11T15:00", ("DET-1", 200_000)),
                )
            ),
        )
    )
    other, _ = read_taskdata(
        saved(tmp_path, document(task(time("12T12:00", "12T15:00", ("DET-1", 100_000)))))
    )
    assert early[0].key == later[0].key != other[0].key and not early[0].completed


def test_what_says_no_area_is_said_and_plans_are_passed_over(tmp_path: Path) -> None:
    text = document(
        task(time("10T12:00", "10T15:00"), title="Spray"), task(name="TSK2", status=1, title="Not begun")
    )
    found, notes = read_taskdata(saved(tmp_path, text))
    assert found == [] and len(notes) == 1 and "'Spray' says no total area" in notes[0]


@pytest.mark.skipif(not SAMPLES.exists(), reason="the shared samples are not beside this clone")
def test_a_planners_file_holds_no_work_done() -> None:
    assert read_taskdata(SAMPLES) == ([], [])


BOMB = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
OUTSIDE = '<!DOCTYPE x [<!ENTITY f SYSTEM "file:///etc/passwd">]>'


@pytest.mark.parametrize(
    ("text", "part"),
    [
        (document().replace("?><ISO", f"?>{BOMB}<ISO"), "entities"), (document(more="<CTR A='&f;'/>").replace("?><ISO", f"?>{OUTSIDE}<ISO"), "entities"),
        ("<ISO11783_TaskData", "no sound XML"), ("<html/>", "begins with 'html'"), ("", "is empty"), ("\0\0\0", "no sound XML"),
    ],
)  # fmt: skip
def test_xml_that_is_not_read(tmp_path: Path, text: str, part: str) -> None:
    with pytest.raises(FarmFileError, match=part):
        read_taskdata(saved(tmp_path, text))


def test_folders_and_archives(tmp_path: Path) -> None:
    text = document(task(time("10T12:00", "10T15:00", ("DET-1", 100_000))))
    (tmp_path / "card" / "TASKDATA").mkdir(parents=True)
    saved(tmp_path / "card" / "TASKDATA", text)
    assert len(read_taskdata(tmp_path / "card")[0]) == 1
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("x/taskdata.xml", text)
    assert len(read_taskdata(tmp_path / "a.zip")[0]) == 1
    with pytest.raises(FarmFileError, match=r"holds no TASKDATA\.XML"):
        read_taskdata(tmp_path)
    with zipfile.ZipFile(tmp_path / "b.zip", "w") as archive:
        archive.writestr("../TASKDATA.XML", text)
    with pytest.raises(FarmFileError, match="outside"):
        read_taskdata(tmp_path / "b.zip")
