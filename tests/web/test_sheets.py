"""Sheets over the API, with names that try to be more than names."""

from __future__ import annotations

import csv
import html.parser
import http.client
import io

import pytest

EVIL = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "' onmouseover='alert(1)",
    "{{ 7 * 7 }}",
    "</td></table><h1>x",
    "javascript:alert(1)",
]
FORMULAS = ['=HYPERLINK("http://evil.example","x")', "+1+1", "-2+3", "@SUM(A1)", "\tcmd", "=1+1"]


class Tags(html.parser.HTMLParser):
    """What a browser would make of a page: its elements, and its text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.handlers: list[str] = []
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.handlers += [name for name, value in attrs if name.startswith("on") or "javascript:" in (value or "")]

    def handle_data(self, data):
        self.text += data


@pytest.fixture
def named(planned_app):
    """A planned job whose first links are called by what is evil."""
    laptop = planned_app.client()

    def name_links(names):
        links = [entry for entry in laptop.get("/api/brief").json()["entries"] if entry["kind"] == "link"]
        for link, name in zip(links, names, strict=False):
            answer = laptop.patch(
                f"/api/entries/{link['uid']}", json={"base": link["revision"], "changes": {"name": name, "role": name}}
            )
            assert answer.status_code == 200, answer.text
        return laptop

    return name_links


def test_names_stay_text_in_a_sheet_and_its_policy_allows_no_script(named):
    laptop = named(EVIL)
    for names in ("full", "roles", "initials"):
        answer = laptop.get("/api/sheets/sheet.html", params={"names": names})
        page = Tags(answer.text)
        assert "script" not in page.tags
        assert page.handlers == []
        policy = answer.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "allow-scripts" not in policy
        assert "script-src" not in policy
        assert answer.headers["X-Frame-Options"] == "SAMEORIGIN"
    assert EVIL[0] in Tags(laptop.get("/api/sheets/sheet.html").text).text
    assert laptop.get("/api/sheets/sheet.pdf").content.startswith(b"%PDF")


def test_no_cell_of_a_list_is_taken_for_a_formula(named):
    laptop = named(FORMULAS)
    answer = laptop.get("/api/sheets/carriers.csv")
    rows = list(csv.reader(io.StringIO(answer.text)))
    cells = [cell for row in rows for cell in row]
    assert not [cell for cell in cells if cell[:1] in "=+-@\t\r" and cell]
    assert any("HYPERLINK" in cell for cell in cells)
    assert answer.headers["Content-Type"].startswith("text/csv")


def test_the_brief_comes_as_text_that_a_command_reads(laptop):
    text = laptop.get("/api/sheets/brief.toml").text
    assert text.startswith("bandwright = 1")
    assert "[[link]]" in text


@pytest.mark.parametrize(
    "path",
    [
        "/api/sheets/nothing.html",
        "/api/sheets/../job",
        "/api/sheets/..%2f..%2fetc%2fpasswd",
        "/a/../pyproject.toml",
        "/a/x/..%2f..%2f..%2fetc/passwd",
        "/a//etc/passwd",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/static/index.html",
        "/a/{digest}/../../app.py",
        "/a/{digest}/..%2fapp.py",
        "/a/{digest}/%2e%2e/app.py",
        "/a/{digest}/lib\\..\\..\\app.py",
        "/a/{digest}//app.js",
        "/a/{digest}/.",
        "/a/{digest}/",
    ],
)
def test_no_path_leads_to_a_file_that_is_not_meant(shared_app, path):
    app = shared_app
    # Not by a client that tidies paths up: the bytes as an attacker would send them.
    connection = http.client.HTTPConnection("127.0.0.1", app.port)
    connection.putrequest("GET", path.replace("{digest}", app.serving.assets.digest), skip_host=True)
    connection.putheader("Host", f"127.0.0.1:{app.port}")
    connection.putheader("Cookie", app.client().headers["Cookie"])
    connection.endheaders()
    answer = connection.getresponse()
    body = answer.read()
    connection.close()
    assert answer.status in (404, 422), (answer.status, body[:100])
    assert b"root:" not in body
    assert b"def " not in body
