"""The hash of what is judged: everything in a build but the reviews themselves and the summary."""

from __future__ import annotations

import hashlib
from dataclasses import replace

from buildtrack.model.build import Build, Entry
from buildtrack.storage import make_tree
from buildtrack.storage.journal import to_json

FORM = 1
"""Stands in the hash in place of the file's format: a build that is only written in a new one keeps its reviews."""


def content_hash(build: Build) -> str:
    """SHA-256, as hexadecimal digits, over all that is judged, in one canonical form (JSON, keys sorted).

    Left away: reviews, the history lines that say one was made, the summary, and items that hold nothing.
    """
    judged = replace(build, reviews=(), snapshot={}, history=tuple(e for e in build.history if e.what != "reviewed"))
    whole = {
        "head": {**make_tree.header(judged), "format": FORM}, "lists": make_tree.lists(judged),
        "items": {name: make_tree.entry(entry) for name, entry in judged.entries.items() if entry != Entry()}}
    return hashlib.sha256(to_json(whole).encode()).hexdigest()
