"""Invented logs of one cell: an even fall and a steep end, by a closed form."""

from __future__ import annotations

from pathlib import Path

from buildtrack.physics import logs
from buildtrack.workings.discharge_log import LogData


def falling(folder: Path, hours: float, amperes: float, name: str = "slow.csv", top: float = 4.17, end: float = 2.75,
            ) -> LogData:
    """A log that falls 0.75 V evenly, and to `end` with the twentieth power of the charge drawn."""
    seconds = int(hours * 3600)
    rows = []
    for t in range(0, seconds + 1, 20):
        gone = t / seconds
        rows.append(f"{t},{top - 0.75 * gone - (top - 0.75 - end) * gone**20:.4f},{amperes}")
    path = folder / name
    path.write_text("\n".join(["time_s,voltage_V,current_A", *rows, ""]), encoding="utf-8")
    return LogData(name, path.stat().st_size, logs.read_log(path))
