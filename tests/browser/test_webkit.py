"""One journey in a second kind of browser, over the address by which phones come: half of all phones have it."""

import shutil
from pathlib import Path

import pytest
from webkit import missing, webkit

from bandwright.web.names import lan_addresses


@pytest.fixture
def page():
    if lost := missing():
        pytest.skip(
            f"no WebKit here ({lost}): install webkit2gtk-driver and xvfb to test the pages in a second browser"
        )
    with webkit() as opened:
        yield opened


def test_a_phone_with_webkit_joins_ticks_a_link_and_sees_the_plan(page, serve, planned_file, tmp_path):
    with serve(Path(shutil.copy(planned_file, tmp_path / "job.bwjob")), lan=True) as app:
        host = next(iter(lan_addresses()), "127.0.0.1")
        code = app.client().post("/api/pairing", json={"role": "edit"}).json()["code"]
        page.go(f"http://{host}:{app.port}/#/pair/{code}")
        assert page.run("return isSecureContext") is (host == "127.0.0.1")
        page.type(".join [autocomplete=name]", "Ida's phone")
        page.click(".join button")
        known = app.client().get("/api/readiness").json()
        link = next(link for link in known["links"]["all"] if link["id"] == "L04")
        assert known["plan"]["check_phrase"] in page.text(".strip")
        page.run(f"location.hash = '#/link/{link['uid']}'")
        hz = link["carrier_hz"]
        assert page.text(".carrier-huge b") == f"{hz // 1_000_000}.{hz % 1_000_000 // 1000:03}"
        page.click(".one-ticks button")
        assert "Ida's phone" in page.text(".one-ticks li:first-child .soft:not(:empty)")
        page.run("location.hash = '#/plan'")
        page.find(".flag[data-id=L04] .mark")
        page.find(".key-trace")
        assert page.run("return document.querySelectorAll('.plan-table tbody tr').length") == known["links"]["total"]
        ticks = app.client().get("/api/readiness").json()["links"]["all"]
        assert next(item for item in ticks if item["id"] == "L04")["ticks"]["set"]["who"] == "Ida's phone"
