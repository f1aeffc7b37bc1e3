"""Six digits from a secret and the clock: the standards' own examples, and each code good once."""

from __future__ import annotations

import pytest

from studio import one_time_codes as codes

SECRET = b"12345678901234567890"  # of both standards' examples
RFC_4226_APPENDIX_D = [
    *("755224", "287082", "359152", "969429", "338314"),
    *("254676", "287922", "162583", "399871", "520489"),
]
RFC_6238_APPENDIX_B = {  # seconds since 1970: eight digits with SHA-1; six digits are the last six of them
    59: "94287082",
    1111111109: "07081804",
    1111111111: "14050471",
    1234567890: "89005924",
    2000000000: "69279037",
    20000000000: "65353130",
}
NOW_S = 1_800_000_015.0
STEP = int(NOW_S // codes.STEP_S)


def test_counted_codes_are_those_of_rfc_4226():
    assert [codes.at(SECRET, count) for count in range(10)] == RFC_4226_APPENDIX_D


@pytest.mark.parametrize("at_s", RFC_6238_APPENDIX_B)
def test_timed_codes_are_those_of_rfc_6238(at_s):
    code = RFC_6238_APPENDIX_B[at_s][-codes.DIGITS :]
    assert codes.at(SECRET, at_s // codes.STEP_S) == code
    assert codes.step_of(SECRET, code, now_s=float(at_s), after=-1) == at_s // codes.STEP_S


@pytest.mark.parametrize("off", [-1, 0, 1])
def test_a_phone_whose_clock_is_half_a_minute_off_is_understood(off):
    assert codes.step_of(SECRET, codes.at(SECRET, STEP + off), now_s=NOW_S, after=0) == STEP + off


@pytest.mark.parametrize("off", [-2, 2])
def test_an_older_or_a_later_code_is_not(off):
    assert codes.step_of(SECRET, codes.at(SECRET, STEP + off), now_s=NOW_S, after=0) is None


def test_a_code_is_good_once_and_none_before_it_any_more():
    used = codes.step_of(SECRET, codes.at(SECRET, STEP), now_s=NOW_S, after=0)
    assert used == STEP
    for off in (-1, 0):
        assert codes.step_of(SECRET, codes.at(SECRET, STEP + off), now_s=NOW_S, after=used) is None
    assert codes.step_of(SECRET, codes.at(SECRET, STEP + 1), now_s=NOW_S, after=used) == STEP + 1


def test_gaps_are_as_people_type_them_and_anything_else_is_no_code():
    code = codes.at(SECRET, STEP)
    assert codes.step_of(SECRET, f" {code[:3]} {code[3:]} ", now_s=NOW_S, after=0) == STEP
    for typed in ("", code[:5], code + "0", code[:5] + "x", "١٢٣٤٥٦"):
        assert codes.read(typed) == ""
        assert codes.step_of(SECRET, typed, now_s=NOW_S, after=0) is None
