"""Workings of the step `alarm`: the ladder, the setting, what each channel does, and how long the pack may lie."""

from __future__ import annotations

from dataclasses import dataclass

from buildtrack.physics import ageing
from buildtrack.physics.alarm import AlarmAdvice, recommended_alarm
from buildtrack.workings.alarm_channels import alarm_channel_report, alarm_lowest
from buildtrack.workings.alarm_ladder import ladder
from buildtrack.workings.graph import Working
from buildtrack.workings.pack_groups import GroupReport
from buildtrack.workings.wire_board import CUTOFF_TOLERANCE_V

STEP = "alarm"
USUAL_STEP_V = 0.1
"""Step of the setting where the alarm's own is not written down (common practice, no source)."""
MONTH_D = 30.0
STORED_SHARE, EMPTY_SHARE = 0.5, 0.05
"""A stored pack is half full; it is called empty at a twentieth (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Advice:
    """A recommended alarm setting and what governs it."""

    advice: AlarmAdvice
    setting_v: float | None
    """What is set now."""

    @property
    def summary(self) -> str:
        """The whole in one line."""
        told = f"set {self.advice.setting_v:.2f} V per group ({self.advice.exact_v:.3f} V exactly), governed by the "
        told += self.advice.governed_by
        if self.setting_v is None:
            return told
        difference = self.setting_v - self.advice.setting_v
        same = abs(difference) < 0.005
        return told + ("; set as recommended" if same else f"; set now: {self.setting_v:.2f} V ({difference:+.2f} V)")

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("what", "per group")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """Recommendation, its origin and the present setting."""
        rows = [("recommended", f"{self.advice.setting_v:.2f} V"), ("exactly", f"{self.advice.exact_v:.3f} V"),
                ("governed by", self.advice.governed_by)]
        if self.setting_v is not None:
            rows.append(("set now", f"{self.setting_v:.2f} V"))
        return tuple(rows)


def worst_group_resistance(group_report: GroupReport) -> float | None:
    """Highest resistance of any group."""
    known = [g.resistance_ohm for g in group_report.groups if g.resistance_ohm is not None]
    return max(known) if known else None


def alarm_advice(alarm_rest_target: float, duty_rms_current: float, worst_group_resistance: float,
                 board_cutoff: float, alarm_margin: float, group_minimum: float,
                 board_cutoff_tolerance: float = CUTOFF_TOLERANCE_V,
                 alarm_resolution: float | None = None, alarm_setting: float | None = None) -> Advice:
    """Setting that sounds at the resting target under working current, above the board's highest cutoff."""
    step = alarm_resolution if alarm_resolution else USUAL_STEP_V
    found = recommended_alarm(alarm_rest_target, duty_rms_current, worst_group_resistance, board_cutoff,
                              board_cutoff_tolerance, group_minimum, alarm_margin, step)
    return Advice(found, alarm_setting)


def alarm_recommended(alarm_advice: Advice) -> float:
    """Recommended setting per group, on the device's steps."""
    return alarm_advice.advice.setting_v


def alarm_resting_voltage(alarm_setting: float, duty_rms_current: float, worst_group_resistance: float) -> float:
    """Voltage the weakest group would rest at when the alarm sounds under the rms current."""
    return alarm_setting + duty_rms_current * worst_group_resistance


def alarm_above_cutoff(alarm_lowest: float, board_cutoff_highest: float) -> float:
    """Distance from the lowest voltage at which the alarm sounds down to the board's highest cutoff."""
    return alarm_lowest - board_cutoff_highest


def sagging_cutoff_current(alarm_rest_target: float, board_cutoff_highest: float, worst_group_resistance: float,
                           ) -> float:
    """Current at which the weakest group sags to the board's cutoff although it rests at the alarm's target."""
    return (alarm_rest_target - board_cutoff_highest) / worst_group_resistance


def idle_drain(parallel_count: float, board_idle_current: float = 0.0, alarm_current: float = 0.0,
               alarm_switched_off: str = "no", leak_worst: float | None = None, self_discharge: float | None = None,
               smallest_group_capacity: float | None = None) -> float:
    """Charge the most loaded group loses in a day: the board, the alarm where it stays on, the leak of its cells.

    Where no leak was measured the usual self-discharge of the chemistry counts, of a full group. A reading below 0
    within its meter's error counts as nothing, and so does a cell that seems to gain charge.
    """
    alarm = 0.0 if alarm_switched_off == "yes" else alarm_current
    if leak_worst is not None:
        leak = max(0.0, leak_worst * parallel_count)
    else:
        leak = (self_discharge or 0.0) * (smallest_group_capacity or 0.0) / MONTH_D
    return ageing.idle_drain_ah_per_day(max(0.0, board_idle_current + alarm), leak)


def idle_days(smallest_group_capacity: float, idle_drain: float) -> float | None:
    """Time in which a half-full pack that lies unused becomes empty."""
    if idle_drain <= 0:
        return None
    return ageing.idle_days(smallest_group_capacity, STORED_SHARE, EMPTY_SHARE, idle_drain) * 86400.0


WORKINGS = (
    Working(ladder, STEP, "The ladder", "", "upper - its tolerance > lower + its tolerance, for every pair",
            "sheets of protection circuits (worst edges of the tolerances)", expression=False,
            note="without a tolerance of the board 50 mV (over-charge) and 100 mV (cutoff) are taken, as in the sheet "
                 "of the DW01A, and 25 mV for the start of balancing, as that of the HY2213"),
    Working(worst_group_resistance, STEP, "Highest resistance of a group", "mΩ", "highest of all groups", "definition",
            "R_worst", expression=False),
    Working(alarm_advice, STEP, "Alarm advice", "",
            "max(V_target - I_rms × R_worst, cutoff + tolerance + margin, cell minimum); the nearest of the device's "
            "steps, never below the two floors",
            "Ohm's law; margin: common practice, no source", expression=False),
    Working(alarm_recommended, STEP, "Recommended alarm setting", "V", "from the alarm advice",
            "Ohm's law; margin: common practice, no source", expression=False, digits=3),
    Working(alarm_resting_voltage, STEP, "Weakest group rests at, when the alarm sounds", "V",
            "alarm_setting + duty_rms_current * worst_group_resistance", "Ohm's law (slow recovery left out)"),
    Working(alarm_lowest, STEP, "Alarm sounds at the latest at", "V",
            "lowest voltage heard on a channel, else setting - one step", "definition", expression=False),
    Working(alarm_above_cutoff, STEP, "Alarm above the board's cutoff by", "mV",
            "alarm_lowest - board_cutoff_highest", "worst edges of both tolerances"),
    Working(sagging_cutoff_current, STEP, "Current that sags to the cutoff at the alarm", "A",
            "(alarm_rest_target - board_cutoff_highest) / worst_group_resistance", "Ohm's law",
            note="above it the board opens because of sag, not because the pack is empty"),
    Working(alarm_channel_report, STEP, "Alarm channels", "", "shown - meter, sounded - setting", "definition",
            expression=False),
    Working(idle_drain, STEP, "Lost a day while lying", "mAh", "(board + alarm) × 24 h + leak × cells in parallel",
            "Q = I t (OpenStax University Physics 9.1)", expression=False,
            note="without a measured leak: the usual self-discharge of the chemistry, of a full group, over 30 days"),
    Working(idle_days, STEP, "Half full to empty while lying", "d", "(50 % - 5 %) × Q / drain",
            "Q = I t (OpenStax University Physics 9.1)", expression=False, digits=2),
)
