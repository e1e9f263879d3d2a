"""What listeners are told: everything, and a slow one the newest of each kind."""

from __future__ import annotations

import asyncio
import threading
from datetime import UTC, datetime

from bandwright.web.hub import Hub
from bandwright.web.sessions import Me

NOW = datetime(2027, 5, 14, 15, 40, tzinfo=UTC)
LAPTOP = Me(name="laptop", role="edit")
PHONE = Me(name="phone", role="look", uid="p1")


def changed(seq: int, *, topics=("brief",), uids=()) -> dict:
    return {"type": "changed", "seq": seq, "who": f"who {seq}", "what": f"what {seq}", "topics": topics, "uids": uids}


def test_changes_that_wait_become_one_that_loses_no_topic_and_no_entry():
    async def go():
        hub = Hub(lambda: NOW)
        hub.begin()
        listener = hub.join(LAPTOP)
        listener.put(changed(1, topics=("brief", "plan"), uids=("a", "b")))
        listener.put({"type": "run", "placed": 1})
        listener.put({"type": "run", "placed": 2})
        listener.put(changed(2, topics=("readiness",), uids=("b", "c")))
        return [await listener.next(), await listener.next()]

    run, change = asyncio.run(go())
    assert run == {"type": "run", "placed": 2}
    assert change == changed(2, topics=["brief", "plan", "readiness"], uids=["a", "b", "c"])


def test_changes_that_follow_closely_come_together_and_nothing_else_waits_for_them():
    async def go():
        hub = Hub(lambda: NOW)
        hub.begin()
        listener = hub.join(LAPTOP)
        hub.tell(changed(1))
        first = await listener.next()
        hub.tell(changed(2))
        hub.tell({"type": "run", "placed": 3})
        hub.tell(changed(3))
        return [first, await listener.next(), await listener.next()]

    first, run, later = asyncio.run(go())
    assert (first["seq"], run["placed"], later["seq"]) == (1, 3, 3)


def test_of_many_who_tell_at_once_nobody_is_lost():
    async def go():
        hub = Hub(lambda: NOW)
        hub.begin()
        listener = hub.join(LAPTOP)
        everybody = [threading.Thread(target=hub.tell, args=(changed(seq, uids=(f"u{seq}",)),)) for seq in range(50)]
        for one in everybody:
            one.start()
        uids: set[str] = set()
        while len(uids) < 50:
            uids |= set((await asyncio.wait_for(listener.next(), 10))["uids"])
        return uids

    assert asyncio.run(go()) == {f"u{seq}" for seq in range(50)}


def test_what_is_told_in_another_thread_reaches_every_page_and_wakes_it():
    async def go():
        hub = Hub(lambda: NOW)
        hub.begin()
        listeners = [hub.join(LAPTOP), hub.join(PHONE)]
        waiting = [asyncio.create_task(listener.next()) for listener in listeners]
        await asyncio.sleep(0)
        threading.Thread(target=hub.tell, args=(changed(7),)).start()
        return await asyncio.gather(*waiting)

    assert [message["seq"] for message in asyncio.run(go())] == [7, 7]


def test_a_device_that_is_shut_out_loses_its_pages_and_nobody_else_does():
    async def go():
        hub = Hub(lambda: NOW)
        hub.begin()
        laptop, phone = hub.join(LAPTOP), hub.join(PHONE)
        assert hub.here() == {None, "p1"}
        hub.close("p1", 4401)
        assert await phone.next() is None
        hub.tell(changed(1))
        assert (await laptop.next())["seq"] == 1
        hub.leave(phone)
        assert (hub.here(), hub.count) == ({None}, 1)
        return phone.closed

    assert asyncio.run(go()) == 4401


def test_before_it_begins_and_after_it_ends_nobody_is_told_and_nothing_fails():
    hub = Hub(lambda: NOW)
    hub.tell(changed(1))
    hub.close("p1", 4401)

    async def go():
        hub.begin()
        listener = hub.join(LAPTOP)
        hub.end()
        assert await listener.next() is None
        hub.tell(changed(1))
        return listener.closed

    assert asyncio.run(go()) == 1001


def test_a_device_whose_time_is_over_is_told_nothing_more():
    async def go():
        hub = Hub(lambda: NOW)
        hub.begin()
        late = hub.join(Me(name="phone", role="look", uid="p1", expires=NOW))
        hub.tell(changed(1))
        assert await late.next() is None
        return late.closed

    assert asyncio.run(go()) == 4401
