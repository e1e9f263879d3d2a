"""`bandwright suspect` from the command line."""

from __future__ import annotations

import json
import math
from importlib import resources

import pytest
from jsonschema import Draft202012Validator
from reach_examples import REACH
from scipy import constants

from bandwright.cli import run

MORE = """
[[link]]
id = "L02"
name = "Theo"
radio = "heron"
hold_mhz = 607.6

[[link]]
id = "L03"
name = "Ines"
radio = "heron"
hold_mhz = 608.5
"""


@pytest.fixture
def ask(tmp_path, capsys, request):
    text = REACH.replace("hold_mhz = 608\n", "hold_mhz = 613\n")
    text = text.replace("iip3_dbm = -5", f"iip3_dbm = {getattr(request, 'param', -5)}")
    brief = tmp_path / "brief.toml"
    brief.write_text(text + MORE)
    assert run(["plan", str(brief), "--out", str(tmp_path / "out"), "--time-limit", "2"]) in (0, 1)
    capsys.readouterr()

    def answer(heard, *options, plan="out/plan.json"):
        code = run(["suspect", str(brief), heard, "--plan", str(tmp_path / plan), *options])
        said = capsys.readouterr()
        return code, said.out, said.err

    return answer


def test_a_product_on_a_link_is_told_with_the_pack_to_lower(ask):
    code, text, _ = ask("L01")
    assert code == 1
    assert "2 x L02 - L03 at 606.700 MHz, right on it, -" in text
    assert "levels are at the receiver, with every pack where it does most" in " ".join(text.split())
    assert "a 6 dB pad at the antenna lowers what is on the air by 6 dB" in text
    assert "L02 (Theo): from 50 mW to 10 mW, 7.0 dB" in text
    assert "falls by 14 dB: 1" in text
    assert "set every pack back" in " ".join(text.split())


@pytest.mark.parametrize(("ask", "faint"), [(-5, False), (60, True)], indirect=["ask"])
def test_products_under_the_noise_of_the_receiver_point_at_somebody_else(ask, faint):
    _, text, _ = ask("L01", "--json")
    document = json.loads(text)
    loudest = max(suspect["level_dbm"] for suspect in document["suspects"])
    # k from CODATA in scipy.constants; 290 K, 200 kHz and the noise figure of 8 dB that the brief states
    noise_dbm = 10 * math.log10(constants.k * 290 * 200e3 * 1000) + 8
    assert (loudest < noise_dbm) is faint
    told = [one["text"] for one in document["warnings"] if one["code"] == "products-under-noise"]
    assert len(told) == faint
    for words in told:
        assert f"predicted at {noise_dbm:.0f} dBm or more" in words


def test_a_plan_may_be_named_by_its_folder(ask):
    assert ask("L01", plan="out") == ask("L01", plan="out/plan.json")


def test_where_nothing_falls_a_carrier_is_looked_for(ask):
    code, text, _ = ask("700")
    assert code == 0
    assert "No third-order product, nor a 3A-2B" in text
    assert "a sweep with own transmitters off" in text


def test_the_document_keeps_its_schema(ask):
    code, text, _ = ask("606.7", "--json")
    document = json.loads(text)
    schema = json.loads(resources.files("bandwright.documents").joinpath("schemas", "suspect.json").read_text())
    Draft202012Validator(schema).validate(document)
    assert code == 1
    assert document["drops"][0]["outcomes"][0]["change_db"] == pytest.approx(-13.98)


@pytest.mark.parametrize(
    ("heard", "said"),
    [("L09", 'no link "L09"'), ("six", 'no link "six"'), ("0.1.2", "0.1.2")],
)
def test_what_is_neither_a_link_nor_a_frequency_is_refused(ask, heard, said):
    code, _, error = ask(heard)
    assert code == 2
    assert said in error
