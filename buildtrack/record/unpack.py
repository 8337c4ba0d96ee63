"""Attached files taken back out of a PDF of ours, byte for byte, with the standard library alone.

Reads what ISO 32000 calls cross-reference streams, object streams and embedded file streams, with FlateDecode or no
filter: all that our own records hold. PDFs of other programs may use more; then a clear line says so.
"""

from __future__ import annotations

import re
import zlib

from buildtrack.record.errors import RecordError

LARGEST = 400_000_000
"""Most that is unpacked of one file [bytes]."""
_OBJECT = re.compile(rb"(\d+)\s+(\d+)\s+obj\b")
_REFERENCE = re.compile(rb"/EF\s*<<[^>]*?/F\s+(\d+)\s+\d+\s+R", re.DOTALL)
_KEYWORD = re.compile(rb">>\s*stream\r?\n")
_LENGTH = re.compile(rb"/Length\s+(\d+)(?!\s+\d+\s+R)")
_COUNT = re.compile(rb"/N\s+(\d+)")
_FIRST = re.compile(rb"/First\s+(\d+)")
_ESCAPES = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f"}


def _inflate(data: bytes) -> bytes:
    engine = zlib.decompressobj()
    try:
        found = engine.decompress(data, LARGEST)
    except zlib.error as error:
        raise RecordError(f"a stream of the PDF is damaged ({error})") from error
    if engine.unconsumed_tail:
        raise RecordError(f"an attached file is larger than {LARGEST // 1_000_000} MB")
    return found


def _stream(pdf: bytes, at: int) -> tuple[bytes, int, int] | None:
    """Dictionary of the stream object whose body begins at `at`, begin and end of its content; None for no stream."""
    match = _KEYWORD.search(pdf, at)
    end = pdf.find(b"endobj", at)
    if match is None or 0 <= end < match.start():
        return None
    head = pdf[at:match.start() + 2]
    length = _LENGTH.search(head)
    if length is None:
        return None
    return head, match.end(), match.end() + int(length.group(1))


def _decoded(head: bytes, raw: bytes) -> bytes:
    if b"/Filter" not in head:
        return raw
    if re.search(rb"/Filter\s*(?:\[\s*)?/FlateDecode", head) is None or b"/Predictor" in head:
        raise RecordError("the PDF packs its files in a way this program does not read; open it in a PDF viewer")
    return _inflate(raw)


def _objects(pdf: bytes) -> tuple[dict[int, int], list[bytes]]:
    """Where the body of every plain object begins, and the bodies of all objects inside object streams."""
    places: dict[int, int] = {}
    packed: list[bytes] = []
    at = 0
    while match := _OBJECT.search(pdf, at):
        at = match.end()
        places[int(match.group(1))] = at
        found = _stream(pdf, at)
        if found is not None:  # what an attached file says of objects is its own affair: go on behind it
            head, begin, at = found
            if b"/ObjStm" in head:
                packed.extend(_members(head, _decoded(head, pdf[begin:at])))
    return places, packed


def _members(head: bytes, content: bytes) -> list[bytes]:
    """The objects of an object stream: pairs of number and place first, then the bodies (ISO 32000-1, 7.5.7)."""
    count, first = _COUNT.search(head), _FIRST.search(head)
    if count is None or first is None:
        raise RecordError("the PDF is damaged: an object stream does not say what it holds")
    start = int(first.group(1))
    numbers = [int(n) for n in content[:start].split()[:2 * int(count.group(1))]]
    places = [start + n for n in numbers[1::2]] + [len(content)]
    return [content[a:b] for a, b in zip(places, places[1:], strict=False)]


def _text(body: bytes, key: bytes) -> bytes | None:
    """Raw string under a key of a dictionary: (literal) or <hex>."""
    match = re.search(re.escape(key) + rb"\s*([(<])(?!<)", body)
    if match is None:
        return None
    if match.group(1) == b"<":
        digits = re.sub(rb"\s", b"", body[match.end():body.index(b">", match.end())])
        return bytes.fromhex(digits.decode("ascii") + "0" * (len(digits) % 2))
    return _literal(body, match.end())


def _literal(body: bytes, at: int) -> bytes:
    found, depth = bytearray(), 1
    while at < len(body):
        character = body[at:at + 1]
        if character == b"\\":
            octal = re.match(rb"[0-7]{1,3}", body[at + 1:at + 4])
            if octal:
                found.append(int(octal.group(), 8) & 255)
                at += 1 + len(octal.group())
                continue
            following = body[at + 1:at + 2]
            found += _ESCAPES.get(following, following)
            at += 2
            continue
        depth += (character == b"(") - (character == b")")
        if depth == 0:
            break
        found += character
        at += 1
    return bytes(found)


def _name(body: bytes) -> str:
    raw = _text(body, b"/UF") or _text(body, b"/F") or b"attachment.bin"
    if raw.startswith(b"\xfe\xff"):
        return raw[2:].decode("utf-16-be", "replace")
    return raw.decode("utf-8", "replace")


def _specifications(pdf: bytes, places: dict[int, int], packed: list[bytes]) -> dict[int, str]:
    """Object number of every embedded stream, and the name of its file."""
    bodies = [pdf[at:pdf.find(b"endobj", at)] for at in places.values()] + packed
    found: dict[int, str] = {}
    for body in bodies:
        if b"/Filespec" in body and (match := _REFERENCE.search(body)):
            found.setdefault(int(match.group(1)), _name(body))
    return found


def creator(pdf: bytes) -> str:
    """The program that a PDF names as its creator; empty where it names none, or cannot be taken apart."""
    if not is_pdf(pdf):
        return ""
    try:
        places, packed = _objects(pdf)
        bodies = [pdf[at:pdf.find(b"endobj", at)] for at in places.values()] + packed
        raw = next((found for body in bodies if b"/Producer" in body and (found := _text(body, b"/Creator"))), b"")
    except ValueError:
        return ""  # one of another program may be written in ways that are not read here: then it is none of ours
    return raw.decode("latin-1")


def is_pdf(data: bytes) -> bool:
    """Whether some bytes begin as a PDF does."""
    return data[:1024].lstrip().startswith(b"%PDF-")


def unpack(pdf: bytes) -> list[tuple[str, bytes]]:
    """Name and content of every file attached inside a PDF record, in the order of their names.

    Raises RecordError with one clear line where the bytes are no PDF, or one this program cannot take apart.
    """
    if not is_pdf(pdf):
        raise RecordError("this is not a PDF")
    if b"/Encrypt" in pdf[-2048:]:
        raise RecordError("this PDF is encrypted; it is none that buildtrack wrote")
    places, packed = _objects(pdf)
    files = []
    for number, name in _specifications(pdf, places, packed).items():
        found = _stream(pdf, places[number]) if number in places else None
        if found is None:
            raise RecordError(f"the file {name} inside the PDF cannot be found: the PDF is damaged")
        head, begin, end = found
        files.append((name, _decoded(head, pdf[begin:end])))
    return sorted(files)
