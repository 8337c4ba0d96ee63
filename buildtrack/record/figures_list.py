"""Which values stand on the first pages: names of items and workings, in their order."""

from __future__ import annotations

KEY_FIGURES = (
    "series_count", "parallel_count", "pack_nominal_voltage", "pack_full_voltage", "delivered_capacity_tested",
    "delivered_energy", "usable_share", "working_current", "pack_allowance", "fuse_rating", "alarm_setting",
    "board_cutoff",
)
GLANCE = (
    ("Tool and load", ("tool", "rated_voltage", "old_chemistry", "old_cells", "working_current", "heaviest_current",
                       "duty_mean_current", "duty_rms_current", "duty_peak_current", "stall_current",
                       "current_limiter")),
    ("Cells", ("cells_source", "designation", "kept_count", "series_count", "parallel_count", "smallest_group_capacity",
               "group_capacity_spread", "pack_resistance", "pack_allowance", "current_headroom")),
    ("Pack", ("pack_full_voltage", "pack_nominal_voltage", "pack_empty_voltage", "nominal_energy",
              "mass_after", "total_cost", "cost_per_wh")),
    ("Alarm", ("alarm_scope", "alarm_setting", "alarm_recommended", "alarm_margin", "alarm_resting_voltage",
               "minutes_after_alarm", "charge_after_alarm", "alarm_current", "idle_days")),
    ("Wiring and protection", ("joining_method", "wire_resistance", "loop_resistance", "drop_working",
                               "weakest_conductor",
                               "fuse_family", "fuse_rating", "fuse_voltage", "fuse_position", "switch_rating",
                               "board_series",
                               "board_continuous", "board_trip_low", "board_trip_high", "board_overcharge",
                               "board_cutoff", "board_balance_start", "board_balance_current", "board_port")),
    ("Charging", ("charger_kind", "charger_voltage", "charge_voltage_target", "charger_current", "charge_c_rate",
                  "charge_time_estimate", "charge_spread_end")),
    ("Discharge test", ("test_point", "test_current", "delivered_capacity_tested", "delivered_energy",
                        "test_mean_voltage",
                        "usable_share", "first_group_down", "temperature_rise", "ended_by")),
)
