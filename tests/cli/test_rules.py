import json

import pytest

from bandwright import cli
from bandwright.reference import rule_tables


@pytest.fixture(autouse=True)
def hundred_columns(monkeypatch):
    monkeypatch.setenv("COLUMNS", "100")


def run(capsys, *arguments):
    code = cli.run(["rules", *arguments])
    out, err = capsys.readouterr()
    return code, out, err


def test_every_table_is_listed_with_edition_and_how_sure_it_is(capsys):
    code, out, _ = run(capsys)
    assert code == 0
    listed = out.split("\n\n")
    for table, block in zip(rule_tables(), listed, strict=False):
        words = " ".join(block.split())
        assert words.startswith(f"{table.id} {table.name}")
        assert f"edition: {table.edition}" in words
        assert "not confirmed" in words


def test_the_caution_about_spectrum_law_takes_two_lines(capsys):
    _, out, _ = run(capsys)
    *_, caution = out.rstrip().split("\n\n")
    assert caution.startswith("Spectrum law is local")
    assert len(caution.splitlines()) == 2


def test_one_table_is_shown_in_full(capsys):
    # A regulator's text as quoted by a hire company: 606.5-613.5 MHz, 200 kHz, 10 mW hand-held, 50 mW body-worn.
    code, out, _ = run(capsys, "uk-shared-606-613")
    assert code == 0
    assert "606.500-613.500 MHz\n    10 mW hand-held, 50 mW body-worn (ERP), at most 200 kHz wide" in out
    assert "Shared: whoever else holds the licence" in out
    assert "us-47cfr15-236" not in out


def test_what_a_table_does_not_say_is_named(capsys):
    _, out, _ = run(capsys, "us-47cfr74-861")
    assert "bandwidth not in this copy" in out


def test_windows_under_the_same_terms_stand_together(capsys):
    _, out, _ = run(capsys, "us-47cfr15-236")
    assert "614.000-616.000 MHz, 657.000-663.000 MHz\n    20 mW (e.i.r.p.)" in out


def test_as_json_a_table_comes_with_its_caution(capsys):
    _, out, _ = run(capsys, "cept-863-865", "--json")
    data = json.loads(out)
    assert data["schema"] == "bandwright.rules/1"
    assert [table["id"] for table in data["tables"]] == ["cept-863-865"]
    assert [warning["code"] for warning in data["warnings"]] == ["dated-copies"]


@pytest.mark.parametrize(("given", "hint"), [("uk-shared", ' Did you mean "uk-shared-606-613"?'), ("moon", "")])
def test_an_unknown_table_is_said_in_words(capsys, given, hint):
    code, _, err = run(capsys, given)
    assert code == 2
    assert err.strip() == (
        f'There is no rule table "{given}"; shipped are us-47cfr15-236, us-47cfr74-861, cept-863-865, '
        f"cept-823-832-1785-1805, uk-shared-606-613.{hint}"
    )
