"""Server time and weight of every page at 14 and at 200 fields, and their ratio: pages must not grow with the farm."""

from __future__ import annotations

import gzip
import tempfile
import time
from datetime import datetime
from pathlib import Path
from statistics import median
from zoneinfo import ZoneInfo

from starlette.testclient import TestClient

from scheduler.web.app import make_app
from scheduler.web.door import Door
from scheduler.wiring.mornings import issue, plan_morning
from scheduler.wiring.office import Office
from tests.service.farms import at, wet_week

PAGES = ("/", "/ground", "/days", "/windows", "/stores", "/news", "/season")
TIMES = 15
PASSWORD = "ten letters or more"


def grow(folder: Path, fields: int) -> None:
    """Make a farm of so many fields out of the wet week's: copies of each beside it, machines and people as they are."""
    path = folder / "fields.csv"
    head, *rows = path.read_text(encoding="utf-8").splitlines()
    names = head.split(",")
    rows = [row for row in rows if row and not row.startswith("#")]
    out = []
    for k in range(fields):
        cells = rows[k % len(rows)].split(",")
        if k >= len(rows):
            cells[names.index("id")] += f"-{k}"
            if "name" in names:
                cells[names.index("name")] += f" {k}"
        out.append(",".join(cells))
    path.write_text("\n".join([head, *out]) + "\n", encoding="utf-8")


def main() -> None:
    """Print a table."""
    found: dict[int, dict[str, tuple[float, int, int]]] = {}
    for fields in (15, 200):
        with tempfile.TemporaryDirectory() as place:
            folder = wet_week(Path(place))
            if fields > 15:
                grow(folder, fields)
            found[fields] = measure(folder, at(10, "05:05"))
    print(f"{'page':12}{'15 fields':>12}{'200 fields':>13}{'ratio':>8}{'kB':>8}{'kB packed':>11}")
    for page in (*PAGES, "crew"):
        small, large = found[15][page], found[200][page]
        print(
            f"{page:12}{small[0]:>9.0f} ms{large[0]:>10.0f} ms{large[0] / small[0]:>8.1f}{large[1] / 1000:>8.0f}{large[2] / 1000:>11.0f}"
        )
    static = sum(
        len((Path("scheduler/web/static") / name).read_bytes())
        for name in ("site.css", "site.js", "htmx.min.js")
    )
    print(f"besides, kept by the browser: style and scripts {static / 1000:.0f} kB")


def measure(folder: Path, now: datetime) -> dict[str, tuple[float, int, int]]:
    """Return milliseconds (median), bytes and packed bytes of each page."""
    office = Office(folder, lambda: now.astimezone(ZoneInfo("UTC")), 2.0)
    issue(office.workspace, plan_morning(office.workspace, now, 2.0))
    client = TestClient(make_app(office))
    client.post("/welcome", data={"password": PASSWORD, "again": PASSWORD})
    out = {}
    crew = f"/crew/{Door(office.workspace.book).link(office.workspace.farm.operators[0].id)}"
    for name in (*PAGES, crew):
        body = client.get(name).content
        times = []
        for _ in range(TIMES):
            begun = time.perf_counter()
            answer = client.get(name)
            times.append(1000 * (time.perf_counter() - begun))
            assert answer.status_code == 200
        out["crew" if name == crew else name] = (median(times), len(body), len(gzip.compress(body)))
    return out


if __name__ == "__main__":
    main()
