"""How links sound, and companding that is tried, as the API tells and serves it."""

from __future__ import annotations

import io
import shutil
import struct
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from served_app import App, heard, served

from bandwright.service import job_sound
from bandwright.service.context import Context
from bandwright.service.sound import sound_of_links

POINT = "sounding-right"
RATE_HZ = 48_000


def entry(client, kind: str, name: str) -> dict:
    return next(one for one in client.get("/api/brief").json()["entries"] if (one["kind"], one["id"]) == (kind, name))


def edit(client, kind: str, label: str, **changes) -> None:
    row = entry(client, kind, label)
    answer = client.patch(f"/api/entries/{row['uid']}", json={"base": row["revision"], "changes": changes})
    assert answer.status_code == 200, answer.text


def link(client, name: str) -> dict:
    return next(one for one in client.get("/api/sound").json()["document"]["links"] if one["id"] == name)


def point(client) -> dict:
    return next(one for one in client.get("/api/readiness").json()["points"] if one["point"] == POINT)


def recorded(seconds: float = 0.3, *, channels: int = 1, level: float = 0.25) -> bytes:
    """Return a 1 kHz tone as a WAV file, written by Python's own `wave`."""
    at = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    samples = np.repeat(np.rint(level * 32767 * np.sin(2 * np.pi * 1000 * at)).astype("<i2"), channels)
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(channels)
        out.setsampwidth(2)
        out.setframerate(RATE_HZ)
        out.writeframes(samples.tobytes())
    return file.getvalue()


def bring(client, data: bytes, name: str = "take.wav"):
    return client.post("/api/sound/recording", params={"name": name}, content=data)


def ended(app, client, **wish) -> dict:
    """Compare, and return how the run ended."""
    with app.socket(client) as socket:
        answer = client.post("/api/sound/compare", json=wish)
        assert answer.status_code == 200, answer.text
        while (state := heard(socket, "run"))["state"] == "running":
            continue
    return state


# ------------------------------------------------------------------------------------------------- how links sound


def test_it_is_what_the_command_tells_of_the_same_job(app, laptop, job_file):
    found = laptop.get("/api/sound").json()["document"]
    told = sound_of_links(Context(), job_file).document().model_dump(mode="json", by_alias=True)
    assert found["schema"] == "bandwright.sound/1"
    for part in ("links", "matrix", "together", "own_voice", "clocks", "cautions", "ok"):
        assert found[part] == told[part]


def test_it_follows_the_brief(app, laptop):
    before = link(laptop, "L01")["ways"][0]
    gain = before["settings"][0]
    edit(laptop, "link", "L01", gain_db=gain["recommended_db"] - gain["step_db"])
    after = link(laptop, "L01")["ways"][0]
    assert after["settings"][0]["stated"]
    # A step less gain leaves a step more headroom: arithmetic.
    assert after["headroom_db"] - before["headroom_db"] == pytest.approx(gain["step_db"], abs=0.011)


def test_it_says_which_radio_types_can_be_compared_and_why_others_cannot(app, laptop):
    found = {one["radio"]: one for one in laptop.get("/api/sound").json()["comparable"]}
    assert found["heron"]["why_not"] is None
    assert found["heron"]["kinds"] == 3
    assert "digital" in found["dunlin"]["why_not"]
    assert "no kind of companding" in found["wren"]["why_not"]


def test_a_brief_that_cannot_be_read_is_told_with_its_cells(app, laptop):
    assert laptop.post("/api/entries", json={"kind": "radio", "value": {"id": "half"}}).status_code == 200
    refused = laptop.get("/api/sound")
    assert refused.status_code == 422
    assert any(error["uid"] for error in refused.json()["errors"])


def test_what_is_wrong_stands_open_on_the_first_page_and_beside_what_somebody_states(app, laptop):
    now = point(laptop)
    assert (now["state"], now["href"]) == ("open", "#/sound")
    assert now["text"].startswith("L08 Piet Okonjo: The loudest peak clips")
    assert laptop.post("/api/statements", json={"what": POINT}).status_code == 200
    stated = point(laptop)
    assert stated["state"] == "stated"
    assert stated["text"].startswith("Stated by laptop at ")
    assert stated["text"].endswith(f"By reckoning: {now['text']}")


def test_links_that_cannot_be_told_stand_open_by_name(app, laptop):
    edit(laptop, "feed", "barge-camera", pad_db=20)
    now = point(laptop)
    assert now["state"] == "open"
    assert now["text"].startswith("L09 Rosalind Tran, H04 Guest 1, H05 Guest 2 and 2 more: facts are missing")
    assert "the other 14 fit" in now["text"]


# ------------------------------------------------------------------------------------------------------- recordings


def test_a_recording_is_taken_as_far_as_30_s(app, laptop):
    answer = bring(laptop, recorded(31, channels=2)).json()
    assert answer == {"name": "take.wav", "seconds": 30, "of_seconds": 31, "channels": 2}
    assert laptop.get("/api/sound/compare").json()["recording"] == answer
    assert laptop.delete("/api/sound/recording").status_code == 204
    assert laptop.get("/api/sound/compare").json()["recording"] is None


def damaged(at: int, form: str, value: int) -> bytes:
    data = bytearray(recorded())
    struct.pack_into(form, data, at, value)
    return bytes(data)


@pytest.mark.parametrize(
    ("data", "code", "words"),
    [
        (b"", "no-wav", "this is no WAV file"),
        (b"GIF89a" + bytes(100), "no-wav", "this is no WAV file"),
        (b"RIFF\xff\xff\xff\xffWAVE", "no-samples", "does not say how its samples are stored"),
        (recorded()[:44], "no-samples", "it holds no samples"),
        (recorded(level=0), "silence", "nothing but silence"),
        (damaged(20, "<H", 85), "unread-wav", "stored in a way that is not read"),
        (damaged(22, "<H", 60_000), "channels", "do not go together"),
        (damaged(24, "<I", 4_000_000_000), "rate", "4000000000 samples per second"),
    ],
)
def test_a_file_that_is_no_recording_is_refused_in_words(app, laptop, data, code, words):
    refused = bring(laptop, data)
    assert refused.status_code == 422
    [error] = refused.json()["errors"]
    assert error["code"] == code
    assert words in error["text"]
    assert laptop.get("/api/sound/compare").json()["recording"] is None


def test_a_file_that_is_too_large_is_refused_before_it_is_read(app, laptop):
    refused = bring(laptop, bytes(job_sound.MOST_RECORDING_BYTES + 1))
    assert refused.status_code == 413
    assert "more than the 24 MiB" in refused.json()["errors"][0]["text"]


# ---------------------------------------------------------------------------------------------------------- trials


@pytest.fixture(scope="module")
def tried_app(demo_file, tmp_path_factory) -> Iterator[App]:
    """A job where somebody's own short recording was tried; those that look at it change nothing."""
    path = Path(shutil.copy(demo_file, tmp_path_factory.mktemp("tried") / "tried.bwjob"))
    with served(path) as app:
        client = app.client()
        assert bring(client, recorded()).status_code == 200
        state = ended(app, client, link="L01", sound="file")
        assert state["state"] == "done", state
        yield app


@pytest.fixture
def listener(tried_app):
    return tried_app.client()


@pytest.fixture
def tried(listener) -> dict:
    return listener.get("/api/sound/compare").json()["tried"]


def test_a_trial_tells_how_far_it_is_and_what_was_found(app, laptop):
    bring(laptop, recorded())
    with app.socket(laptop) as socket:
        laptop.post("/api/sound/compare", json={"radio": "heron", "sound": "file"})
        states = []
        while not states or states[-1]["state"] == "running":
            states.append(heard(socket, "run"))
    shares = [state["share"] for state in states]
    assert shares == sorted(shares)
    assert (states[-1]["kind"], states[-1]["state"], states[-1]["share"]) == ("sound", "done", 1)
    document = laptop.get("/api/sound/compare").json()["tried"]["document"]
    assert (document["radio"], document["link"], document["sound"]["file"]) == ("heron", None, "take.wav")
    assert states[-1]["text"] == f"Found among 3 kinds: {document['found']['kind']}."


def test_sounds_before_and_after_are_wav_files(listener, tried, authority):
    assert [(one["kind"], one["level"]) for one in tried["files"]][:4] == [
        (None, None),
        ("full", "near"),
        ("full", "far"),
        ("full", "limit"),
    ]
    assert len(tried["files"]) == 10
    for one in tried["files"]:
        answer = listener.get(f"/api/sound/compare/wav/{one['name']}", params={"run": tried["run"]})
        assert answer.headers["Content-Type"] == "audio/wav"
        assert "default-src 'self'" in answer.headers["Content-Security-Policy"]
        with wave.open(io.BytesIO(answer.content)) as sound:
            assert (sound.getframerate(), sound.getnchannels(), sound.getsampwidth()) == (48_000, 1, 3)
            raw = np.frombuffer(sound.readframes(sound.getnframes()), np.uint8).reshape(-1, 3)
        top = float(np.abs((raw[:, 2].astype(np.int8).astype(int) << 16) + (raw[:, 1].astype(int) << 8)).max() / 2**23)
        if one["kind"] is None:
            authority(
                "Peak of a recording as it is sent",
                source="Python's wave module",
                kind="library",
                ours=top,
                theirs=0.25,
                tolerance=2e-3,
            )
        assert top <= 0.25 * 1.002


def test_a_player_gets_the_part_that_it_asks_for(listener, tried):
    address = f"/api/sound/compare/wav/sent?run={tried['run']}"
    whole = listener.get(address).content
    part = listener.get(address, headers={"Range": "bytes=100-199"})
    assert (part.status_code, part.content) == (206, whole[100:200])
    assert part.headers["Content-Range"] == f"bytes 100-199/{len(whole)}"
    rest = listener.get(address, headers={"Range": "bytes=100-"})
    assert (rest.status_code, rest.content) == (206, whole[100:])
    beyond = listener.get(address, headers={"Range": f"bytes={len(whole)}-"})
    assert beyond.status_code == 416
    for odd in ("bytes=5-1", "bytes=-5", "seconds=1-2", "bytes=1-2,4-5", f"bytes={'9' * 5000}-"):
        assert listener.get(address, headers={"Range": odd}).content == whole


def test_a_sound_of_another_trial_is_not_taken_for_this_one(listener, tried):
    for name, run in (("sent", "another"), ("../sent", tried["run"]), ("nothing", tried["run"])):
        refused = listener.get(f"/api/sound/compare/wav/{name.replace('/', '%2F')}", params={"run": run})
        assert refused.status_code == 404


def test_a_trial_says_what_changed_since_and_outlives_one_that_is_stopped(app, laptop):
    bring(laptop, recorded())
    ended(app, laptop, link="L01", sound="file")
    tried = laptop.get("/api/sound/compare").json()["tried"]
    with app.socket(laptop) as socket:
        assert laptop.post("/api/sound/compare", json={"link": "L02", "sound": "keys"}).status_code == 200
        again = laptop.post("/api/sound/compare", json={"link": "L02"})
        assert again.status_code == 409
        [error] = again.json()["errors"]
        assert error["text"] == "A comparison of sounds is being worked on already."
        assert error["hint"] == "Wait for it, or cancel it."
        while heard(socket, "run")["share"] == 0:
            continue
        assert laptop.post("/api/sound/compare/cancel").status_code == 200
        while (state := heard(socket, "run"))["state"] == "running":
            continue
    assert state["state"] == "cancelled", state
    assert laptop.get("/api/sound/compare").json()["tried"] == tried

    edit(laptop, "link", "L01", name="Mara O.")
    assert laptop.get("/api/sound/compare").json()["tried"]["stale"] is None
    kinds = entry(laptop, "radio", "heron")["value"]["companding"]
    edit(laptop, "radio", "heron", companding=kinds[:2])
    assert "L01 has changed since" in laptop.get("/api/sound/compare").json()["tried"]["stale"]
    edit(laptop, "radio", "heron", companding=None)
    assert "nothing of it can be compared" in laptop.get("/api/sound/compare").json()["tried"]["stale"]


def test_stopping_a_trial_stops_no_plan(app, laptop):
    with app.socket(laptop) as socket:
        assert laptop.post("/api/plan/run", json={"time_limit_s": 2}).status_code == 200
        assert laptop.post("/api/sound/compare/cancel").json() is None
        assert laptop.get("/api/sound/compare").json()["run"] is None
        while (state := heard(socket, "run"))["state"] == "running":
            continue
    assert state["state"] == "done"


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        ({}, "name either a link or a radio type"),
        ({"link": "L01", "radio": "heron"}, "name either a link or a radio type"),
        ({"link": "L99"}, 'there is no radio or link "L99"'),
        ({"link": "H01"}, "companding is simulated for FM in mono"),
        ({"link": "L01", "sound": "file"}, "There is no recording yet"),
        ({"link": "L01", "sound": "silence"}, "speech"),
    ],
)
def test_what_cannot_be_tried_is_refused_in_words(app, laptop, wish, words):
    refused = laptop.post("/api/sound/compare", json=wish)
    assert refused.status_code == 422
    assert words in refused.text.replace("\\", "")


def test_a_device_that_may_only_look_listens_and_tries_nothing(tried_app, tried):
    phone = tried_app.pair("look")
    assert phone.get(f"/api/sound/compare/wav/sent?run={tried['run']}").status_code == 200
    for answer in (phone.post("/api/sound/compare", json={"link": "L01"}), bring(phone, recorded())):
        assert answer.status_code == 403


def test_only_so_much_is_kept_to_listen_to(monkeypatch):
    names = [("sent", None), *((f"{kind}-{level}", level) for kind in "ab" for level in ("near", "far", "limit"))]
    files = [
        (job_sound.HeardFile(name=name, kind=None, level=level, size=10, lowered_db=0.0), bytes(10))
        for name, level in names
    ]
    monkeypatch.setattr(job_sound, "_MOST_KEPT_BYTES", 50)
    kept = [item.name for item, _ in job_sound._that_fit(files)]
    assert kept == ["sent", "a-far", "a-limit", "b-far", "b-limit"]
