"""What a plan says of a search that time ended."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from bandwright.cli import run
from bandwright.engines.keeping import solve_keeping
from bandwright.service import plan as plan_service

# 350 kHz apart in 606.6-606.9 MHz there is room for one carrier, and nothing for a spare one: by hand.
BRIEF = """
bandwright = 1
[job]
title = "Small"
[[permit]]
id = "p"
state = "granted"
windows_mhz = [[606.5, 607.0]]
[[radio]]
id = "pack"
tuning = [{ low_mhz = 606, high_mhz = 630, step_khz = 25 }]
defaults = "analogue-fm-wide"
[[link]]
id = "A"
radio = "pack"
[plan]
spares = { pack = 1 }
"""


@pytest.mark.parametrize(
    ("proven", "words"),
    [
        (True, "given more time it may place more spare carriers."),
        (False, "given more time it may place more links."),
    ],
)
def test_more_links_are_not_promised_where_it_is_proven_that_there_are_none(
    proven, words, tmp_path, capsys, monkeypatch
):
    def cut_short(*args, **options):
        kept = solve_keeping(*args, **options)
        carriers_hz = kept.outcome.carriers_hz if proven else (-1, -1)
        return replace(kept, outcome=replace(kept.outcome, stopped="time", carriers_hz=carriers_hz))

    monkeypatch.setattr(plan_service, "solve_keeping", cut_short)
    monkeypatch.setattr(plan_service, "look_into_shortfall", lambda *args: _Shortfall(args[-1].carriers_hz))
    brief = tmp_path / "small.toml"
    brief.write_text(BRIEF)
    assert run(["plan", str(brief), "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert (found["bound"]["status"] == "proven") is proven
    assert [w["text"].partition("; ")[2] for w in found["warnings"] if w["code"] == "ended-by-time"] == [words]


class _Shortfall:
    """Nothing was looked into."""

    def __init__(self, carriers_hz):
        self.carriers_hz, self.ceiling, self.conflicts = carriers_hz, None, ()


@pytest.mark.parametrize(
    ("stopped", "more", "words"),
    [
        ("proof", 0, "it cost no link its place."),
        ("cancelled", 0, "a short search placed no more without that."),
        ("settled", 1, "without that, 1 more would have been placed."),
        ("cancelled", 1, "without that, at least 1 more would have been placed."),
    ],
)
def test_what_an_unknown_level_costs_is_only_claimed_as_far_as_it_was_searched(
    stopped, more, words, tmp_path, capsys, monkeypatch
):
    searches = []

    def second_as_stated(*args, **options):
        kept = solve_keeping(*args, **options)
        searches.append(kept)
        if len(searches) == 1:
            return kept
        carriers_hz = (kept.outcome.carriers_hz[0], 606_600_000 if more else -1)
        return replace(kept, outcome=replace(kept.outcome, stopped=stopped, carriers_hz=carriers_hz))

    limits = []

    def within_a_quarter(limit_s, hand):
        limits.append(limit_s)
        return hand

    monkeypatch.setattr(plan_service, "until", within_a_quarter)
    monkeypatch.setattr(plan_service, "solve_keeping", second_as_stated)
    brief = tmp_path / "small.toml"
    brief.write_text(BRIEF + "time_limit_s = 8\n[[other]]\nid = 'x'\ncarrier_mhz = 640\nbandwidth_khz = 12.5\n")
    assert run(["plan", str(brief), "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert [w["text"].partition("; ")[2] for w in found["warnings"] if w["code"] == "unknown-level"] == [words]
    assert limits == [8]
