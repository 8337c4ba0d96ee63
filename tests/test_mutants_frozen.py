"""What was read and what was ruled is a value: nothing changes it behind anybody's back."""

from __future__ import annotations

import importlib
import pkgutil
from dataclasses import is_dataclass

import pytest

import buildtrack.checks
import buildtrack.storage

GROWING = {"Expanded", "Places", "Block", "Cut", "Lock"}
"""They collect problems and places while a file is read, or hold a lock that is given back."""


@pytest.mark.parametrize("package", [buildtrack.storage, buildtrack.checks], ids=lambda p: p.__name__)
def test_what_was_read_and_what_was_ruled_cannot_be_changed_afterwards(package: object) -> None:
    name = package.__name__  # type: ignore[attr-defined]
    loose = set()
    for found in pkgutil.iter_modules(package.__path__):  # type: ignore[attr-defined]
        module = importlib.import_module(f"{name}.{found.name}")
        for held in vars(module).values():
            if isinstance(held, type) and is_dataclass(held) and held.__module__ == module.__name__:
                options = held.__dataclass_params__  # type: ignore[attr-defined]
                if not options.frozen:
                    loose.add(held.__name__)
    assert loose <= GROWING, loose - GROWING
