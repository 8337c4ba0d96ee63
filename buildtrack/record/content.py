"""From a judged build to the whole content of its record."""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace

from buildtrack.judging import Judged
from buildtrack.record import files, gather_back, gather_front
from buildtrack.record.gather_step import step_page
from buildtrack.record.pages import Pages
from buildtrack.record.pdf import Enclosed
from buildtrack.record.shorten import shortened

LONGEST_NAME = 120
"""Longest name of the build file inside the PDF [characters]."""


def source_name(judged: Judged, called: str = "") -> str:
    """Name of the build file inside the PDF: as it is `called`, else from the build's own id."""
    kept = "".join(c if c.isprintable() and c not in "/\\:" else "-" for c in called).removesuffix(".toml").strip(". ")
    name = kept[:LONGEST_NAME] or re.sub(r"[^A-Za-z0-9._-]+", "-", judged.build.id).strip("-.")[:60]
    return f"{name or 'build'}.toml"


def content_hash_of(judged: Judged) -> str:
    """The hash that reviews refer to."""
    from buildtrack.storage.hashing import content_hash

    return content_hash(judged.build)


def enclosed_files(judged: Judged, source_text: bytes, called: str = "") -> tuple[Enclosed, ...]:
    """What goes into the PDF: the build file (as it is `called`), its logs, its photos; byte for byte."""
    found = [Enclosed(source_name(judged, called), "build file of this record", source_text, "Source")]
    taken = {found[0].name}
    for file in files.fitting(files.attached(judged)):
        assert file.content is not None
        if file.name not in taken:
            relation = "Data" if file.item.kind == "file" else "Supplement"
            found.append(Enclosed(file.name, file.item.label, file.content, relation))
            taken.add(file.name)
    return tuple(found)


def gather(judged: Judged, source_text: bytes, called: str = "") -> Pages:
    """The content of the record; nothing in it that is not in the build or computed from it.

    source_text: the bytes of the build file. called: the name of that file.
    """
    from buildtrack.record.drawings.of_build import figures

    content_hash = content_hash_of(judged)
    found = files.attached(judged)
    kept_out = files.not_shown(found)
    drawn = figures(judged)
    cut = shortened(judged.build)
    whole, judged = judged, replace(judged, build=cut.build)  # drawings and hash are of the whole build
    steps = tuple(step_page(judged, step, number, drawn.get(step.id, ()), cut)
                  for number, step in enumerate(judged.checklist.steps, 1))
    return Pages(
        identity=gather_front.identity(judged, content_hash, hashlib.sha256(source_text).hexdigest()),
        verdict=gather_front.verdict_page(judged, content_hash), glance=gather_front.glance(judged), steps=steps,
        findings=gather_back.findings(judged), passed=gather_back.passed(judged),
        idle=gather_back.idle(judged), waivers=gather_back.waivers(judged),
        left_out=gather_back.left_out(judged), policy=gather_back.policy(judged), history=gather_back.history(judged),
        missing=gather_back.missing(judged), not_computed=gather_back.not_computed(judged),
        cautions=gather_back.cautions(judged), photos=files.photos(found, kept_out),
        files=files.file_lines(found, source_name(whole, called), source_text, kept_out))
