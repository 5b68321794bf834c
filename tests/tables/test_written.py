"""A table written by hand: lines with their numbers, comments apart, from CSV or a spreadsheet."""

import openpyxl
import pytest

from drift.tables.problems import TablesRefused
from drift.tables.written import written_lines


def lines(path):
    return [(str(line.place), line.cells) for line in written_lines(path).lines]


def test_lines_keep_their_numbers_and_comments_are_apart(tmp_path):
    path = tmp_path / "t.csv"
    path.write_bytes(b'# date 2026-10-16\n\na;b\n1;"x\ny"\n ; \n2;#1 trumpets\n')
    written = written_lines(path)
    assert written.comments == ("date 2026-10-16",)
    assert lines(path) == [
        ("t.csv line 3", ["a", "b"]),
        ("t.csv line 5", ["1", "x\ny"]),
        ("t.csv line 7", ["2", "#1 trumpets"]),
    ]


def test_a_spreadsheet_names_rows_and_the_sheet_where_there_are_several(tmp_path):
    book = openpyxl.Workbook()
    book.active.append(["a", "b"])
    book.active.append([1, None])
    book.save(tmp_path / "one.xlsx")
    assert lines(tmp_path / "one.xlsx")[1] == ("one.xlsx row 2", ["1", ""])
    book.create_sheet("more")
    book.save(tmp_path / "two.xlsx")
    assert lines(tmp_path / "two.xlsx")[0][0] == "two.xlsx sheet 'Sheet' row 1"


@pytest.mark.parametrize(
    ("content", "problem"),
    [
        (b"a\n\xb0\n", "t.csv line 2: it is not UTF-8: byte 0xb0"),
        (b'a\n"x', "t.csv line 2: unexpected end of data"),
    ],
)
def test_what_cannot_be_split_is_refused_with_its_line(tmp_path, content, problem):
    path = tmp_path / "t.csv"
    path.write_bytes(content)
    with pytest.raises(TablesRefused, match=problem):
        written_lines(path)
