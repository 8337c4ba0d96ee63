"""What each channel of the alarm shows and at which voltage it really sounds."""

from __future__ import annotations

from dataclasses import dataclass

from buildtrack import units
from buildtrack.workings.values import Record, Table


@dataclass(frozen=True, slots=True)
class Channel:
    """One channel of the alarm against the meter."""

    id: str
    shown_error_v: float | None
    """Shown voltage minus the meter's."""
    sounded_v: float | None
    sounded_error_v: float | None
    """Where it sounded minus the setting."""
    verdict: str


@dataclass(frozen=True, slots=True)
class ChannelReport:
    """Every channel of the alarm."""

    channels: tuple[Channel, ...]
    allowed_v: float

    @property
    def bad(self) -> tuple[str, ...]:
        """Channels that sound or show too far off."""
        return tuple(c.id for c in self.channels if c.verdict == "off")

    @property
    def silent(self) -> tuple[str, ...]:
        """Channels of which it is not known that they sound."""
        return tuple(c.id for c in self.channels if c.sounded_v is None)

    @property
    def summary(self) -> str:
        """The whole in one line."""
        if self.bad:
            return f"off by more than {units.show(self.allowed_v, 'mV', digits=2)}: {', '.join(self.bad)}"
        if self.silent:
            return f"not tried yet: {', '.join(self.silent)}"
        return f"{units.counted(len(self.channels), 'channel')} within {units.show(self.allowed_v, 'mV', digits=2)}"

    @property
    def head(self) -> tuple[str, ...]:
        """Headings of `lines`."""
        return ("channel", "shows off by", "sounded at", "off by", "verdict")

    @property
    def lines(self) -> tuple[tuple[str, ...], ...]:
        """One line per channel."""
        return tuple((c.id, _millivolts(c.shown_error_v), _volts(c.sounded_v), _millivolts(c.sounded_error_v),
                      c.verdict) for c in self.channels)


def _millivolts(value: float | None) -> str:
    return "-" if value is None else f"{value * 1000:+.0f} mV"


def _volts(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f} V"


def alarm_channel_report(alarm_channels: Table, alarm_setting: float, alarm_channel_ok: float = 0.05,
                         ) -> ChannelReport | None:
    """Each channel's display against the meter, and where it sounded against the setting."""
    if not len(alarm_channels):
        return None
    return ChannelReport(tuple(_channel(r, alarm_setting, alarm_channel_ok) for r in alarm_channels), alarm_channel_ok)


def _channel(row: Record, setting: float, allowed: float) -> Channel:
    shown, meter, sounded = row.number("shown"), row.number("meter"), row.number("sounded")
    shown_error = shown - meter if shown is not None and meter is not None else None
    sounded_error = sounded - setting if sounded is not None else None
    errors = [e for e in (shown_error, sounded_error) if e is not None]
    verdict = "off" if any(abs(e) > allowed + 1e-9 for e in errors) else "good" if sounded is not None else "not tried"
    return Channel(row.id, shown_error, sounded, sounded_error, verdict)


def alarm_lowest(alarm_setting: float, alarm_resolution: float = 0.0, alarm_channels: Table | None = None) -> float:
    """Lowest voltage at which the alarm sounds: where each channel was heard, else the setting less one step."""
    rows = tuple(alarm_channels) if alarm_channels is not None else ()
    heard = [v for r in rows if (v := r.number("sounded")) is not None]
    if len(heard) < len(rows) or not heard:
        heard.append(alarm_setting - alarm_resolution)
    return min(heard)
