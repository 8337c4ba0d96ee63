"""Workings of the discharge test."""

from __future__ import annotations

from buildtrack.workings.graph import Working

WORKINGS: tuple[Working, ...] = ()
