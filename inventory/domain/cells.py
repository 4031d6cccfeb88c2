"""Cells of CSV files that people open in a spreadsheet, which reckons every text that begins like a formula.

Such text gets an apostrophe in front (OWASP, "CSV injection"; from memory). Where a file is read again, text that
begins with an apostrophe of its own gets one more, so that taking one away gives exactly what was there.
"""

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")  # noqa: RUF001 - wide ones count too
MARK = "'"


def harmless(cell: str) -> str:
    """A text cell that no spreadsheet takes for a formula; for files that are only read by people."""
    return f"{MARK}{cell}" if cell.lstrip(" ").startswith(FORMULA_SIGNS) else cell


def marked(cell: str) -> str:
    """The same for files that are read again: `unmarked` gives the text back."""
    return f"{MARK}{cell}" if cell.startswith(MARK) else harmless(cell)


def unmarked(cell: str) -> str:
    """The text of a cell that `marked` wrote."""
    return cell.removeprefix(MARK)
