"""What was read and what was ruled is a value: nothing changes it behind anybody's back."""

from __future__ import annotations

import importlib
import pkgutil
from dataclasses import is_dataclass

import pytest

import buildtrack.checks
import buildtrack.physics
import buildtrack.storage

GROWING = {"Expanded", "Places", "Block", "Cut", "Lock", "Unload", "Cleaner", "Outline", "Row", "Totals", "Found", "Steps",
           "Sieve"}
"""They are filled while a file or a log is read, or step by step in a search, or hold a lock that is given back."""
REMEMBERING = {"String"}
"""It keeps what it has worked out once, in properties that need a place of their own."""


def data_classes(package: object) -> list[type]:
    """All dataclasses that the modules of a package define."""
    name, found = package.__name__, []  # type: ignore[attr-defined]
    for listed in pkgutil.iter_modules(package.__path__):  # type: ignore[attr-defined]
        module = importlib.import_module(f"{name}.{listed.name}")
        found += [held for held in vars(module).values()
                  if isinstance(held, type) and is_dataclass(held) and held.__module__ == module.__name__]
    return found


PACKAGES = pytest.mark.parametrize("package", [buildtrack.storage, buildtrack.checks, buildtrack.physics],
                                   ids=lambda p: p.__name__)


@PACKAGES
def test_what_was_read_and_what_was_ruled_cannot_be_changed_afterwards(package: object) -> None:
    loose = {held.__name__ for held in data_classes(package) if not held.__dataclass_params__.frozen}  # type: ignore[attr-defined]
    assert loose <= GROWING, loose - GROWING


@PACKAGES
def test_a_slip_of_the_pen_adds_no_attribute_to_what_was_read(package: object) -> None:
    """With slots, `block.haed = x` is an error; without, it is a head that silently stays as it was."""
    open_ended = {held.__name__ for held in data_classes(package) if "__slots__" not in vars(held)}
    assert open_ended <= REMEMBERING, open_ended - REMEMBERING
