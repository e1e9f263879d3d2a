"""An analyser that speaks SCPI: over a real loopback socket and PyVISA's simulated backend, and all it may do wrong."""

from __future__ import annotations

import builtins
import itertools
import socket
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import pyvisa
from small_analyser import IDENTITY, Bench, served

from bandwright import readers
from bandwright.documents.analyser import read_analyser
from bandwright.errors import MachineError
from bandwright.instruments.analyser import identity_of, sweeps_of
from bandwright.instruments.talk import SCPI_PORT, VisaTalk, resource_of
from bandwright.instruments.wish import Wish
from bandwright.readers import rtl_power
from bandwright.reference import analyser_files

((_, SHIPPED),) = analyser_files()
KIND = read_analyser(SHIPPED, file="shipped")
SIMULATION = Path(__file__).parents[1] / "support" / "simulated_analyser.yaml"
NOON = datetime(2027, 5, 14, 12, 0, 0)  # noqa: DTZ001 - as logs write it
WISH = Wish(low_hz=470_000_000, high_hz=520_000_000, bin_hz=25_000, once=True)


def swept(talk, wish=WISH, **given):
    ticks = itertools.count()
    items = sweeps_of(
        talk, kind=KIND, wish=wish, now=lambda: NOON, clock=lambda: next(ticks), wait=lambda _: None, **given
    )
    return [item for item in items if item is not None]


def over_loopback(bench, wish=WISH, **given):
    with served(bench) as where:
        talk = VisaTalk(where, answer_ms=500)
        try:
            return swept(talk, wish, **given)
        finally:
            talk.close()


def refused(bench, wish=WISH, **given):
    with pytest.raises(MachineError) as told:
        over_loopback(bench, wish, **given)
    return str(told.value)


def instead(query, answer):
    """Return a fault that answers one query otherwise."""
    return lambda _bench, line: answer if line.startswith(query) else None


def test_a_range_wider_than_a_trace_is_swept_in_pieces_without_gap_or_overlap():
    bench = Bench()
    first, second = over_loopback(bench)
    edges = [
        (block.first_hz - block.bin_hz / 2, block.first_hz + (block.levels_db.size - 0.5) * block.bin_hz)
        for item in (first, second)
        for block in item.blocks
    ]
    assert edges == [(470_000_000, 495_000_000), (495_000_000, 520_000_000)]
    # the small analyser's own ramp: which point, and one dB more with each trace
    assert np.allclose(first.blocks[0].levels_db, -99 + 0.01 * np.arange(1000))
    assert np.allclose(second.blocks[0].levels_db, -98 + 0.01 * np.arange(1000))


def test_the_log_is_read_back_with_its_unit_its_bandwidth_and_its_levels(tmp_path):
    log = tmp_path / "a.csv"
    taken = over_loopback(Bench(rbw_hz=30_000))
    log.write_bytes(b"".join(item.text for item in taken))
    sweep = readers.read(log)
    assert (sweep.unit, sweep.rbw_hz, sweep.sweeps, sweep.problems) == ("dBm", 30_000, 1, ())
    assert (sweep.started, sweep.points) == (NOON, 2000)
    assert (sweep.low_hz, sweep.high_hz) == (470_000_000, 520_000_000)
    blocks = [item for item in rtl_power.parse([log.read_bytes()]) if hasattr(item, "levels_db")]
    ours = [block for item in taken for block in item.blocks]
    assert [block.first_hz for block in blocks] == [block.first_hz for block in ours]
    assert all(np.allclose(one.levels_db, two.levels_db, atol=0.005) for one, two in zip(blocks, ours, strict=True))


def test_one_trace_is_set_up_once_and_swept_again_and_again():
    bench = Bench()
    wish = Wish(low_hz=470_000_000, high_hz=471_000_000, bin_hz=25_000)
    ticks = itertools.count()
    with served(bench) as where:
        talk = VisaTalk(where)
        items = sweeps_of(talk, kind=KIND, wish=wish, now=lambda: NOON, clock=lambda: next(ticks), wait=lambda _: None)
        taken = list(itertools.islice((item for item in items if item is not None), 3))
        talk.close()
    assert [item.text.count(b"# levels in dBm") for item in taken] == [1, 0, 0]
    assert sum(line.startswith("SENSe:FREQuency:STARt") for line in bench.heard) == 1


def test_the_instrument_says_who_it_is():
    with served(Bench()) as where:
        talk = VisaTalk(where)
        assert identity_of(talk) == IDENTITY
        talk.close()


def test_what_is_not_a_number_or_infinite_stays_missing_in_the_simulated_backend(authority):
    talk = VisaTalk("pier", backend=f"{SIMULATION}@sim")
    wish = Wish(low_hz=470_000_000, high_hz=470_100_000, bin_hz=25_000, once=True)
    (taken,) = swept(talk, wish)
    talk.close()
    authority(
        "levels of an analyser of which some are not a number or infinite",
        source="SCPI-1999 volume 1, 7.2.1.4 and 7.2.1.5: 9.91E37 is not a number, 9.9E37 infinity",
        kind="memory",
        ours=["nan" if np.isnan(level) else level for level in taken.blocks[0].levels_db],
        theirs=[10.5, "nan", 12.5, "nan"],
    )
    assert taken.text.startswith(b"# levels in dBuV, resolution bandwidth 25000 Hz\n2027-05-14, 12:00:00, 470000000, ")
    assert taken.text.endswith(b", 10.50, nan, 12.50, nan\n")


@pytest.mark.parametrize(
    ("query", "answer", "sentence"),
    [
        ("TRACe", "-90,-91", "sent 2 levels for 1000 points"),
        ("TRACe", "-90,oops", r"answers TRACe:DATA? TRACE1 with '-90,oops'; needed is levels with commas between"),
        ("TRACe", "", "does not answer TRACe:DATA? TRACE1 within 0.5 s"),
        ("TRACe", "hang up", "does not answer TRACe:DATA? TRACE1 within 0.5 s, or has hung up"),
        (
            "SENSe:SWEep:POINts?",
            "461",
            "sweeps 461 points where 1000 were asked for; write a file for it that says most",
        ),
        ("SENSe:SWEep:POINts?", "many", "answers SENSe:SWEep:POINts? with 'many'; needed is a number"),
        ("SENSe:BANDwidth:RESolution?", "0", "answers a resolution bandwidth of 0 Hz; that cannot be"),
        ("SENSe:BANDwidth:RESolution?", "nan", "with 'nan'; needed is a number"),
        ("UNIT", "W", "answers UNIT:POWer? with 'W'; needed is DBM or DBUV"),
        ("*ESR?", "32", "refuses INITiate:IMMediate: it does not say why"),
        ("*ESR?", "0", "has not ended its sweep within 60 s; choose a wider --bin-khz"),
    ],
)
def test_an_analyser_that_answers_wrongly_is_told_in_one_sentence(query, answer, sentence):
    assert sentence in refused(Bench(fault=instead(query, answer)))


def test_a_command_that_it_refuses_is_named_with_its_own_words():
    told = refused(Bench(most_points=401))
    assert "refuses SENSe:SWEep:POINts 1000: '-222,\"Data out of range\"'. If it wants other commands or fewer" in told


def test_nobody_at_the_address_is_told():
    with socket.socket() as closed:
        closed.bind(("127.0.0.1", 0))
        where = f"127.0.0.1:{closed.getsockname()[1]}"
    with pytest.raises(MachineError, match=r"analyser.* at 127\.0\.0\.1"):
        identity_of(VisaTalk(where, answer_ms=500))


def test_a_connection_that_breaks_is_told_with_the_command(monkeypatch):
    def broken(*_args, **_more):
        raise ConnectionResetError("Connection reset by peer")

    with served(Bench()) as where:
        talk = VisaTalk(where)
        monkeypatch.setattr(talk._resource, "write", broken)
        for say in (talk.write, talk.ask):
            with pytest.raises(MachineError, match=r"127.* broke at \*CLS \(Connection reset by peer\); check"):
                say("*CLS")
        talk.close()


def test_without_pyvisa_it_is_told_what_to_install(monkeypatch):
    real = builtins.__import__

    def without(name, *rest, **more):
        if name == "pyvisa":
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(MachineError, match=r'not installed here: pip install "bandwright\[instruments\]"'):
        VisaTalk("127.0.0.1")


def test_an_address_becomes_a_name_that_pyvisa_understands(authority):
    assert SCPI_PORT == 5025
    for where in ("192.0.2.7", "bench:5555"):
        parsed = pyvisa.rname.ResourceName.from_string(resource_of(where))
        authority(
            f"VISA resource name of {where}",
            source="pyvisa.rname, parsing the VISA library specification's grammar",
            kind="library",
            ours=[where.partition(":")[0], where.partition(":")[2] or str(SCPI_PORT)],
            theirs=[parsed.host_address, parsed.port],
        )
    assert resource_of("TCPIP::192.0.2.7::INSTR") == "TCPIP::192.0.2.7::INSTR"
