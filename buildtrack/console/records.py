"""`buildtrack record`, `label`, `parts`, `unpack`: what leaves the program to be printed, handed on or published."""

from __future__ import annotations

import argparse
import os
import signal
import sys
from pathlib import Path, PurePosixPath

from buildtrack.console.common import load, plain
from buildtrack.plain_file import read_plain
from buildtrack.record.errors import RecordError
from buildtrack.record.target import PAGE, PARTS, PDF, free_target
from buildtrack.storage.places import record_path
from buildtrack.units import clip


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def record(options: argparse.Namespace) -> int:
    """Write the PDF record, or one HTML file."""
    signal.signal(signal.SIGTERM, lambda _number, _frame: sys.exit(128 + signal.SIGTERM))  # the renderer ends with it
    judged = load(options.file)
    source = options.file.read_bytes()
    kind, ending = (PAGE, ".html") if options.html else (PDF, ".pdf")
    out = free_target(options.output or record_path(options.file, ending), kind, judged)
    if options.html:
        from buildtrack.record.html_file import write_html

        print(plain(str(write_html(judged, source, out, options.file.name))))
        return 0
    from buildtrack.record.pdf import make_record

    make_record(judged, source, out, paper=options.paper, variant="pdf/ua-1" if options.ua else "pdf/a-3b",
                on_progress=_say if options.progress else None, called=options.file.name)
    print(plain(str(out)))
    return 0


def label(options: argparse.Namespace) -> int:
    """Print the pack label as text, or write it as a PDF page."""
    from buildtrack.record.label import label_lines, write_label

    judged = load(options.file)
    if options.output:
        print(plain(str(write_label(judged, free_target(options.output, PDF, judged), paper=options.paper))))
    else:
        print("\n".join(label_lines(judged)))
    return 0


def parts(options: argparse.Namespace) -> int:
    """Print or write the parts list as CSV."""
    from buildtrack.record.parts import parts_csv

    judged = load(options.file)
    text = parts_csv(judged)
    if options.output:
        from buildtrack.record.pdf import write_durably

        write_durably(text.encode("utf-8"), free_target(options.output, PARTS, judged))
        print(plain(str(options.output)))
    else:
        sys.stdout.write(text)
    return 0


def unpack(options: argparse.Namespace) -> int:
    """Take the attached files back out of a PDF record; nothing that exists is overwritten."""
    from buildtrack.record.unpack import unpack as files_of

    try:
        files = files_of(read_plain(options.pdf))
    except RecordError as error:
        raise ValueError(f"{options.pdf}: {error}") from error
    if not files:
        raise ValueError(f"{options.pdf}: holds no attached files; was it written by buildtrack record?")
    options.folder.mkdir(parents=True, exist_ok=True)
    targets = [(_inside(options.folder, name, options.pdf), content) for name, content in files]
    for target, _ in targets:
        if os.path.lexists(target):  # a link that leads nowhere would be written through
            raise ValueError(f"{target}: there is already a file of this name; choose another folder with -d")
    for target, content in targets:
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
        print(plain(str(target)))
    return 0


def _inside(folder: Path, name: str, pdf: Path) -> Path:
    """Where an attached file goes: below `folder`, whatever its name in the PDF says."""
    parts = PurePosixPath(name).parts
    if not parts or PurePosixPath(name).is_absolute() or any(p in ("..", ".") or "\\" in p for p in parts):
        raise ValueError(f"{pdf}: an attached file is called '{clip(name)}', which leads out of the folder")
    target = folder.joinpath(*parts)
    if not target.parent.resolve().is_relative_to(folder.resolve()):
        raise ValueError(f"{pdf}: an attached file is called '{clip(name)}', which leads out of the folder by a link")
    return target
