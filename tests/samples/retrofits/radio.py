"""Sample: a private hand-held radio, ended early at the gate: new nickel cells are the better answer."""

from __future__ import annotations

from pathlib import Path

from buildtrack.model import edit
from buildtrack.model.checklist import Checklist
from buildtrack.storage.template import start_new
from tests.samples.retrofits.fill import BENCH, Story, fill
from tests.samples.scribe import NOTICE, Scribe, at

STEM, CHECKLIST = "garden-radio-ended-early", "hand-held-radio"
REASON = ("Six new low-self-discharge nickel cells cost 15 and fit the old case, its charger and its thermal fuse. "
          "A rebuilt pack would cost twice that and put the drop-in charger out of use.")


def write(folder: Path, checklist: Checklist) -> Scribe:
    """Enter the first step, then end."""
    build = start_new(checklist, "7.2 V hand-held radio, garden party set", "bench 2, Fenmoor Lane tool library", at("2026-04-11 10:00"), "sample-radio")
    s = Scribe(build, checklist, "bench 2")
    s.titled(notice=NOTICE, currency="EUR")
    fill(s, story())
    s.go_to("2026-04-11 11:30")
    s.build = edit.end_early(s.build, REASON, s.hand)
    return s


def story() -> Story:
    return Story({
        "tool": "Private two-way radio, 2 W, one of a pair", "may_be_modified": "yes", "depended_on": "no", "renew_possible": "yes",
        "renew_price": "15", "gate_decision": "renew", "target_duration": "480 min", "rated_voltage": "7.2 V",
        "reason": "the old pack lasts ten minutes", "new_pack_price": "38", "planned_cost": "31", **BENCH,
    }, until="rated_voltage")
