"""A checklist of a few items that shows every feature of the format, for tests of the engine."""

from __future__ import annotations

from buildtrack.model.checklist import Checklist
from buildtrack.storage.checklist_file import parse_checklist

TEXT = '''
format = 1
id = "small"
version = "1"
title = "A small job"
purpose = "To test the engine"

[policy.hottest]
label = "Hottest a part may get"
value = "60 °C"
unit = "°C"
source = "common practice, no source"

[policy.warmest]
label = "Warm but bearable"
value = "45 °C"
unit = "°C"
source = "common practice, no source"

[[steps]]
id = "look"
title = "Look"
minutes = 5

[[steps.items]]
id = "allowed"
kind = "choice"
label = "May it be changed"
need = "must"
hold = true
why = "Some things must not be."
options = [["yes", "Yes"], ["no", "No"]]

[[steps.items]]
id = "part_temperature"
kind = "reading"
label = "Temperature of the part"
unit = "°C"
need = "expected"
plausible = ["-10", "90"]
hard = ["-50", "300"]

[[steps.items]]
id = "parts"
kind = "table"
label = "Parts"
need = "optional"
row_name = "part"
row_prefix = "p"

[[steps.items.columns]]
id = "warmth"
label = "Warmth"
kind = "reading"
unit = "°C"
required = true

[[steps.items.columns]]
id = "decision"
label = "Decision"
kind = "choice"
options = [["keep", "Keep"], ["reject", "Reject"]]

[[steps]]
id = "do"
title = "Do"
minutes = 10

[[steps.items]]
id = "checked"
kind = "reading"
label = "Checked voltage"
unit = "V"
need = "must"
several = 3
use = "mean"
expires = "1 h"
expires_before = "done"
rests_on = ["part_temperature"]

[[steps.items]]
id = "done"
kind = "tick"
label = "Done"
need = "must"

[[steps.items]]
id = "extra"
kind = "text"
label = "What was odd"
need = "expected"
only_if = [{ item = "allowed", is = ["no"] }]

[[checks]]
id = "too-hot"
step = "look"
severity = "stop"
title = "The part is too hot"
message = "it is at {value}; the limit is {limit}"
value = "part_temperature"
at_most = "hottest"

[[checks]]
id = "warm"
step = "look"
severity = "caution"
title = "The part is warm"
message = "it is at {value}, above {limit}"
value = "part_temperature"
at_most = "warmest"
condition = "Let it cool before use."

[[checks]]
id = "kept-warm"
step = "look"
severity = "caution"
title = "A kept part is warm"
message = "{rows} above {limit}"
value = "parts.warmth"
at_most = "45 °C"
rows = "kept"
only_if = [{ item = "parts", answered = true }]

[[checks]]
id = "not-allowed"
step = "look"
severity = "stop"
title = "It must not be changed"
message = "the answer is {value}"
value = "allowed"
is = ["yes"]
'''


def small() -> Checklist:
    """The small checklist, without a problem."""
    found, problems = parse_checklist(TEXT, "small.toml")
    assert not problems, problems
    return found
