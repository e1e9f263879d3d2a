"""How many links of a type fit: alone and beside a plan, from files to the JSON document."""

from __future__ import annotations

import json
from importlib import resources

import pytest
from brief_examples import SAMPLE
from jsonschema import Draft202012Validator

from bandwright.cli import run

# One TV channel less its edges: carriers from 606.6 to 613.4 MHz, nobody else there.
BLOCK = SAMPLE.split("[[other]]", maxsplit=1)[0]
SECOND = """
[[radio]]
id = "wide"
tuning = [{ low_mhz = 606.6, high_mhz = 613.4, step_khz = 100 }]
emission = "fm"
bandwidth_khz = 200
power_mw = 10
defaults = "analogue-fm-wide"
"""


@pytest.fixture
def ask(tmp_path, capsys):
    """Ask for the capacity under a brief; returns (exit code, the JSON object)."""

    def asked(text, *arguments):
        brief = tmp_path / "brief.toml"
        brief.write_text(text)
        capsys.readouterr()
        code = run(["capacity", str(brief), *map(str, arguments), "--json"])
        return code, json.loads(capsys.readouterr().out)

    return asked


@pytest.fixture
def plan(tmp_path):
    """Plan a brief; returns the path of its plan.json."""

    def planned(text):
        brief = tmp_path / "planned.toml"
        brief.write_text(text)
        assert run(["plan", str(brief), "--out", str(tmp_path / "out")]) == 0
        return tmp_path / "out" / "plan.json"

    return planned


def by_code(document):
    return {item["code"]: (item["found"], item["upper_bound"]) for item in document["relaxations"]}


def test_one_tv_channel_holds_eleven_links_proven_and_each_change_has_its_own_figures(ask):
    code, found = ask(BLOCK, "--radio", "heron", "--time-limit", 600)
    assert code == 0
    schema = json.loads(resources.files("bandwright.documents").joinpath("schemas", "capacity.json").read_text())
    Draft202012Validator(schema).validate(found)
    assert (found["found"], found["upper_bound"], found["status"]) == (11, 11, "proven")
    assert len(found["carriers_mhz"]) == 11
    assert (found["radio"], found["place"], found["beside"]) == ("heron", "Quay stage", None)
    eased = by_code(found)
    assert set(eased) == {"tv", "family 2A-B", "family A+B-C", "family 3A-2B", "spacing"}
    assert all(most >= fits >= 11 for fits, most in eased.values())
    assert eased["family A+B-C"][0] >= 14
    gains = [item["found"] for item in found["relaxations"]]
    assert gains == sorted(gains, reverse=True)


def test_the_found_carriers_pass_the_check_of_the_same_brief(ask, tmp_path, capsys):
    _, found = ask(BLOCK, "--radio", "heron", "--time-limit", 600)
    names = [f"L{number:02}" for number in range(1, 12)]
    brief = tmp_path / "many.toml"
    links = "".join(f'[[link]]\nid = "{name}"\nradio = "heron"\n' for name in names[1:])
    brief.write_text(BLOCK + links)
    carriers = tmp_path / "carriers.csv"
    rows = zip(names, found["carriers_mhz"], strict=True)
    carriers.write_text("link,mhz\n" + "".join(f"{name},{mhz}\n" for name, mhz in rows))
    assert run(["check", str(brief), str(carriers)]) == 0
    assert "11 carriers checked: no rule is broken." in capsys.readouterr().out


def test_beside_a_plan_its_carriers_count_and_what_fits_keeps_them_clean(ask, plan, tmp_path, capsys):
    text = BLOCK + '[[link]]\nid = "M"\nradio = "heron"\ncount = 5\n'
    path = plan(text)
    _, found = ask(text, "--radio", "heron", "--beside", path, "--time-limit", 600)
    assert found["beside"]["carriers"] == 6
    assert 6 + found["upper_bound"] <= 11
    assert by_code(found)["plan"] == (11, 11)
    placed = json.loads(path.read_text())["links"]
    names = [f"N.{number}" for number in range(1, found["found"] + 1)]
    brief = tmp_path / "more.toml"
    brief.write_text(f'{text}[[link]]\nid = "N"\nradio = "heron"\ncount = {len(names)}\n' if names else text)
    carriers = tmp_path / "all.csv"
    rows = [(item["id"], item["carrier_mhz"]) for item in placed]
    rows += zip(names, found["carriers_mhz"], strict=True)
    carriers.write_text("link,mhz\n" + "".join(f"{name},{mhz}\n" for name, mhz in rows))
    capsys.readouterr()
    assert run(["check", str(brief), str(carriers)]) == 0


def test_two_counts_are_equal_but_for_what_stands_under_run(ask):
    found = [ask(BLOCK, "--radio", "heron", "--time-limit", 600)[1] for _ in range(2)]
    for document in found:
        document.pop("run")
    assert found[0] == found[1]


def test_a_brief_without_links_is_fine_and_its_only_radio_need_not_be_named(ask):
    code, found = ask(BLOCK.split("[[link]]", maxsplit=1)[0], "--time-limit", 600)
    assert (code, found["found"]) == (0, 11)


def test_where_no_permit_covers_a_carrier_nothing_fits_and_the_rules_that_close_them_are_named(tmp_path, capsys):
    brief = tmp_path / "brief.toml"
    brief.write_text(BLOCK.replace("[[606.5, 613.5]]", "[[700, 701]]"))
    assert run(["capacity", str(brief), "--radio", "heron"]) == 0
    said = capsys.readouterr().out
    assert "No link of this type fits here under these rules (proven: " in said
    assert "No permit covers what it can be set to" in said


def test_the_second_place_is_counted_with_its_own_permits(ask):
    text = BLOCK.replace("[[permit]]", '[[place]]\nid = "hall"\n\n[[permit]]\nplace = "quay"', 1)
    code, found = ask(text, "--radio", "heron", "--place", "hall")
    assert (code, found["place"], found["found"], found["upper_bound"]) == (0, "hall", 0, 0)


@pytest.mark.parametrize(
    ("arguments", "code", "words", "hint"),
    [
        (
            ["--radio", "herom"],
            "unknown-radio",
            'There is no radio "herom"; known: heron, wide.',
            'Did you mean "heron"?',
        ),
        (
            ["--radio", "heron", "--place", "quai"],
            "unknown-place",
            'no place "quai"; known: quay',
            'Did you mean "quay"?',
        ),
        (["--radio", "heron", "--place", ""], "unknown-place", 'no place ""; known: quay', None),
        ([], "no-radio", "--radio with one of heron, wide", None),
    ],
)
def test_a_name_that_is_not_known_is_refused_with_the_nearest_one(ask, arguments, code, words, hint):
    exit_code, found = ask(BLOCK + SECOND, *arguments)
    (error,) = found["errors"]
    assert (exit_code, error["code"], error["hint"]) == (2, code, hint)
    assert words in error["text"]


def test_a_plan_of_another_job_is_refused(ask, plan):
    other = BLOCK.replace('id = "L01"', 'id = "Z01"').replace("Lantern Quay", "Elsewhere")
    code, found = ask(BLOCK, "--radio", "heron", "--beside", plan(other))
    (error,) = found["errors"]
    assert (code, error["code"]) == (2, "other-job")
    assert 'This is a plan of "Elsewhere"' in error["text"]


def test_what_speaks_against_the_plan_is_said(ask, plan):
    text = BLOCK + '[[link]]\nid = "M"\nradio = "heron"\ncount = 2\n'
    path = plan(text)
    stored = json.loads(path.read_text())
    stored["links"][0].update(carrier_hz=700_000_000, carrier_mhz="700.000")
    stored["links"].pop()
    path.write_text(json.dumps(stored))
    _, found = ask(text, "--radio", "heron", "--beside", path, "--time-limit", 1)
    said = {item["code"]: item["text"] for item in found["warnings"]}
    assert "breaks rules of this brief or sweep at L01" in said["plan-broken"]
    assert said["not-in-plan"] == "The plan has no carrier for M.2, so nothing is kept free for them."


def test_a_count_that_time_ended_says_so(ask):
    _, found = ask(BLOCK.replace("[[606.5, 613.5]]", "[[478, 613.5]]"), "--radio", "heron", "--time-limit", 0)
    assert found["run"]["stopped"] == "time"
    assert "ended-by-time" in [item["code"] for item in found["warnings"]]
