"""`python -m tests.samples.screenshots FOLDER` draws the pictures of the README from the program itself."""

from __future__ import annotations

import asyncio
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from buildtrack.bench.app import BuildtrackApp
from buildtrack.bench.surroundings import Surroundings
from buildtrack.console.common import load
from buildtrack.record.pdf import make_record
from buildtrack.storage.places import shipped_samples

SAMPLE = "garden-screwdriver-cleared"


async def bench(path: Path, target: Path) -> None:
    """The bench at 120 x 40 on the finished sample, at the step where the load is measured."""
    app = BuildtrackApp(Surroundings(), path)
    async with app.run_test(size=(120, 40)) as pilot:
        for _ in range(200):
            await pilot.pause(0.05)
            if "Opening" not in app.export_screenshot():
                break
        await pilot.press("g", "3", "enter")
        await pilot.pause(0.5)
        drawn = app.export_screenshot(title="buildtrack")
        # a picture in a README asks nobody else for a font
        target.write_text(re.sub(r"@font-face \{.*?\}\s*", "", drawn, flags=re.DOTALL), encoding="utf-8")


def record_page(path: Path, target: Path) -> None:
    """First page of the record, as pdftoppm draws it."""
    with tempfile.TemporaryDirectory() as folder:
        pdf = make_record(load(path), path.read_bytes(), Path(folder) / "record.pdf")
        subprocess.run(["pdftoppm", "-r", "70", "-png", "-f", "1", "-l", "1", "-singlefile", str(pdf),
                        str(target.with_suffix(""))], check=True)


def main(folder: Path) -> None:
    """Draw both pictures into `folder`."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as copies:
        for path in shipped_samples().glob(f"{SAMPLE}*"):
            (shutil.copytree if path.is_dir() else shutil.copyfile)(path, Path(copies) / path.name)
        own = Path(copies) / f"{SAMPLE}.toml"
        asyncio.run(bench(own, folder / "bench.svg"))
        record_page(own, folder / "record-page-1.png")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
