"""All workings of the program, one module per step of the work, and the sheet of a build."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import lru_cache
from importlib import import_module

from buildtrack.model.build import Build
from buildtrack.model.checklist import Checklist
from buildtrack.workings.graph import Sheet, Working, needs, usable
from buildtrack.workings.inputs import TODAY, Memory, build_inputs
from buildtrack.workings.values import Value

ROOMS = ("plan", "old_pack", "load", "cells", "pack", "wire", "taps", "alarm", "discharge", "charge", "hand_over",
         "aftercare")
"""Modules of this package that each hold a table WORKINGS."""


@lru_cache(maxsize=1)
def all_workings() -> tuple[Working, ...]:
    """Every working of the program."""
    return tuple(w for room in ROOMS for w in import_module(f"buildtrack.workings.{room}").WORKINGS)


@lru_cache(maxsize=16)
def _usable(names: frozenset[str]) -> tuple[Working, ...]:
    return usable(all_workings(), names)


def sheet_of(build: Build, checklist: Checklist, today: date, extras: Mapping[str, Value] | None = None) -> Sheet:
    """The sheet of a build: all workings that its checklist can feed, evaluated.

    extras: inputs read from attached files (inputs.LOG_DATA).
    """
    memory: Memory = {}
    inputs = build_inputs(build, checklist, today, extras, memory)
    sheet = Sheet(_usable(frozenset(inputs)), inputs)
    sheet.memory = memory
    return sheet


def refresh(sheet: Sheet, build: Build, checklist: Checklist, today: date,
            extras: Mapping[str, Value] | None = None) -> list[str]:
    """Bring a sheet up to date with an edited build; returns the names that changed."""
    return sheet.set(build_inputs(build, checklist, today, extras, sheet.memory))


@lru_cache(maxsize=1)
def day_dependent() -> frozenset[str]:
    """Names of the workings that are another on another day, with nothing entered: they rest on today's date."""
    found = {TODAY}
    while new := {w.id for w in all_workings() if w.id not in found and not found.isdisjoint(needs(w))}:
        found |= new
    return frozenset(found - {TODAY})
