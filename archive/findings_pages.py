"""The answers in which findings are taken away, the same for pages and API."""

from django.http import FileResponse, StreamingHttpResponse

from archive.findings_out import FORMS, annotated_csv, annotated_workbook, findings_file
from archive.models import Deposit

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def findings_answer(deposit: Deposit, form: str) -> StreamingHttpResponse:
    """Give every finding of the newest check, as CSV or as JSON."""
    kept, one = findings_file(deposit), FORMS[form]
    name = f"findings-{deposit.pk}-round-{deposit.round}.{form}"
    return StreamingHttpResponse(
        one.write(kept),
        content_type=f"{one.media}; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def annotated_table_answer(deposit: Deposit, table: str) -> StreamingHttpResponse:
    """Give one table as CSV with what was found beside its rows."""
    blocks = annotated_csv(deposit, table)
    name = f"annotated-{deposit.pk}-round-{deposit.round}.csv"
    return StreamingHttpResponse(
        blocks,
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def annotated_book_answer(deposit: Deposit) -> FileResponse:
    """Give the tables as one workbook with what was found beside their rows."""
    return FileResponse(
        annotated_workbook(deposit),
        as_attachment=True,
        filename=f"annotated-{deposit.pk}-round-{deposit.round}.xlsx",
        content_type=WORKBOOK,
    )
