"""Lists as files for a spreadsheet program: CSV sent while it is read, XLSX written row by row.

What a person typed stays text: a cell that such a program would take for a formula begins with an apostrophe.
"""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from typing import Any

from django.http import FileResponse, HttpRequest, HttpResponseBase, StreamingHttpResponse
from django.utils import timezone
from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

from plant.models import AuditEntry, Site
from plant.recording import recording
from plant.refusals import Missing
from plant.services.audit import noted

CSV, XLSX = "csv", "xlsx"
FORMS = (CSV, XLSX)
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
# A spreadsheet program reads these at the start of a text as the start of a formula (OWASP, "CSV Injection").
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def safe_cell(value: Any) -> Any:
    """A value as it may stand in a cell: numbers and dates as they are, text without what it could set off."""
    if value is None:
        return ""
    if isinstance(value, bool) or not isinstance(value, int | float | date):
        text = ILLEGAL_CHARACTERS_RE.sub("", str(value))
        return "'" + text if text.startswith(_FORMULA) else text
    return value


def exported(
    request: HttpRequest,
    form: str,
    name: str,
    heads: Sequence[str],
    rows: Iterable[Sequence[Any]],
    *,
    site: Site | None,
    note: str,
) -> HttpResponseBase:
    """The rows as a file of that form, written down in the audit before the first of them leaves."""
    if form not in FORMS:
        raise Missing()
    with recording(by=request.user, at=timezone.now()):  # type: ignore[arg-type]
        noted(AuditEntry.Kind.EXPORT, site=site, note=f"{note}, {form}", address=request.META.get("REMOTE_ADDR"))
    if form == CSV:
        answer: HttpResponseBase = StreamingHttpResponse(_lines(heads, rows), content_type="text/csv; charset=utf-8")
        answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    else:
        answer = FileResponse(
            _workbook(name, heads, rows), as_attachment=True, filename=f"{name}.xlsx", content_type=XLSX_TYPE
        )
    answer["Cache-Control"] = "no-store"
    return answer


class _Echo:
    """What csv writes to: gives back the line instead of keeping it."""

    def write(self, line: str) -> str:
        return line


def _lines(heads: Sequence[str], rows: Iterable[Sequence[Any]]) -> Iterator[bytes]:
    writer: Any = csv.writer(_Echo())
    # The mark at the start is how spreadsheet programs tell UTF-8 from their own code pages.
    yield ("\ufeff" + writer.writerow([safe_cell(head) for head in heads])).encode()
    for row in rows:
        yield writer.writerow([safe_cell(one) for one in row]).encode()


def _workbook(name: str, heads: Sequence[str], rows: Iterable[Sequence[Any]]) -> Any:
    book = Workbook(write_only=True)
    sheet = book.create_sheet(name[:31])
    sheet.freeze_panes = "A2"
    sheet.append([safe_cell(head) for head in heads])
    for row in rows:
        sheet.append([_plain(safe_cell(one)) for one in row])
    file = io.BytesIO()
    book.save(file)
    file.seek(0)
    return file


def _plain(value: Any) -> Any:
    # A workbook knows no time zones.
    return value.replace(tzinfo=None) if isinstance(value, datetime) else value
