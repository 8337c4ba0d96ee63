"""The child process that turns HTML into PDF: it reads its standard input, writes its standard output, fetches nothing.

Standard input: one line of JSON (see pdf.py), then the HTML and the attachments one behind another.
Standard output: the PDF. Standard error: lines `progress ...`, `warning ...`, `error ...`.
"""

from __future__ import annotations

import hashlib
import json
import logging
import mimetypes
import os
import resource
import sys
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, BinaryIO

NO_PANGO, REFUSED, TOO_MUCH, FAILED = 3, 4, 5, 6
"""Exit codes: text layout library missing, a fetch was refused, out of memory, anything else."""


OUT_OF_MEMORY = ("cannot allocate memory", "failed to map segment", "cannot map zero-fill pages")
"""What the system's loader says where a library does not fit into the memory allowed."""


@dataclass(frozen=True, slots=True)
class Request:
    """What is to be rendered."""

    html: str
    variant: str
    at: datetime
    """Moment written into the PDF, in place of the moment of rendering."""
    attachments: tuple[tuple[str, str, str, bytes], ...]
    """Name, description, relationship, content."""
    memory_bytes: int
    time_s: int
    language: str


def say(kind: str, words: str) -> None:
    """One line for the parent."""
    print(kind, words.replace("\n", " "), file=sys.stderr, flush=True)


def read_request(stream: BinaryIO) -> Request:
    """Read a request as pdf.py writes it."""
    head = json.loads(stream.readline())
    html = stream.read(head["html_bytes"]).decode("utf-8")
    attachments = tuple((a["name"], a["description"], a["relationship"], stream.read(a["bytes"]))
                        for a in head["attachments"])
    return Request(html, head["variant"], datetime.fromtimestamp(head["at"], UTC), attachments, head["memory_bytes"],
                   head["time_s"], head["language"])


def set_limits(memory_bytes: int, time_s: int) -> None:
    """Bound memory and processor time of this process, and what it may write."""
    resource.setrlimit(resource.RLIMIT_AS, (memory_bytes, memory_bytes))
    resource.setrlimit(resource.RLIMIT_CPU, (time_s, time_s + 5))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


class Progress(logging.Handler):
    """Passes what weasyprint says of its progress on to the parent."""

    def emit(self, record: logging.LogRecord) -> None:
        """One line."""
        text = record.getMessage()
        step = text.partition(" - ")[2]
        if step.endswith("(up-to-date)"):
            return
        if step.startswith("Creating layout - Page "):
            say("progress", "laying out page " + step.rpartition(" ")[2])
        elif step.startswith("Creating PDF"):
            say("progress", "writing the pages")


class Warnings(logging.Handler):
    """Passes warnings on to the parent."""

    def emit(self, record: logging.LogRecord) -> None:
        """One line."""
        say("warning", record.getMessage()[:300])


def _listen() -> None:
    for name, handler, level in (("weasyprint.progress", Progress(), logging.INFO),
                                 ("weasyprint", Warnings(), logging.WARNING)):
        logger = logging.getLogger(name)
        logger.handlers[:] = [handler]
        logger.setLevel(level)
        logger.propagate = False


def _no_second_listing(_document: Any, pdf: Any) -> None:
    """PDF/A lists every attached file in `AF`; once each."""
    listed = pdf.catalog.get("AF")
    if listed:
        listed[:] = list(dict.fromkeys(listed))


def render(request: Request) -> bytes:
    """The PDF of a request; PermissionError where the page wanted to fetch anything."""
    mimetypes.init([])  # the machine's own table of file types must not show in the file
    mimetypes.add_type("application/toml", ".toml")
    mimetypes.add_type("text/csv", ".csv")
    import weasyprint
    from weasyprint.urls import FatalURLFetchingError, URLFetcher

    refused: list[str] = []

    class DataOnly(URLFetcher):  # type: ignore[misc]
        """Gives what a data: address holds and refuses every other address."""

        def fetch(self, url: str, headers: Any = None) -> Any:
            """The content of a data: address."""
            if not url.startswith("data:"):
                refused.append(url[:200])
                raise FatalURLFetchingError(url)
            return super().fetch(url, headers)

    _listen()
    fetcher = DataOnly(allowed_protocols=("data",), allow_redirects=False, fail_on_errors=True)
    document = weasyprint.HTML(string=request.html, url_fetcher=fetcher, base_url="data:,")
    attached = [weasyprint.Attachment(string=content, url_fetcher=fetcher, name=name, description=words,
                                      created=request.at, modified=request.at, relationship=relation)
                for name, words, relation, content in sorted(request.attachments)]
    try:
        pages = document.render(attachments=attached, pdf_variant=request.variant or None)
        say("progress", f"{len(pages.pages)} pages laid out")
        found: bytes = pages.write_pdf(
            finisher=_no_second_listing, attachments=attached, pdf_variant=request.variant or None, dpi=220,
            pdf_identifier=hashlib.sha256(request.html.encode()).hexdigest()[:32].encode(), optimize_images=False)
    except FatalURLFetchingError:
        found = b""
    if refused:  # also where the library went on without what it could not have
        raise PermissionError(f"the record wanted to fetch {refused[0]}, and it may fetch nothing")
    return found


def main() -> int:
    """Read, render, write; the exit code says what went wrong."""
    request = read_request(sys.stdin.buffer)
    os.environ["SOURCE_DATE_EPOCH"] = str(int(request.at.timestamp()))
    set_limits(request.memory_bytes, request.time_s)
    say("progress", "starting the renderer")
    try:
        found = render(request)
    except MemoryError:
        say("error", "out of memory")
        return TOO_MUCH
    except PermissionError as error:
        say("error", str(error))
        return REFUSED
    except (OSError, ImportError) as error:
        say("error", str(error))
        if any(words in str(error).lower() for words in OUT_OF_MEMORY):
            return TOO_MUCH
        return NO_PANGO if "cannot load library" in str(error) else FAILED
    sys.stdout.buffer.write(found)
    sys.stdout.buffer.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
