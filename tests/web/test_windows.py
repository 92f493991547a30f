"""What is running out, page by page."""

from __future__ import annotations

import re
from html import unescape

import pytest
from starlette.testclient import TestClient

from scheduler.web import pages
from scheduler.web.views_windows import rows
from scheduler.wiring.office import Office


def test_windows_come_page_by_page_each_once(
    manager: TestClient, office: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pages, "WINDOWS_A_PAGE", 9)
    wanted = [row for row in rows(office.view()) if row.state == "later"]
    assert len(wanted) > 18
    found: list[str] = []
    address: str | None = "/windows?show=later"
    while address:
        text = manager.get(address).text
        body = text.split("<tbody>", 1)[1].split("</tbody>", 1)[0]
        assert body.count("<tr>") <= 9
        found += re.findall(r'href="/ground/([^"]+)"', body)
        more = re.search(r'href="(/windows[^"]+)">More<', text)
        address = unescape(more[1]) if more else None
    assert found == [row.field_id for row in wanted]
