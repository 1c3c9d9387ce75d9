"""The foreign files as they came, kept beside the readings that were taken from them."""

from __future__ import annotations

import contextlib
import hashlib
import shutil
from collections.abc import Iterator
from pathlib import Path

from logger.import_source import Source
from logger.mapping import Mapping
from logger.session_errors import reason_of
from logger.session_writer import SessionWriter

ORIGINAL = "original"


def keep_originals(
    writer: SessionWriter, sources: list[Source], folder: Path, mapping: Mapping
) -> Iterator[str]:
    """Copy the files beside the readings, as the map says, and note their digests."""
    taken: set[str] = set()
    for number, source in enumerate(sources, 1):
        path = source.table.path
        name = path.name if path.name not in taken else f"{number}-{path.name}"
        taken.add(name)
        try:
            with path.open("rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
            if mapping.keep != "mapped":
                (folder / ORIGINAL).mkdir(exist_ok=True)
                with contextlib.ExitStack() as stack:
                    stack.callback(_remove_part, folder / ORIGINAL / f"{name}.part")
                    shutil.copyfile(path, folder / ORIGINAL / f"{name}.part")
                    (folder / ORIGINAL / f"{name}.part").replace(folder / ORIGINAL / name)
            kept = f"kept as {ORIGINAL}/{name}" if mapping.keep != "mapped" else "not kept, as the map says"
            writer.note("original", source.name, f"{kept}; sha256 {digest}", from_us=0)
        except OSError as error:
            writer.note("original", source.name, f"could not be kept: {reason_of(error)}", from_us=0)
            yield f"{path} could not be copied into the session: {reason_of(error)}"


def _remove_part(path: Path) -> None:
    with contextlib.suppress(OSError):
        path.unlink(missing_ok=True)
