"""How long it really ran, beside how long it should."""

from __future__ import annotations

from buildtrack import units
from buildtrack.checks.rules_general_words import PASS
from buildtrack.checks.ruling import Context, Ruling
from buildtrack.physics import worth

FAR_TIMES = 1.5
"""A measured run so many times longer or shorter than the computed one is doubted: chosen, no source."""


def ran_as_computed(context: Context) -> Ruling:
    """The measured run is as long as charge and mean current make it: the tested charge, else the smallest group's.

    Electronics between battery and load and a colder cell account for less than the factor allowed.
    """
    ran = context.number("measured_duration")
    if ran is None:
        return context.unknown("measured_duration")
    computed, by = context.number("runtime_working") if context.has("runtime_working") else None, "tested charge"
    if computed is None:
        charge, mean = context.number("smallest_group_capacity"), context.number("duty_mean_current")
        if charge is None or not mean:
            return context.unknown("smallest_group_capacity", "duty_mean_current")
        computed, by = worth.runtime_h(charge, mean) * 3600.0, "capacity of the smallest group"
    if computed <= 0:
        return PASS  # no charge came out of the test: other checks say so
    facts = {"value": units.show(ran, "min", digits=3), "limit": units.show(computed, "min", digits=3),
             "rows": f"{by} over the mean current of the job", "count": f"{FAR_TIMES:g}"}
    far = not computed / FAR_TIMES - 1e-9 <= ran <= computed * FAR_TIMES + 1e-9
    return Ruling("fail" if far else "pass", facts)
