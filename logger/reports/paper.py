"""A page from its template, as HTML that needs no other file, or as PDF."""

from __future__ import annotations

import contextlib
import importlib
import importlib.metadata
import re
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

from jinja2 import Environment, PackageLoader, StrictUndefined

from logger.errors import CommandError, NotAvailableError

Paper = Literal["a4", "letter"]
TYPE_SIZES = (10.0, 9.0, 8.4)
"""Points; what must fit on one page is set in the first that does."""
PAGE_SIZE: dict[Paper, str] = {"a4": "A4", "letter": "letter"}
_KEPT = re.compile(r"(?<=[0-9]) (?=[^ 0-9a-z]|[a-zA-Z]{1,2}\b|[a-z]{1,3}\()| (?=±)|(?<=±) ")
PDF_WAY_OUT = (
    "A PDF needs the library weasyprint with Pango: install evenrun[pdf], or write --out FILE.html and print "
    "it from a browser."
)


def together(text: str) -> str:
    r"""Keep numbers and what belongs to them on one line.

    Examples
    --------
    >>> together("11.1 kW ± 0.8 kW and more")
    '11.1\xa0kW\xa0±\xa00.8\xa0kW and more'
    """
    return _KEPT.sub("\N{NO-BREAK SPACE}", text)


def page_of(
    template: str, facts: Mapping[str, object], paper: Paper, *, type_size: float = TYPE_SIZES[0]
) -> str:
    """Fill a template; every text is escaped."""
    environment = Environment(
        loader=PackageLoader("logger.reports"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    return environment.get_template(template).render(**facts, page_size=PAGE_SIZE[paper], type_size=type_size)


def made_by(written_us: int) -> dict[str, str]:
    """Say which program wrote a page, and when."""
    return {
        "software": f"evenrun {importlib.metadata.version('evenrun')}",
        "written": datetime.fromtimestamp(written_us / 1e6, UTC).strftime("%Y-%m-%d %H:%M UTC"),
    }


def pdf_of(html: str) -> tuple[bytes, int]:
    """Set a page as PDF; gives it with its number of pages.

    Raises
    ------
    CommandError
        If the library or Pango is not installed.
    """
    try:
        weasyprint = importlib.import_module("weasyprint")
    except (ImportError, OSError):  # OSError: the library is there, Pango is not
        raise CommandError(PDF_WAY_OUT) from None
    fetcher = weasyprint.URLFetcher(allowed_protocols=["data"])  # pages hold everything; nothing is fetched
    document = weasyprint.HTML(string=html, url_fetcher=fetcher).render()
    content: bytes = document.write_pdf(pdf_tags=True)
    return content, len(document.pages)


def write_page(out: Path, content: bytes) -> None:
    """Write beside and move into place, so that an older page is never left half overwritten.

    Raises
    ------
    NotAvailableError
        If the disk refuses.
    """
    part = out.with_name(f".{out.name}.part")
    try:
        part.write_bytes(content)
        part.replace(out)
    except OSError as error:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise NotAvailableError(f"The page {out} cannot be written: {error.strerror}.") from None
