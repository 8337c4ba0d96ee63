"""What can go wrong when a record is made, as one clear line."""

from __future__ import annotations

PANGO_HELP = "sudo apt install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
"""The one command that brings the text layout library on Debian and its relatives."""


class RecordError(ValueError):
    """A record that could not be made; the sentence says why and what would mend it."""


class RecordCancelled(RecordError):
    """The person stopped the making of a record."""
