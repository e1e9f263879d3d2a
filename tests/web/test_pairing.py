"""Pairing codes: once, for minutes, a few tries."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from bandwright.web.pairing import Pairing, Wait, WrongCode


class Clock:
    def __init__(self) -> None:
        self.passed = 0.0

    def now(self) -> datetime:
        return datetime(2027, 5, 14, 8, 0, tzinfo=UTC) + timedelta(seconds=self.passed)

    def seconds(self) -> float:
        return self.passed


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def pairing(clock):
    return Pairing(now=clock.now, seconds=clock.seconds)


def wrong(code: str) -> str:
    return ("A" if code[0] != "A" else "B") + code[1:]


def test_a_code_works_once_and_gives_its_role(pairing):
    offer = pairing.offer("look")
    assert pairing.standing() == offer
    assert pairing.redeem(offer.code, peer="phone").role == "look"
    assert pairing.standing() is None
    with pytest.raises(WrongCode):
        pairing.redeem(offer.code, peer="phone")


def test_a_code_may_be_typed_with_small_letters_spaces_and_dashes(pairing):
    code = pairing.offer("edit").code
    assert pairing.redeem(f" {code[:3].lower()}-{code[3:]} ", peer="phone").role == "edit"


def test_a_wrong_code_leaves_the_right_one_until_there_are_too_many(pairing, clock):
    code = pairing.offer("edit").code
    for number in range(7):
        clock.passed += 15
        with pytest.raises(WrongCode):
            pairing.redeem(wrong(code), peer=f"guesser {number}")
    assert pairing.standing() is not None
    clock.passed += 15
    with pytest.raises(WrongCode):
        pairing.redeem(wrong(code), peer="guesser")
    assert pairing.standing() is None
    clock.passed += 15
    with pytest.raises(WrongCode):
        pairing.redeem(code, peer="phone")


def test_a_code_expires(pairing, clock):
    code = pairing.offer("edit").code
    clock.passed = 600
    assert pairing.standing() is None
    with pytest.raises(WrongCode):
        pairing.redeem(code, peer="phone")


def test_a_new_code_voids_the_one_before_and_one_can_be_withdrawn(pairing):
    first = pairing.offer("edit").code
    second = pairing.offer("edit").code
    with pytest.raises(WrongCode):
        pairing.redeem(first, peer="phone")
    pairing.withdraw()
    with pytest.raises(WrongCode):
        pairing.redeem(second, peer="phone")


def test_who_tries_too_often_waits_and_the_right_code_does_not_help_meanwhile(pairing, clock):
    code = pairing.offer("edit").code
    for _ in range(5):
        with pytest.raises(WrongCode):
            pairing.redeem("", peer="guesser")
    clock.passed = 20
    with pytest.raises(Wait) as caught:
        pairing.redeem(code, peer="guesser")
    assert caught.value.seconds == 41
    assert pairing.redeem(code, peer="phone").code == code
    clock.passed = 61
    again = pairing.offer("edit").code
    assert pairing.redeem(again, peer="guesser").code == again


def test_many_addresses_together_are_held_back_too(pairing):
    pairing.offer("edit")
    for number in range(30):
        with pytest.raises(WrongCode):
            pairing.redeem("", peer=f"guesser {number}")
    with pytest.raises(Wait):
        pairing.redeem("", peer="one more")


def test_codes_hold_no_letter_that_is_read_as_another(pairing):
    letters = {letter for _ in range(200) for letter in pairing.offer("edit").code}
    assert letters.isdisjoint("0O1IL")
    assert len(letters) > 20
