"""Which way the current of a log runs, and who ended the test."""

from __future__ import annotations

from buildtrack.physics.log_columns import Mapping
from buildtrack.physics.log_errors import Warnings
from buildtrack.physics.log_numbers import read_number
from buildtrack.physics.log_records import Unload
from buildtrack.physics.log_sniff import Sniffed
from buildtrack.physics.log_totals import Totals

END_OF_BOARD = "board opened"
END_OF_TESTER = "stopped by tester"
END_UNKNOWN = "unknown"
END_UNTOLD = "not told: the pack's voltage is the sum of the groups, not the output"
UNTOLD = "the readings do not tell the sign: discharge taken as positive"


def state_signs(mapping: Mapping, sniffed: Sniffed) -> tuple[dict[str, float], str]:
    """Factors of the state column's words, when the direction is to be told by them."""
    if mapping.state is None or mapping.sign in (1, -1):
        return {}, ""
    words, currents = _states_and_currents(mapping, sniffed)
    told = {word for word in words if _direction(word) != 0}
    if not told or (mapping.sign is None and any(value < 0 for value in currents)):
        return {}, ""
    return _States(), "direction of the current told by the state column"


def set_over_states(mapping: Mapping, sniffed: Sniffed) -> str:
    """A warning where a sign was set although the currents have none and the state column tells both directions."""
    if mapping.state is None or mapping.sign not in (1, -1):
        return ""
    words, currents = _states_and_currents(mapping, sniffed)
    if any(value < 0 for value in currents) or not {1.0, -1.0} <= {_direction(word) for word in words}:
        return ""
    return "the currents have no sign, the state column tells charge from discharge; the sign set counts all one way"


def _states_and_currents(mapping: Mapping, sniffed: Sniffed) -> tuple[set[str], list[float]]:
    """The words of the state column and the currents, of the first rows."""
    words = {row[mapping.state] for row in sniffed.rows if mapping.state is not None and mapping.state < len(row)}
    currents = [
        value
        for row in sniffed.rows
        if mapping.current is not None and mapping.current < len(row)
        and (value := read_number(row[mapping.current], sniffed.decimal)) is not None
    ]  # fmt: skip
    return words, currents


class _States(dict[str, float]):
    """Factor of a state's word: 1 discharge, -1 charge, 1 unknown; words are looked at once."""

    def __bool__(self) -> bool:
        return True

    def get(self, key: str, default: float = 1.0) -> float:  # type: ignore[override]
        if key not in self:
            self[key] = _direction(key) or default
        return self[key]


def _direction(word: str) -> float:
    text = word.strip().lower()
    if text.startswith(("dis", "dch", "dsg", "entl", "déch", "desc", "放")) or text == "d":
        return 1.0
    if text.startswith(("ch", "cc_chg", "cccv", "lad", "auf", "carg", "充")) or text == "c":
        return -1.0
    return 0.0


def sign_of(mapping: Mapping, by_state: dict[str, float], totals: Totals, warnings: Warnings) -> tuple[int, str]:
    """Sign that makes discharge positive: as set, by state, or told from how the voltage goes."""
    first, last = totals.first_loaded, totals.last_loaded
    change = last.voltage_v - first.voltage_v if first is not None and last is not None else 0.0
    clear = abs(change) > 0.01 * totals.lowest_v and totals.charge_ah != 0.0
    told = 1 if (totals.charge_ah > 0) == (change < 0) else -1
    if by_state:
        return 1, ""
    if mapping.sign in (1, -1):
        if clear and told != mapping.sign and first is not None:
            warnings.add("sign", 0, "with this sign the voltage moves against the current: check the sign")
        return mapping.sign or 1, ""
    if not clear:
        return 1, UNTOLD
    words = "positive" if told > 0 else "negative"
    return told, f"discharge taken as {words} in the file: the voltage {'falls' if change < 0 else 'rises'} under it"


def end_kind(unload: Unload | None, pack_is_sum: bool = False) -> str:
    """Who ended the test: a fall to about nothing is the board, a jump up is the tester or a hand.

    The sum of the groups jumps up whoever ended it: the cells are relieved on their side of the board.
    """
    if unload is None or not unload.after_v:
        return END_UNKNOWN
    if min(unload.after_v) < 0.3 * unload.before.voltage_v:
        return END_OF_BOARD
    if unload.after_v[-1] > unload.before.voltage_v * 1.0005:
        return END_UNTOLD if pack_is_sum else END_OF_TESTER
    return END_UNKNOWN
