"""The log carried away and back: backup while writing, restore, JSON lines that count once, poison refused by line."""

from __future__ import annotations

import json
import shutil
import threading
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from adapters.storage.sql_log import SqlEventLog
from scheduler.cli.main import main
from scheduler.wiring.news import read_state
from scheduler.wiring.workspace import open_farm
from shared.event_record import EventRecord
from tests.whatif.test_ways import NOW

SCENARIO = Path(__file__).resolve().parents[2] / "scenarios" / "short-handed"


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    shutil.copytree(SCENARIO, tmp_path / "farm", ignore=shutil.ignore_patterns("*.sqlite*"))
    for words in (["rain", "all", "0.4 in"], ["down", "planter"], ["ground", "pond", "unfit"]):
        assert run("report", str(tmp_path / "farm"), *words, "--now", "2027-05-11 05:00").exit_code == 0
    return tmp_path / "farm"


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def ids(folder: Path) -> list[str]:
    return list(read_state(open_farm(folder)).told)


def test_backup_and_restore(farm: Path, tmp_path: Path) -> None:
    saved = tmp_path / "saved.sqlite"
    assert "3 events copied" in run("backup", str(farm), str(saved)).output
    again = run("backup", str(farm), str(saved))
    assert again.exit_code == 4 and "exists already" in again.output
    over = run("restore", str(saved), str(farm))
    assert over.exit_code == 4 and "nothing is ever overwritten" in over.output
    other = tmp_path / "other"
    shutil.copytree(SCENARIO, other, ignore=shutil.ignore_patterns("*.sqlite*"))
    assert "3 events restored" in run("restore", str(saved), str(other)).output
    assert ids(other) == ids(farm)


def test_a_backup_taken_while_others_write_is_a_moment_of_the_log(farm: Path, tmp_path: Path) -> None:
    log = SqlEventLog(farm / "fitground.sqlite")
    stop = threading.Event()

    def write() -> None:
        for k in range(400):
            if stop.is_set():
                return
            log.append([EventRecord(f"w-{k:04d}", "machine_back", NOW, NOW, {"machine": "planter"})])

    writer = threading.Thread(target=write)
    writer.start()
    try:
        assert run("backup", str(farm), str(tmp_path / "b.sqlite")).exit_code == 0
    finally:
        stop.set()
        writer.join()
    kept = [record.id for record in SqlEventLog(tmp_path / "b.sqlite").read()]
    whole = [record.id for record in log.read()]
    assert kept == whole[: len(kept)] and len(kept) >= 3


def test_damaged_and_foreign_files_are_refused(farm: Path, tmp_path: Path) -> None:
    broken = tmp_path / "broken.sqlite"
    broken.write_bytes(b"no database at all" * 50)
    told = run("restore", str(broken), str(tmp_path / "new"))
    assert told.exit_code == 4 and "no event log" in told.output
    assert not (tmp_path / "new" / "fitground.sqlite").exists()
    assert run("restore", str(tmp_path / "nothing"), str(tmp_path / "new")).exit_code == 4


def test_the_log_goes_out_and_in_as_json_lines_and_counts_once(farm: Path, tmp_path: Path) -> None:
    lines = tmp_path / "log.jsonl"
    assert run("export-log", str(farm), "--out", str(lines)).exit_code == 0
    assert run("export-log", str(farm)).output == lines.read_text(encoding="utf-8")
    other = tmp_path / "other"
    shutil.copytree(SCENARIO, other, ignore=shutil.ignore_patterns("*.sqlite*"))
    assert "3 events would be taken" in run("import-log", str(other), str(lines), "--dry-run").output
    assert ids(other) == []
    assert "3 events taken, 0 known before" in run("import-log", str(other), str(lines)).output
    assert "0 events taken, 3 known before" in run("import-log", str(other), str(lines)).output
    assert ids(other) == ids(farm)
    assert run("export-log", str(other)).output == lines.read_text(encoding="utf-8")


def test_poison_is_named_by_line_and_the_rest_goes_in(farm: Path, tmp_path: Path) -> None:
    rows = [json.loads(line) for line in run("export-log", str(farm)).output.splitlines()]
    rows[0] |= {"id": "x-1", "kind": "moon_landed"}
    rows[1] |= {"id": "x-2", "version": 99}
    rows[2] |= {"id": "x-3"}
    bad = {**rows[2], "id": "x-4", "body": {"field": "pond", "verdict": "soggy"}}
    path = tmp_path / "in.jsonl"
    path.write_text("\n".join([*(json.dumps(row) for row in [*rows, bad]), "{torn"]))
    told = run("import-log", str(farm), str(path))
    assert "1 event taken, 0 known before, 4 left out" in told.output
    for part in ("moon_landed", "version 99", "verdict", "torn off"):
        assert part in told.output
    assert "x-3" in ids(farm)


def test_a_log_on_a_shared_server_is_not_backed_up_as_a_file(
    farm: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with (farm / "farm.toml").open("a", encoding="utf-8") as file:
        file.write('\n[store]\nurl = "postgresql://fitground@office.example/fields"\n')
    told = run("backup", str(farm), str(tmp_path / "saved.sqlite"))
    assert told.exit_code == 4 and "the log lies on a shared server" in told.output
    assert not (tmp_path / "saved.sqlite").exists()
    text = (farm / "farm.toml").read_text(encoding="utf-8")
    (farm / "farm.toml").write_text(text.replace("fitground@", "fitground:secret@"), encoding="utf-8")
    told = run("status", str(farm))
    assert told.exit_code == 2 and "store.url" in told.output and "holds a password" in told.output
