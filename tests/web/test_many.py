"""Many at once: nothing that anybody was told is done gets lost, and every page hears the last of it."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack

from served_app import heard

CLIENTS = 20
EDITS = 5


def links_of(client):
    return [entry for entry in client.get("/api/brief").json()["entries"] if entry["kind"] == "link"]


def test_twenty_pages_edit_at_once_and_no_edit_is_lost(app, laptop):
    first = links_of(laptop)[0]
    laptop.post(f"/api/entries/{first['uid']}/copies", json={"count": CLIENTS})
    links = links_of(laptop)[:CLIENTS]
    clients = [app.client() for _ in range(CLIENTS)]
    with ExitStack() as stack:
        sockets = [stack.enter_context(app.socket(client)) for client in clients]
        begin = heard(sockets[0], "hello")["seq"]

        def edit(number: int) -> int:
            link, seq = links[number], 0
            base = link["revision"]
            for turn in range(EDITS):
                wish = {
                    "base": base,
                    "changes": {"name": f"page {number} turn {turn}"},
                    "client_key": f"{number}.{turn}",
                }
                answer = clients[number].patch(f"/api/entries/{link['uid']}", json=wish)
                assert answer.status_code == 200, answer.text
                (entry,) = answer.json()["entries"]
                base, seq = entry["revision"], answer.json()["seq"]
            return seq

        with ThreadPoolExecutor(CLIENTS) as pool:
            last = max(pool.map(edit, range(CLIENTS)))
        names = {entry["uid"]: entry["value"]["name"] for entry in links_of(laptop)}
        assert [names[link["uid"]] for link in links] == [f"page {n} turn {EDITS - 1}" for n in range(CLIENTS)]
        events = laptop.get("/api/events", params={"after": begin, "limit": 1000}).json()["events"]
        assert len(events) == CLIENTS * EDITS
        for socket in sockets:
            while heard(socket, "changed")["seq"] < last:
                pass


def test_everybody_who_writes_into_one_cell_either_wins_or_is_told_so(app, laptop):
    link = links_of(laptop)[0]
    path = f"/api/entries/{link['uid']}"

    def add_own_letter(letter: str) -> None:
        client = app.client()
        base, name = link["revision"], link["value"]["name"]
        while True:
            answer = client.patch(path, json={"base": base, "changes": {"name": name + letter}})
            if answer.status_code == 200:
                return
            assert answer.status_code == 409
            base, name = answer.json()["entry"]["revision"], answer.json()["theirs"]["name"]

    letters = "abcdefgh"
    with ThreadPoolExecutor(len(letters)) as pool:
        list(pool.map(add_own_letter, letters))
    found = next(entry for entry in links_of(laptop) if entry["uid"] == link["uid"])["value"]["name"]
    assert sorted(found.removeprefix(link["value"]["name"])) == list(letters)


def test_a_page_that_never_reads_holds_nobody_up(app, laptop):
    link = links_of(laptop)[0]
    base = link["revision"]
    with app.socket(laptop):
        for turn in range(50):
            wish = {"base": base, "changes": {"name": f"turn {turn}"}}
            answer = laptop.patch(f"/api/entries/{link['uid']}", json=wish)
            base = answer.json()["entries"][0]["revision"]
        with app.socket(laptop) as socket:
            assert heard(socket, "hello")["seq"] == answer.json()["seq"]
