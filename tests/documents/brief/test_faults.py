"""Everything that a tired person may get wrong in a brief, and the sentence that says so."""

import pytest
from brief_examples import FILE, SAMPLE, SMALL, changed, faults_of, job_of

from bandwright.errors import Fault, InputError

NINES = "9" * 5000


def line_with(text: str, piece: str) -> int:
    return text[: text.rindex(piece)].count("\n") + 1


def only_fault(text: str) -> Fault:
    faults = faults_of(text)
    assert len(faults) == 1, [str(fault) for fault in faults]
    return faults[0]


# what stands in the sample -> what is written instead, code, key, start of the sentence, hint
CASES = {
    "unknown radio type": (
        'radio = "heron" ',
        'radio = "hern" ',
        "unknown-radio",
        "link[1].radio",
        'link "L01": there is no radio type "hern"; known: heron.',
        'Did you mean "heron"?',
    ),
    "radio type that only the kit library has": (
        'radio = "heron" ',
        'radio = "siskin" ',
        "unknown-radio",
        "link[1].radio",
        'link "L01": there is no radio type "siskin"; known: heron.',
        'The kit library has it: add a [[radio]] with id = "siskin" and kit = "siskin".',
    ),
    "unknown variant": (
        'radio = "heron" ',
        'radio = "heron/narow" ',
        "unknown-radio",
        "link[1].radio",
        'link "L01": there is no radio type "heron/narow"; known: heron.',
        'Did you mean "heron"?',
    ),
    "spares of an unknown radio type": (
        "{ heron = 2 }",
        "{ herron = 2 }",
        "unknown-radio",
        "plan.spares.herron",
        '[plan]: there is no radio type "herron"; known: heron.',
        'Did you mean "heron"?',
    ),
    "reversed window": (
        "[[606.5, 613.5]]",
        "[[613.5, 606.5]]",
        "reversed",
        "permit[1].windows_mhz[1]",
        'permit "shared": windows_mhz[1] is [613.5, 606.5], but must run upwards.',
        "Write the lower edge first.",
    ),
    "window without width": (
        "[[606.5, 613.5]]",
        "[[606.5, 606.5]]",
        "reversed",
        "permit[1].windows_mhz[1]",
        'permit "shared": windows_mhz[1] is [606.5, 606.5], but must run upwards.',
        "Write the lower edge first.",
    ),
    "window without outer brackets": (
        "[[606.5, 613.5]]",
        "[606.5, 613.5]",
        "not-a-window",
        "permit[1].windows_mhz",
        'permit "shared": windows_mhz is [606.5, 613.5], but must be a list of windows.',
        "Write [[606.5, 613.5]] for one window.",
    ),
    "mixed list": (
        "[[606.5, 613.5]]",
        '[[606.5, 613.5], "x"]',
        "not-a-window",
        "permit[1].windows_mhz[2]",
        'permit "shared": windows_mhz[2] is "x", but must be two frequencies in brackets.',
        "Write [[606.5, 613.5]] for one window.",
    ),
    "negative bandwidth": (
        "bandwidth_khz = 200\npower",
        "bandwidth_khz = -200\npower",
        "not-above-zero",
        "radio[1].bandwidth_khz",
        'radio "heron": bandwidth_khz is -200, but must be more than 0 kHz.',
        None,
    ),
    "zero step": (
        "step_khz = 25",
        "step_khz = 0",
        "not-above-zero",
        "radio[1].tuning[1].step_khz",
        'radio "heron": tuning[1].step_khz is 0, but must be more than 0 kHz.',
        None,
    ),
    "not a number": (
        "step_khz = 25",
        "step_khz = nan",
        "not-finite",
        "radio[1].tuning[1].step_khz",
        'radio "heron": tuning[1].step_khz is nan, but must be a finite number.',
        None,
    ),
    "infinite": (
        "carrier_mhz = 611.3",
        "carrier_mhz = -inf",
        "not-finite",
        "other[1].carrier_mhz",
        'other "house-talkback": carrier_mhz is -inf, but must be a finite number.',
        None,
    ),
    "number in quotes": (
        "carrier_mhz = 611.3",
        'carrier_mhz = "611,3"',
        "not-a-number",
        "other[1].carrier_mhz",
        'other "house-talkback": carrier_mhz is "611,3", but must be a number of MHz.',
        "Write it without quotes, with a decimal point.",
    ),
    "truth for a number": (
        "carrier_mhz = 611.3",
        "carrier_mhz = true",
        "not-a-number",
        "other[1].carrier_mhz",
        'other "house-talkback": carrier_mhz is true, but must be a number of MHz.',
        None,
    ),
    "finer than 1 Hz": (
        "carrier_mhz = 611.3",
        "carrier_mhz = 611.3000004",
        "finer-than-1-hz",
        "other[1].carrier_mhz",
        'other "house-talkback": carrier_mhz is 611.3000004, but must be whole Hz, which is at most 6 decimals in MHz.',
        "Round it to 611.300000.",
    ),
    "Hz in a key of MHz": (
        "carrier_mhz = 611.3",
        "carrier_mhz = 611300000",
        "too-large",
        "other[1].carrier_mhz",
        'other "house-talkback": carrier_mhz is 611300000, but must be at most 100000 MHz.',
        "If that is in Hz, write 611.3.",
    ),
    "kHz in a key of MHz": (
        "carrier_mhz = 611.3",
        "carrier_mhz = 611300",
        "too-large",
        "other[1].carrier_mhz",
        'other "house-talkback": carrier_mhz is 611300, but must be at most 100000 MHz.',
        "If that is in kHz, write 611.3.",
    ),
    "absurd exponent": (
        "carrier_mhz = 611.3",
        "carrier_mhz = 1e999999",
        "too-large",
        "other[1].carrier_mhz",
        'other "house-talkback": carrier_mhz is 1E+999999, but must be at most 100000 MHz.',
        None,
    ),
    "one id twice in two lists": (
        'id = "house-talkback"',
        'id = "L01"',
        "id-twice",
        "other[1].id",
        'other "L01": the id "L01" is already used on line 36; an id may be used once, in whatever table.',
        "Give one of them another id.",
    ),
    "misspelt key": (
        'worn = "body"',
        'wron = "body"',
        "unknown-key",
        "link[1].wron",
        'link "L01": there is no key "wron".',
        'Did you mean "worn"?',
    ),
    "misspelt key that is needed": (
        "carrier_mhz = 611.3",
        "carier_mhz = 611.3",
        "unknown-key",
        "other[1].carier_mhz",
        'other "house-talkback": there is no key "carier_mhz".',
        'Did you mean "carrier_mhz"?',
    ),
    "misspelt key inside a table in braces": (
        "handheld_mw = 10",
        "hand_mw = 10",
        "unknown-key",
        "permit[1].max_power.hand_mw",
        'permit "shared": there is no key "hand_mw" in max_power.',
        'Did you mean "handheld_mw"?',
    ),
    "key that is near to none": (
        'worn = "body"',
        "zzzz = 1",
        "unknown-key",
        "link[1].zzzz",
        'link "L01": there is no key "zzzz"; known: id, name, radio, worn, count,',
        None,
    ),
    "misspelt table": (
        "[[radio]]",
        "[[radoi]]",
        "unknown-key",
        "radoi",
        'there is no table "radoi" here.',
        'Did you mean "radio"?',
    ),
    "misspelt list of links": (
        "[[link]]",
        "[[lnk]]",
        "unknown-key",
        "lnk",
        'there is no table "lnk" here.',
        'Did you mean "link"?',
    ),
    "single brackets": (
        "[[radio]]",
        "[radio]",
        "wrong-brackets",
        "radio",
        "radio may come several times; write [[radio]] above its keys, with two brackets.",
        None,
    ),
    "double brackets": (
        "[plan]",
        "[[plan]]",
        "wrong-brackets",
        "plan",
        "plan can come only once; write [plan] above its keys, with single brackets.",
        None,
    ),
    "unknown IM family": (
        '"2A-B" = 100',
        '"2B-A" = 100',
        "unknown-family",
        "radio[1].clearance_khz.2B-A",
        'radio "heron": clearance_khz names "2B-A", but the IM families known here are 2A-B, A+B-C, 3A-2B,',
        None,
    ),
    "zero clearance": (
        '"2A-B" = 100',
        '"2A-B" = 0',
        "zero-clearance",
        "radio[1].clearance_khz.2A-B",
        'radio "heron": clearance_khz.2A-B is 0, but 0 is refused: it would let a product fall on the carrier itself.',
        'Write 0.001 (1 Hz) for "not coincident", or leave the family out to switch it off.',
    ),
    "unknown TV raster": (
        '"region1"',
        '"regoin1"',
        "unknown-raster",
        "place[1].tv_raster",
        'place "quay": there is no TV raster "regoin1"; known: americas, australia, japan, region1.',
        'Did you mean "region1"?',
    ),
    "closed TV channels without a raster": (
        'tv_raster = "region1"',
        "",
        "no-raster",
        "place[1].tv_closed",
        'place "quay": tv_closed names TV channels, but tv_raster is missing.',
        "Add tv_raster, one of: americas, australia, japan, region1.",
    ),
    "TV channel labels as numbers": (
        '["23", "26"]',
        "[23, 26]",
        "not-text",
        "place[1].tv_closed",
        'place "quay": tv_closed is [23, 26], but each label must stand in quotes.',
        "Labels are text, because there is a 9A.",
    ),
    "unknown TV channel": (
        '["23", "26"]',
        '["23", "99"]',
        "unknown-tv-channel",
        "place[1].tv_closed",
        'place "quay": there is no TV channel "99"; known: 5, 6,',
        None,
    ),
    "unknown time zone": (
        '"Europe/Lisbon"',
        '"Europe/Lissabon"',
        "unknown-timezone",
        "place[1].timezone",
        'place "quay": timezone is "Europe/Lissabon", but no such time zone is known here.',
        'Write one such as "Europe/Lisbon" or "UTC".',
    ),
    "time zone that is a path": (
        '"Europe/Lisbon"',
        '"../../etc/hosts"',
        "unknown-timezone",
        "place[1].timezone",
        'place "quay": timezone is "../../etc/hosts", but no such time zone is known here.',
        'Write one such as "Europe/Lisbon" or "UTC".',
    ),
    "unknown state": (
        'state = "granted"',
        'state = "Granted"',
        "unknown-word",
        "permit[1].state",
        'permit "shared": state is "Granted", but must be one of "applied", "granted", "exempt".',
        'Did you mean "granted"?',
    ),
    "missing state": (
        'state = "granted" ',
        "# ",
        "missing",
        "permit[1].state",
        'permit "shared": state is missing (how far it has come; applied is used last, and marked).',
        'For example: state = "granted"',
    ),
    "power without a kind": (
        ', kind = "erp" }',
        " }",
        "missing",
        "permit[1].max_power.kind",
        'permit "shared": max_power.kind is missing (what the figures refer to).',
        'For example: kind = "erp"',
    ),
    "limit without a figure": (
        "{ bodyworn_mw = 50, handheld_mw = 10, kind",
        "{ kind",
        "no-power",
        "permit[1].max_power",
        'permit "shared": max_power is { kind = "erp" }, but must state a power.',
        None,
    ),
    "limit as a number": (
        '{ bodyworn_mw = 50, handheld_mw = 10, kind = "erp" }',
        "50",
        "not-a-table",
        "permit[1].max_power",
        'permit "shared": max_power is 50, but must be a table.',
        "Put keys in braces: { key = value }",
    ),
    "zero power": (
        "[10, 50]",
        "[0, 50]",
        "not-above-zero",
        "radio[1].power_mw",
        'radio "heron": power_mw is [0, 50], but must be more than 0 mW.',
        None,
    ),
    "no powers": (
        "[10, 50]",
        "[]",
        "empty",
        "radio[1].power_mw",
        'radio "heron": power_mw is [], but must list a power.',
        "Leave it out if unknown.",
    ),
    "permit without windows": (
        "windows_mhz = [[606.5, 613.5]]",
        "",
        "missing",
        "permit[1]",
        'permit "shared": it says neither windows_mhz nor rules, so nothing may be used.',
        "Write windows_mhz = [[606.5, 613.5]], or rules with one of us-47cfr15-236, us-47cfr74-861, cept-863-865, "
        "cept-823-832-1785-1805, uk-shared-606-613.",
    ),
    "unknown rule table": (
        "windows_mhz = [[606.5, 613.5]]",
        'rules = "uk-shared-606-612"',
        "unknown-rules",
        "permit[1].rules",
        'permit "shared": there is no rule table "uk-shared-606-612"; known: ',
        'Did you mean "uk-shared-606-613"?',
    ),
    "windows and a rule table": (
        "windows_mhz = [[606.5, 613.5]]",
        'windows_mhz = [[606.5, 613.5]]\nrules = "uk-shared-606-613"',
        "two-windows",
        "permit[1].windows_mhz",
        'permit "shared": it says both rules and windows_mhz, but the rule table brings its own windows.',
        "Leave one of the two out; closed_mhz takes parts away.",
    ),
    "reversed tuning range": (
        "low_mhz = 470.1, high_mhz = 613.9",
        "low_mhz = 613.9, high_mhz = 470.1",
        "reversed",
        "radio[1].tuning[1]",
        'radio "heron": tuning[1] is { low_mhz = 613.9, high_mhz = 470.1, step_khz = 25 }, but must run upwards.',
        "Swap the two.",
    ),
    "too many carriers": (
        "step_khz = 25 }",
        "step_khz = 0.001 }",
        "too-many",
        "radio[1].tuning[1]",
        'radio "heron": tuning[1] is { low_mhz = 470.1, high_mhz = 613.9, step_khz = 0.001 }, '
        "but holds more than 1000000 carriers, which is more than can be planned.",
        None,
    ),
    "nothing to tune to": (
        "tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }]",
        "",
        "missing",
        "radio[1]",
        'radio "heron": it says neither tuning nor presets, so it can be set to nothing.',
        "Write tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }] or presets.",
    ),
    "tuning without brackets": (
        "tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }]",
        "tuning = { low_mhz = 470.1 }",
        "not-a-list",
        "radio[1].tuning",
        'radio "heron": tuning is { low_mhz = 470.1 }, but must be a list.',
        "Put it in brackets: tuning = [{ low_mhz = 470.1 }]",
    ),
    "one preset label twice": (
        "tuning = [{ low_mhz = 470.1, high_mhz = 613.9, step_khz = 25 }]",
        'presets = [{ label = "A", mhz = 607 }, { label = "A", mhz = 608 }]',
        "preset-twice",
        "radio[1].presets",
        'radio "heron": presets is [{ label = "A", mhz = 607 }, { label = "A", mhz = 608 }], '
        "but must name each label and each carrier once.",
        None,
    ),
    "unknown generic class": (
        "spacing_khz = 350 ",
        'defaults = "analog-fm-wide" ',
        "unknown-class",
        "radio[1].defaults",
        'radio "heron": there is no generic class "analog-fm-wide"; known: analogue-fm-wide,',
        'Did you mean "analogue-fm-wide"?',
    ),
    "radio type without a spacing": (
        "spacing_khz = 350 ",
        "# ",
        "missing",
        "radio[1]",
        'radio "heron": spacing_khz is missing.',
        'Write spacing_khz = 350, or defaults = "analogue-fm-wide" or another class.',
    ),
    "unknown kit": (
        "spacing_khz = 350 ",
        'kit = "herron" ',
        "unknown-kit",
        "radio[1].kit",
        'radio "heron": the kit library has no radio type "herron"; known: heron,',
        'Did you mean "heron"?',
    ),
    "one variant twice": (
        "spacing_khz = 350 ",
        'spacing_khz = 350\nvariant = [{ id = "n" }, { id = "n" }]',
        "id-twice",
        "radio[1].variant[2].id",
        'radio "heron/n": there is already a variant "n" of this radio type.',
        "Give one of them another id.",
    ),
    "variant with a bad value": (
        "spacing_khz = 350 ",
        'spacing_khz = 350\nvariant = [{ id = "n", spacing_khz = -1 }]',
        "not-above-zero",
        "radio[1].variant[1].spacing_khz",
        'radio "heron/n": spacing_khz is -1, but must be more than 0 kHz.',
        None,
    ),
    "unknown way to wear it": (
        'worn = "body"',
        'worn = "belt"',
        "unknown-word",
        "link[1].worn",
        'link "L01": worn is "belt", but must be one of "body", "hand", "rack".',
        None,
    ),
    "count of nothing": (
        'worn = "body"',
        "count = 0",
        "not-a-whole-number",
        "link[1].count",
        'link "L01": count is 0, but must be a whole number from 1 to 500.',
        None,
    ),
    "many links on one carrier": (
        'worn = "body"',
        "count = 2\nhold_mhz = 607.1",
        "held-many",
        "link[1].hold_mhz",
        'link "L01": hold_mhz holds one carrier, but count makes 2 links.',
        "Hold each link in a table of its own.",
    ),
    "unknown place": (
        'worn = "body"',
        'place = "quai"',
        "unknown-place",
        "link[1].place",
        'link "L01": there is no place "quai"; known: quay.',
        'Did you mean "quay"?',
    ),
    "unknown unit": (
        'worn = "body"',
        'unit = "R1"',
        "unknown-unit",
        "link[1].unit",
        'link "L01": there is no unit "R1"; known: none.',
        None,
    ),
    "unknown link to stay apart from": (
        'worn = "body"',
        'apart_from = ["L1"]',
        "unknown-link",
        "link[1].apart_from",
        'link "L01": there is no link "L1"; known: L01.',
        'Did you mean "L01"?',
    ),
    "time on air without an end": (
        'worn = "body"',
        'on_air = [{ start = "19:30" }]',
        "missing",
        "link[1].on_air[1].end",
        'link "L01": on_air[1].end is missing (when it ends).',
        'For example: end = "23:00"',
    ),
    "midnight as 24:00": (
        'worn = "body"',
        'on_air = [{ start = "19:30", end = "24:00" }]',
        "not-a-time",
        "link[1].on_air[1].end",
        'link "L01": on_air[1].end is "24:00", but must be "HH:MM" on every job date, a date, or a date with time',
        'Midnight at the end of a day is "00:00".',
    ),
    "a time and a date": (
        'worn = "body"',
        'on_air = [{ start = "19:30", end = 2027-05-14 }]',
        "mixed-times",
        "link[1].on_air[1]",
        'link "L01": on_air[1] runs from 19:30 to 2027-05-14; both must be times of the day, or both must have a date.',
        'Write { start = "19:30", end = "23:00" }, or a date with each.',
    ),
    "a time that ends before it starts": (
        'worn = "body"',
        "on_air = [{ start = 2027-05-14T20:00:00, end = 2027-05-14T19:00:00 }]",
        "reversed",
        "link[1].on_air[1]",
        'link "L01": on_air[1] runs from 2027-05-14T20:00:00 to 2027-05-14T19:00:00, which ends before it starts.',
        "Swap the two.",
    ),
    "a date in quotes": (
        "[2027-05-14, 2027-05-15]",
        '["2027-05-14"]',
        "not-a-date",
        "job.dates[1]",
        '[job]: dates[1] is "2027-05-14", but must be a day from 1990 to 2199.',
        "Write it without quotes.",
    ),
    "a date out of range": (
        "[2027-05-14, 2027-05-15]",
        "[9999-12-31]",
        "not-a-date",
        "job.dates[1]",
        "[job]: dates[1] is 9999-12-31, but must be a day from 1990 to 2199.",
        None,
    ),
    "one date without brackets": (
        "[2027-05-14, 2027-05-15]",
        "2027-05-14",
        "not-a-list",
        "job.dates",
        "[job]: dates is 2027-05-14, but must be a list.",
        "Put it in brackets: dates = [2027-05-14]",
    ),
    "an id with a space": (
        'id = "L01"',
        'id = "L 01"',
        "bad-id",
        "link[1].id",
        "link \"L 01\": id is \"L 01\", but an id has up to 64 letters (a-z, A-Z), digits, '.', '_' and '-',",
        None,
    ),
    "an id that is a number": (
        'id = "L01"',
        "id = 1",
        "bad-id",
        "link[1].id",
        "link[1]: id is 1, but an id has up to 64 letters (a-z, A-Z), digits, '.', '_' and '-',",
        'Write it in quotes: "1"',
    ),
    "no id": ('id = "L01"', "", "missing", "link[1].id", "link[1]: id is missing.", 'For example: id = "L01"'),
    "an empty title": (
        '"Lantern Quay"',
        '" "',
        "not-one-line",
        "job.title",
        '[job]: title is " ", but must be one line of 1 to 200 letters.',
        None,
    ),
    "a dotted key into text": (
        'title = "Lantern Quay"',
        'title.x = "Lantern Quay"',
        "not-text",
        "job.title",
        '[job]: title is { x = "Lantern Quay" }, but must be text.',
        None,
    ),
    "a wish that is none": (
        'unmeasured = "avoid"',
        'unmeasured = "never"',
        "unknown-word",
        "plan.unmeasured",
        '[plan]: unmeasured is "never", but must be one of "avoid", "allow", "close".',
        None,
    ),
    "no time to search": (
        "time_limit_s = 10",
        "time_limit_s = 0",
        "out-of-range",
        "plan.time_limit_s",
        "[plan]: time_limit_s is 0, but must be more than 0 and at most 86400 s.",
        None,
    ),
    "a seed that is no whole number": (
        "seed = 1",
        "seed = 1.5",
        "not-a-whole-number",
        "plan.seed",
        "[plan]: seed is 1.5, but must be a whole number from 0 to 9007199254740991.",
        None,
    ),
    "negative spares": (
        "heron = 2",
        "heron = -2",
        "not-a-whole-number",
        "plan.spares.heron",
        "[plan]: spares.heron is -2, but must be a whole number from 0 to 500.",
        None,
    ),
    "a level that nobody can have": (
        "bandwidth_khz = 12.5",
        "bandwidth_khz = 12.5\nlevel_dbm = 5000",
        "too-large",
        "other[1].level_dbm",
        'other "house-talkback": level_dbm is 5000, but must lie between -500 and 500.',
        None,
    ),
    "truth in quotes": (
        "bandwidth_khz = 12.5",
        'bandwidth_khz = 12.5\nprotect = "true"',
        "not-true-or-false",
        "other[1].protect",
        'other "house-talkback": protect is "true", but must be true or false.',
        "Write it without quotes.",
    ),
    "a newer brief": (
        "bandwright = 1",
        "bandwright = 2",
        "unknown-version",
        "bandwright",
        "bandwright is 2, but this program reads briefs of version 1.",
        "Read it with a newer program.",
    ),
    "a version in quotes": (
        "bandwright = 1",
        'bandwright = "1"',
        "unknown-version",
        "bandwright",
        'bandwright is "1", but must be 1, the version of briefs that this program reads.',
        None,
    ),
}


@pytest.mark.parametrize(("old", "new", "code", "key", "sentence", "hint"), CASES.values(), ids=CASES)
def test_one_mistake_gives_one_clear_sentence(old, new, code, key, sentence, hint):
    text = changed(old, new)
    fault = only_fault(text)
    assert (fault.code, fault.key, fault.hint) == (code, key, hint)
    assert fault.text.startswith(sentence), fault.text
    assert fault.text.endswith("."), fault.text
    assert fault.file == FILE
    assert fault.line is not None
    assert str(fault).startswith(f"{FILE}:{fault.line}: {fault.text}")


@pytest.mark.parametrize(
    "name", ["zero step", "misspelt key", "a date in quotes", "misspelt table", "one id twice in two lists"]
)
def test_the_line_is_that_of_the_mistake(name):
    old, new, *_ = CASES[name]
    text = changed(old, new)
    assert only_fault(text).line == line_with(text, new)


@pytest.mark.parametrize(
    ("old", "new", "sentence", "hint"),
    [
        (
            "carrier_mhz = 611.3",
            "carrier_mhz = 611,3",
            'a number has a comma in "carrier_mhz = 611,3".',
            "Write a decimal point: 606.7.",
        ),
        (
            'worn = "body"',
            "worn = body",
            'there is no value that can be read in "worn = body".',
            'Put text in quotes: worn = "body". Numbers go without.',
        ),
        (
            'worn = "body" ',
            'worn = "body ',
            'a quote is not closed in "worn = "body".',
            "End the text with the same quote on the same line.",
        ),
        (
            "seed = 1",
            "seed = 1\nseed = 2",
            'this name is there already in "seed = 2".',
            "Give a key once in its table; write [[name]] each time for a table that comes several times.",
        ),
        (
            "[plan]",
            "[job]",
            'this table is there already in "[job]".',
            "Put its keys together, or write [[name]] each time for a table that comes several times.",
        ),
        (
            "[2027-05-14, 2027-05-15]",
            "[2027-02-30]",
            'there is no such date or time in "dates = [2027-02-30]".',
            "Write dates as 2027-05-14.",
        ),
        (
            "seed = 1",
            "seed one",
            'a key needs = and a value in "seed one".',
            "Write key = value, or start a table with [name] or [[name]].",
        ),
    ],
)
def test_a_text_that_is_no_toml_is_shown_with_its_line(old, new, sentence, hint):
    text = changed(old, new)
    fault = only_fault(text)
    assert (fault.code, fault.text, fault.hint) == ("no-toml", f"this is no TOML: {sentence}", hint)
    assert fault.line == line_with(text, new.split("\n")[-1])


def test_a_number_of_thousands_of_digits_is_one_clear_sentence():
    fault = only_fault(changed("seed = 1", f"seed = {NINES}"))
    assert fault.text == "this is no TOML: it holds a number of thousands of digits."
    fault = only_fault(changed("seed = 1", f"seed = 0x{NINES}"))
    assert (
        fault.text
        == "[plan]: seed is a number of thousands of digits, but must be a whole number from 0 to 9007199254740991."
    )


def test_lists_in_lists_without_end_are_one_clear_sentence():
    assert only_fault("a = " + "[" * 20_000 + "]" * 20_000).code == "no-toml"
    fault = only_fault('[job]\ntitle = "Deep"\n' + ".".join("a" * 20_000) + " = 1\n")
    assert (fault.code, fault.line) == ("no-toml", 3)
    assert "too deep inside each other" in fault.text


def test_an_empty_file_says_what_a_brief_needs():
    assert [str(fault) for fault in faults_of("")] == [
        f"{FILE}: [job] is missing (the production). `bandwright init` writes a brief with one of each.",
        f"{FILE}: [[permit]] is missing (what may be used). `bandwright init` writes a brief with one of each.",
        f"{FILE}: [[radio]] is missing (the kit). `bandwright init` writes a brief with one of each.",
    ]


def test_a_counted_link_may_not_make_an_id_that_is_there_already():
    text = f'{SMALL}[[link]]\nid = "M.2"\nradio = "heron"\n[[link]]\nid = "M"\nradio = "heron"\ncount = 2\n'
    assert only_fault(text).text == (
        'link "M": the id "M.2", made by count = 2, is already used on line 18; '
        "an id may be used once, in whatever table."
    )


def test_times_of_the_day_need_dates():
    text = SMALL.replace("dates = [2027-05-14, 2027-05-15]\n", "")
    times = 'on_air = [{ start = "19:30", end = "23:00" }]'
    links = [f'[[link]]\nid = "{name}"\nradio = "heron"\n{times}\n' for name in ("L", "M")]
    fault = only_fault(text + "".join(links))
    assert (fault.code, fault.hint) == ("no-dates", "Add dates = [2027-05-14] there.")


@pytest.mark.parametrize(
    ("table", "code", "sentence"),
    [
        (
            '[[pair]]\nid = "p"\none = "heron"\ntwo = "herons"\nspacing_khz = 3000',
            "unknown-pair",
            'pair "p": there is no radio type, role or link "herons"; known: heron.',
        ),
        (
            '[[isolation]]\nbetween = ["main"]',
            "wrong-length",
            'isolation[1]: between is ["main"], but must have 2 entries.',
        ),
        (
            '[[earshot]]\nid = "main"\n[[isolation]]\nid = "i"\nbetween = ["main", "hall"]',
            "unknown-earshot",
            'isolation "i": there is no earshot "hall"; known: main.',
        ),
        (
            '[[earshot]]\nid = "main"\n[[isolation]]\nid = "i"\nbetween = ["main", "main"]',
            "same-earshot",
            'isolation "i": between names "main" twice; within one earshot everything is heard.',
        ),
        (
            '[[earshot]]\nid = "a"\n[[earshot]]\nid = "b"\n[[isolation]]\nbetween = ["a", "b"]\nbinds = "spacings"',
            "unknown-word",
            'isolation[1]: binds is "spacings", but must be one of "all", "spacing", "nothing".',
        ),
        (
            '[[block]]\nid = "B"\nfor = "herons"\nwindows_mhz = [[606.5, 608.5]]',
            "unknown-pair",
            'block "B": there is no radio type, role or link "herons"; known: heron.',
        ),
        (
            '[[block]]\nid = "B"\nfor = []\nwindows_mhz = [[606.5, 608.5]]',
            "empty",
            'block "B": for is [], but must name one or more.',
        ),
        (
            '[[block]]\nid = "B"\nfor = "heron"\nwindows_mhz = [[606.5, 608.5]]\nplace = "key"',
            "unknown-place",
            'block "B": there is no place "key"; known: quay.',
        ),
        (
            '[[block]]\nid = "B"\nfor = "heron"\nwindow_mhz = [[606.5, 608.5]]',
            "unknown-key",
            'block "B": there is no key "window_mhz".',
        ),
        (
            '[[earshot]]\nid = "main"\n[[link]]\nid = "L"\nradio = "heron"\nearshot = ["mian"]',
            "unknown-earshot",
            'link "L": there is no earshot "mian"; known: main.',
        ),
        (
            '[[unit]]\nid = "R1"\nradio = "hern"',
            "unknown-radio",
            'unit "R1": there is no radio type "hern"; known: heron.',
        ),
    ],
)
def test_names_in_the_other_tables_are_held_against_each_other(table, code, sentence):
    fault = only_fault(SMALL + table)
    assert (fault.code, fault.text) == (code, sentence)


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("carrier_mhz = 611.3", f"carrier_mhz = 1{'0' * 30}", "must have at most 18 digits."),
        ('"2A-B" = 100', '"2A-B" = -5', "must be more than 0 kHz."),
        ("[10, 50]", "[10, 1e9]", "must be between 0 and 1000000 mW."),
        ("[10, 50]", "[1e-400]", "must be between 0 and 1000000 mW."),
        ("tv_closed", "tv_guard_khz = -1\ntv_closed", "must not be negative."),
        ('["23", "26"]', '"23"', "must be a list of TV channel labels."),
        ("bandwidth_khz = 12.5", 'bandwidth_khz = 12.5\nmakes_products = "maybe"', 'must be true, false or "auto".'),
    ],
)
def test_values_that_nobody_can_mean_are_refused(old, new, sentence):
    assert only_fault(changed(old, new)).text.endswith(sentence)


# ------------------------------------------------------------------------------------------------ many at once


def test_all_faults_of_a_brief_come_at_once_and_in_the_order_of_their_lines():
    text = SAMPLE
    for old, new in [
        ('timezone = "Europe/Lisbon"', 'timezone = "Quayland"'),  # found when tables are held against each other
        ('state = "granted"', 'state = "given"'),  # found in its own table
        ("step_khz = 25", "step_khz = 0"),
        ('worn = "body"', 'worn = "belt"\nplace = "quai"\nhold_mhz = 611,3'.replace(",", ".")),
        ("carrier_mhz = 611.3", "carrier_mhz = -1"),
        ("heron = 2", "merle = 2"),
        ("seed = 1", "sede = 1"),
    ]:
        text = changed(old, new, text=text)
    faults = faults_of(text)
    assert [fault.code for fault in faults] == [
        "unknown-timezone",
        "unknown-word",
        "not-above-zero",
        "unknown-word",
        "unknown-place",
        "not-above-zero",
        "unknown-radio",
        "unknown-key",
    ]
    lines = [fault.line or 0 for fault in faults]
    assert lines == sorted(lines)


# One mistake somewhere must not make somebody look for another one elsewhere.
@pytest.mark.parametrize(
    "text",
    [
        changed("bandwidth_khz = 200\npower", "bandwith_khz = 200\npower"),
        changed('[[radio]]\nid = "heron"', "[[radio]]"),
        changed("spacing_khz = 350 ", 'kit = "herron" '),
        changed("[[radio]]", "[[radoi]]"),
        changed("dates = [2027-05-14, 2027-05-15]", 'dates = ["x"]')
        + '[[link]]\nid = "X"\nradio = "heron"\non_air = [{ start = "10:00", end = "11:00" }]',
        changed('tv_raster = "region1"', "tv_raster = 1"),
        changed("windows_mhz = [[606.5, 613.5]]", "windows_mhz = [[606.5]]"),
        changed("windows_mhz = [[606.5, 613.5]]", "window_mhz = [[606.5, 613.5]]"),
        changed('id = "quay"', 'id = "the quay"') + '[[link]]\nid = "X"\nradio = "heron"\nplace = "quay"',
        SMALL
        + '[[link]]\nid = "M"\nradio = "heron"\ncount = "2"\n[[link]]\nid = "X"\nradio = "heron"\napart_from = "M.1"',
        SMALL + '[[link]]\nid = "L"\nradio = "heron"\nrole = 1\n'
        '[[pair]]\nid = "p"\none = "Pilot"\ntwo = "heron"\nspacing_khz = 1',
        SMALL + '[[link]]\nid = "L"\nradio = "heron"\nearshot = 1\n[[isolation]]\nbetween = ["a", "b"]',
        changed("carrier_mhz = 611.3", "carier_mhz = 611.3"),
        changed('[job]\ntitle = "Lantern Quay"', '[jbo]\ntitle = "Lantern Quay"'),
    ],
)
def test_a_fault_that_follows_from_another_is_not_told(text):
    only_fault(text)


def test_a_table_with_a_fault_is_still_held_against_the_others():
    text = SMALL + '[[link]]\nid = "L"\nradio = "hern"\nworn = "belt"\nplace = "quai"\n'
    assert [fault.code for fault in faults_of(text)] == ["unknown-radio", "unknown-word", "unknown-place"]


def test_tables_with_faults_count_among_those_known():
    text = changed("step_khz = 25", "step_khz = 0").replace('radio = "heron" ', 'radio = "q" ')
    assert faults_of(text)[1].text == 'link "L01": there is no radio type "q"; known: heron.'


def test_the_position_of_a_table_is_right_although_one_before_it_cannot_be_read():
    text = SMALL + '[[link]]\nname = "no id"\nradio = "heron"\n[[link]]\nid = "L"\nradio = "heron"\nplace = "quai"\n'
    assert [(fault.key, fault.line) for fault in faults_of(text)] == [("link[1].id", 17), ("link[2].place", 23)]


def test_an_error_shows_every_fault_on_a_line_of_its_own():
    with pytest.raises(InputError) as caught:
        job_of(changed("step_khz = 25", "step_khz = 0").replace('worn = "body"', 'worn = "belt"'))
    assert len(str(caught.value).splitlines()) == 2
