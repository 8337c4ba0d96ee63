"""Text for the record: nothing invisible, nothing endless, numbers tied to units."""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from buildtrack.record.text import LONGEST, line, minus, moment, plain, sentence, stretch, tied

AT = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def test_control_and_direction_characters_are_written_out() -> None:
    assert plain("a\x07b") == "a[U+0007]b"
    assert plain("x\u202eevil") == "x[U+202E]evil"
    assert plain("z\u200bw") == "z[U+200B]w"
    assert plain("\x1b[31mred") == "[U+001B][31mred"


def test_lines_stay_in_plain_text_and_go_in_a_line() -> None:
    assert plain("one\r\ntwo") == "one\ntwo"
    assert line("one\r\n two\t three") == "one two three"


def test_endless_text_is_cut_and_says_where_the_whole_is() -> None:
    shown = plain("x" * 10_000)
    assert len(shown) < LONGEST + 100
    assert "10000 characters; the whole text is in the build file" in shown


@settings(derandomize=True, deadline=None, max_examples=200)
@given(st.text(max_size=300))
def test_nothing_invisible_is_left(text: str) -> None:
    bad = {"Cc", "Cf", "Co", "Cs", "Cn"}
    assert not [c for c in line(text) if unicodedata.category(c) in bad]


def test_numbers_stay_with_their_units_and_limits_of_error() -> None:
    assert tied("3.300 V at 2 A") == "3.300\u00a0V at 2\u00a0A"
    assert tied("3.30 ± 0.02 V") == "3.30\u00a0±\u00a00.02\u00a0V"
    assert tied("5 cells, 2 mAh/day") == "5 cells, 2 mAh/day"


def test_moments_are_utc_to_the_minute() -> None:
    assert moment(AT) == "2026-11-25 12:00"
    assert moment(None) == ""
    assert stretch([AT, AT + timedelta(minutes=5)]) == "2026-11-25 12:00–12:05"
    assert stretch([AT, AT + timedelta(days=2)]) == "2026-11-25 to 2026-11-27"


def test_what_subtracts_or_lies_below_zero_gets_a_real_minus_and_nothing_else() -> None:
    assert minus("12.60 V - 27.7 A × 0.1 Ω, (-2.9 %), -5 mV") == "12.60 V \u2212 27.7 A × 0.1 Ω, (\u22122.9 %), \u22125 mV"
    for kept in ("2026-08-07", "cell-c04-2026.csv", "1e-9", "board to contact C-", "-", "end-of-charge", "18650-2", "a)-1"):
        assert minus(kept) == kept


def test_a_sentence_begins_with_a_capital_and_a_name_stays_as_it_is() -> None:
    assert sentence("the alarm cannot be heard") == "The alarm cannot be heard"
    assert sentence("g2 4.232 V was read") == "g2 4.232 V was read"
    assert sentence("k1: no instrument") == "k1: no instrument"
    assert sentence("−110 mV between both") == "−110 mV between both" and sentence("") == ""
