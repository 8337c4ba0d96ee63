"""Rules of ISO 19005-3 (PDF/A-3b), written from memory: no copy of the standard and no validator was at hand.

Numbers in brackets are the clauses as remembered. Each rule is a sentence and a function that gives what breaks it.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from typing import Any

import pypdf
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject, NameObject, StreamObject

ACTIONS_FORBIDDEN = {"/Launch", "/Sound", "/Movie", "/ResetForm", "/ImportData", "/Hide", "/SetOCGState", "/Rendition",
                     "/Trans", "/GoTo3DView", "/JavaScript"}
BLENDS_KNOWN = {"/Normal", "/Compatible", "/Multiply", "/Screen", "/Overlay", "/Darken", "/Lighten", "/ColorDodge",
                "/ColorBurn", "/HardLight", "/SoftLight", "/Difference", "/Exclusion", "/Hue", "/Saturation", "/Color",
                "/Luminosity"}
RELATIONS = {"/Source", "/Data", "/Alternative", "/Supplement", "/EncryptedPayload", "/Unspecified"}
_FONT_FILES = ("/FontFile", "/FontFile2", "/FontFile3")


def objects(reader: pypdf.PdfReader) -> Iterator[Any]:
    """Every object of the file, and every dictionary and array inside one."""
    def inside(found: Any, depth: int = 0) -> Iterator[Any]:
        yield found
        if depth < 12 and isinstance(found, DictionaryObject):
            for value in found.values():
                if not isinstance(value, IndirectObject):
                    yield from inside(value, depth + 1)
        elif depth < 12 and isinstance(found, ArrayObject):
            for value in found:
                if not isinstance(value, IndirectObject):
                    yield from inside(value, depth + 1)

    for number in range(1, _count(reader)):
        found = reader.get_object(IndirectObject(number, 0, reader))
        if found is not None:
            yield from inside(found)


def _count(reader: pypdf.PdfReader) -> int:
    size: Any = reader.trailer["/Size"]
    return int(size)


def dictionaries(reader: pypdf.PdfReader) -> Iterator[DictionaryObject]:
    """Every dictionary of the file, those of streams too."""
    return (o for o in objects(reader) if isinstance(o, DictionaryObject))


def _root(reader: pypdf.PdfReader) -> Any:
    return reader.trailer["/Root"]


def header(pdf: bytes, _reader: pypdf.PdfReader) -> list[str]:
    """The header names PDF 1.n, and a comment of four bytes above 127 follows (6.1.2)."""
    second = pdf.split(b"\n", 2)[1]
    good = re.match(rb"%PDF-1\.[0-7]\r?\n", pdf) and second[:1] == b"%" and all(b > 127 for b in second[1:5])
    return [] if good else [f"{pdf[:20]!r}"]


def trailer(_pdf: bytes, reader: pypdf.PdfReader) -> list[str]:
    """The trailer holds an ID and no Encrypt (6.1.3)."""
    return [k for k, wrong in (("/ID", "/ID" not in reader.trailer), ("/Encrypt", "/Encrypt" in reader.trailer)) if wrong]


def intent(_pdf: bytes, reader: pypdf.PdfReader) -> list[str]:
    """There is an output intent of GTS_PDFA1 with a colour profile of as many channels as it says (6.2.3)."""
    intents = [i.get_object() for i in _root(reader).get("/OutputIntents", [])]
    good = [i for i in intents if i.get("/S") == "/GTS_PDFA1" and "/DestOutputProfile" in i]
    wrong = [] if good else ["no /GTS_PDFA1 output intent"]
    for profile in (i["/DestOutputProfile"].get_object() for i in good):
        data = profile.get_data()
        channels = {b"RGB ": 3, b"CMYK": 4, b"GRAY": 1}.get(data[16:20])
        if data[36:40] != b"acsp" or profile["/N"] != channels:
            wrong.append("the profile is none, or not of its channels")
    return wrong


def metadata(_pdf: bytes, reader: pypdf.PdfReader) -> list[str]:
    """XMP metadata say part 3 and conformance B, and agree with the information dictionary (6.6)."""
    if "/Metadata" not in _root(reader):
        return ["no XMP metadata"]
    stream = _root(reader)["/Metadata"].get_object()
    xmp = stream.get_data().decode("utf-8")
    told = {k: m.group(1) for k in ("part", "conformance") if (m := re.search(rf'pdfaid:{k}[>=]"?([^<"]+)', xmp))}
    wrong = [f"{k} {told.get(k)}" for k, v in (("part", "3"), ("conformance", "B")) if told.get(k) != v]
    title = str(reader.metadata.title) if reader.metadata and reader.metadata.title else ""
    return wrong + ([f"title {title!r} is not in it"] if title.replace("&", "&amp;").replace("<", "&lt;") not in xmp else [])


def fonts(_pdf: bytes, reader: pypdf.PdfReader) -> list[str]:
    """Every font program is embedded, and every font gives Unicode for what it shows (6.2.11)."""
    wrong = []
    for found in dictionaries(reader):
        if found.get("/Type") == "/FontDescriptor" and not any(k in found for k in _FONT_FILES):
            wrong.append(f"{found.get('/FontName')} is not embedded")
        if found.get("/Type") == "/Font" and found.get("/Subtype") == "/Type0" and "/ToUnicode" not in found:
            wrong.append(f"{found.get('/BaseFont')} has no ToUnicode")
        if found.get("/Subtype") == "/CIDFontType2" and "/CIDToGIDMap" not in found:
            wrong.append(f"{found.get('/BaseFont')} has no CIDToGIDMap")
    return wrong


def actions(_pdf: bytes, reader: pypdf.PdfReader) -> list[str]:
    """No JavaScript, no launching, no action that runs by itself (6.5)."""
    wrong = [str(d["/S"]) for d in dictionaries(reader) if d.get("/S") in ACTIONS_FORBIDDEN]
    wrong += [k for d in dictionaries(reader) for k in ("/AA", "/JS") if k in d]
    names = _root(reader).get("/Names")
    return wrong + (["/JavaScript"] if names is not None and "/JavaScript" in names.get_object() else [])


def attachments(_pdf: bytes, reader: pypdf.PdfReader) -> list[str]:
    """Every attached file has a relation, both names, a type, a date, and stands in an AF array (6.8)."""
    listed = {i.idnum for d in dictionaries(reader) for i in _af(d) if isinstance(i, IndirectObject)}
    wrong = []
    for number in range(1, _count(reader)):
        found: Any = reader.get_object(IndirectObject(number, 0, reader))
        if not isinstance(found, DictionaryObject) or found.get("/Type") != "/Filespec":
            continue
        held: Any = found["/EF"]
        stream = held["/F"].get_object()
        good = {"relation": found.get("/AFRelationship") in RELATIONS, "F": "/F" in found, "UF": "/UF" in found,
                "AF": number in listed, "subtype": isinstance(stream.get("/Subtype"), NameObject),
                "date": "/ModDate" in stream.get("/Params", {})}
        wrong += [f"{found.get('/UF')}: {k}" for k, is_so in good.items() if not is_so]
    return wrong


def _af(holder: DictionaryObject) -> list[Any]:
    listed = holder.get("/AF")
    listed = listed.get_object() if listed is not None else []
    return list(listed) if isinstance(listed, ArrayObject) else []


def streams(_pdf: bytes, reader: pypdf.PdfReader) -> list[str]:
    """No LZW, no stream kept in another file (6.1.7)."""
    wrong = []
    for found in (o for o in objects(reader) if isinstance(o, StreamObject)):
        if "/LZWDecode" in str(found.get("/Filter", "")):
            wrong.append("LZW")
        wrong += [k for k in ("/F", "/FFilter", "/FDecodeParms") if k in found and found.get("/Type") != "/Filespec"]
    return wrong


def drawing(_pdf: bytes, reader: pypdf.PdfReader) -> list[str]:
    """No PostScript, no alternate or interpolated images, known blend modes, no transfer curves (6.2)."""
    wrong = []
    for found in dictionaries(reader):
        if found.get("/Subtype") == "/PS" or found.get("/Subtype2") == "/PS":
            wrong.append("PostScript")
        if found.get("/Subtype") == "/Image":
            wrong += [k for k in ("/Alternates", "/OPI") if k in found]
            wrong += ["/Interpolate"] if str(found.get("/Interpolate", False)).lower() == "true" else []
        if "/BM" in found and str(found["/BM"]) not in BLENDS_KNOWN:
            wrong.append(str(found["/BM"]))
        wrong += ["/TR"] if "/TR" in found and found.get("/Type") == "/ExtGState" else []
    return wrong


def notes(_pdf: bytes, reader: pypdf.PdfReader) -> list[str]:
    """Annotations are of known kinds, printed, neither hidden nor invisible (6.3)."""
    wrong = []
    for page in reader.pages:
        for note in (a.get_object() for a in page.get("/Annots", [])):
            flags = int(note.get("/F", 0))
            if note.get("/Subtype") in ("/Sound", "/Movie", "/Screen", "/3D") or not flags & 4 or flags & 0b100011:
                wrong.append(f"{note.get('/Subtype')} flags {flags}")
    return wrong


RULES: tuple[Callable[[bytes, pypdf.PdfReader], list[str]], ...] = (
    header, trailer, intent, metadata, fonts, actions, attachments, streams, drawing, notes)


def broken(pdf: bytes) -> dict[str, list[str]]:
    """Rules that a file breaks, by their sentence."""
    reader = pypdf.PdfReader(io.BytesIO(pdf), strict=True)
    return {str(rule.__doc__): sorted(set(found)) for rule in RULES if (found := rule(pdf, reader))}
