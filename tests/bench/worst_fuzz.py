"""The build files and checklists that take longest: of each bad kind the largest one that is still read.

`python -m tests.bench.worst_fuzz` prints how long each takes to read and to write back with another title, and the most
memory. Nothing may take over 2 s to read on an idle machine; what is larger is refused before it is parsed.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable
from dataclasses import replace

from buildtrack.storage import toml_guard
from buildtrack.storage.build_file import open_text
from buildtrack.storage.checklist_file import ChecklistError, parse_checklist
from buildtrack.storage.write import rewrite

HEAD = 'format = 1\nid = "b"\ntitle = "t"\n'
END = '\n[checklist]\nid = "small"\n'
PARTS = ".".join("a" * (toml_guard.MOST_PARTS - 2))

KINDS: dict[str, tuple[str, str, str]] = {
    "numbers in a list": (HEAD + "x = [", "1,", "]" + END),
    "a number a line": (HEAD + "x = [", "1,\n", "]" + END),
    "remarks in a list": (HEAD + "x = [", "#\n", "]" + END),
    "lists, as deep as may be": (HEAD + "x = [", "[" * 38 + "]" * 38 + ",", "]" + END),
    "tables in a line, as deep as may be": (HEAD + "x = [", "{a=" * 38 + "1" + "}" * 38 + ",", "]" + END),
    "dates": (HEAD + "x = [", "2026-01-01T00:00:00Z,", "]" + END),
    "texts": (HEAD + "x = [", "'',", "]" + END),
    "keys": (HEAD, "k%d=1\n", END),
    "dotted keys of one table": (HEAD, PARTS + ".k%d=1\n", END),
    "dotted keys of many tables": (HEAD, "k%d." + PARTS + "=1\n", END),
    "dotted keys in a line": (HEAD + "x = {", "k%d." + PARTS + "=1,", "z=1}" + END),
    "tables": (HEAD + END, "[t%d]\n", ""),
    "tables in quotes": (HEAD + END, '["t%d"]\n', ""),
    "dotted tables": (HEAD + END, "[t%d." + PARTS + "]\n", ""),
    "dotted tables with dotted keys": (HEAD + END, "[t%d." + PARTS + "]\n" + PARTS + "=1\n", ""),
    "lists of tables": (HEAD + END, "[[t]]\n[t.u]\n", ""),
    "one long text": (HEAD + 'x = "', "x", '"' + END),
    "escapes": (HEAD + 'x = "', "\\n", '"' + END),
    "quotes in a long text": (HEAD + 'x = """', '""x', '"""' + END),
    "digits": (HEAD + "x = 1.", "9", END),
    "hexadecimal digits": (HEAD + "x = 0x", "f", END),
    "a text that is not closed": (HEAD + 'x = "', '\\"', "." * 70),
    "quotes that are not closed": (HEAD + "." * 70, "'\"", ""),
    "a long key behind a text of two lines": (HEAD + 'x = {a = """\n \' """, ', "b.", "c = 1, d = ' '}\n" + END),
    "history": (HEAD + END, '[[history]]\nwhat="a"\n', ""),
    "accepted cautions of one check": (HEAD + END, '[[waivers]]\ncheck="a"\n', ""),
    "accepted cautions, each with a key of its own": (HEAD + END, '[[waivers]]\ncheck="a"\nk%d=1\n', ""),
    "rows": (HEAD + END, '[[steps.a.b]]\nid="%d"\n', ""),
    "columns of a row": (HEAD + END + '[[steps.a.b]]\nid="x"\n', 'k%d=""\n', ""),
    "readings": (HEAD + END, '[[steps.a.b.readings]]\ntext=""\n', ""),
    "items": (HEAD + END, "[steps.a.i%d]\n", ""),
    "a mistake at the end": (HEAD + END, '[steps.a."%d"]\n', "[[history]]\n"),
    "limits of a checklist": (HEAD + 'version = "1"\npurpose = "p"\n', "[policy.p%d]\n", ""),
    "items of a checklist": (HEAD + 'version = "1"\n[[steps]]\nid="s"\n', '[[steps.items]]\nid="i%d"\n', ""),
    "options of a checklist": (HEAD + '[[steps]]\nid="s"\n[[steps.items]]\nid="i"\nkind="choice"\noptions = [',
                               '["a","b"],', "]\n"),
    "checks of a checklist": (HEAD, '[[checks]]\nid="c"\n', ""),
    "columns of a checklist": (HEAD + '[[steps]]\nid="s"\n[[steps.items]]\nid="i"\nkind="table"\n',
                               '[[steps.items.columns]]\nid="c%d"\n', ""),
    "conditions of a checklist": (HEAD + '[[steps]]\nid="s"\n[[steps.items]]\nid="i"\nonly_if = [',
                                  '{item="i",is=["a"]},', "]\n"),
    "steps of a checklist": (HEAD, '[[steps]]\nid="s%d"\n', ""),
    "workings of a checklist": (HEAD + '[[steps]]\nid="s"\nworkings = [', '"w%d",', "]\n"),
    "answers by the kind of a checklist": (HEAD + "[fixed]\n", 'k%d="a"\n', ""),
    "changes of a checklist": (HEAD, '[change.c%d]\nlabel="a"\n', ""),
    "included items of a checklist": (HEAD + '[[steps]]\nid="s"\n', '[[steps.items]]\ninclude="shared/wire.toml"\n', ""),
    "included steps of a checklist": (HEAD, '[[steps]]\ninclude="shared/wire.toml"\n', ""),
}


CHECKLIST = "of a checklist"


def text_of(kind: str, size: int) -> str:
    """A text of that kind of about so many characters."""
    head, unit, end = KINDS[kind]
    parts, length, number = [head], len(head) + len(end), 0
    while length < size:
        parts.append(unit.replace("%d", str(number)))
        length, number = length + len(parts[-1]), number + 1
    return "".join([*parts, end])


def is_too_much(kind: str, text: str) -> bool:
    """Whether the guard refuses a text of that kind for how much it holds (not for one key that is too long)."""
    most_tables = toml_guard.MOST_TABLES_OF_A_CHECKLIST if kind.endswith(CHECKLIST) else toml_guard.MOST_TABLES
    try:
        toml_guard.refuse_much(text, most_tables)
        toml_guard.refuse_words(text)
    except toml_guard.Refused as refused:
        return refused.line == 0 or "characters" in str(refused)
    return False


def largest(kind: str) -> str:
    """The largest text of that kind that the guard lets pass, to one part in fifty (or the largest of all)."""
    good, bad = 100, toml_guard.LARGEST - 200
    if not is_too_much(kind, text := text_of(kind, bad)):
        return text
    while bad - good > good // 50:
        size = (good + bad) // 2
        if is_too_much(kind, text_of(kind, size)):
            bad = size
        else:
            good = size
    return text_of(kind, good)


def timed(work: Callable[[], object]) -> tuple[float, str]:
    """Time of the processor [s], and what was said where it was refused."""
    began = time.process_time()
    try:
        work()
    except ChecklistError as error:
        said = f"{len(error.problems)} problems, first {error.problems[0]}"
    except ValueError as error:
        said = str(error)
    else:
        said = ""
    return time.process_time() - began, said


def main(kinds: list[str]) -> int:
    """Print the table; how long the slowest reading took decides what is returned."""
    slowest = 0.0
    for kind in kinds or KINDS:
        text = largest(kind)
        if kind.endswith(CHECKLIST):
            read_s, said = timed(lambda text=text: parse_checklist(text))  # type: ignore[misc]
            write_s = 0.0
        else:
            read_s, said = timed(lambda text=text: open_text(text))  # type: ignore[misc]
            opened = None if said else open_text(text)
            write_s = timed(lambda opened=opened: rewrite(  # type: ignore[misc]
                replace(opened.build, title="changed", snapshot={"a": 1}), None, opened))[0] if opened else 0.0
        slowest = max(slowest, read_s)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        print(f"{kind:48} {len(text):8} characters  read {read_s:5.2f} s  write {write_s:5.2f} s  {peak:4} MB  "
              f"{said[:60]}", flush=True)
    print(f"slowest to read: {slowest:.2f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
