"""What the documents show is what the commands print."""

import pytest

from tests.consoles import ROOT, Sessions, agrees, blocks_of, written_anew

FIRST = [ROOT / "README.md"]
LATER = sorted(set((ROOT / "docs").rglob("*.md")) - set(FIRST))  # run where pages are built


def shown_in(pages):
    """Keep the pages that show what a command prints."""
    texts = ((page, page.read_text(encoding="utf-8")) for page in pages)
    return [page for page, text in texts if any(b.why_not is None for b in blocks_of(text))]


PAGES = [
    *(pytest.param(page, id=page.stem) for page in shown_in(FIRST)),
    *(pytest.param(page, id=page.stem, marks=pytest.mark.slow) for page in shown_in(LATER)),
]

PAGE = """
```console
$ echo one; \\
      echo two
one
two
$ echo three
...ee
```

<!-- not run: it needs a serial port -->
```
$ false
```

```pycon
>>> there = 40
>>> def there_and(more):
...     return there + more
>>> there_and(2)
42
```
"""


def test_a_block_is_read_as_a_reader_reads_it():
    first, second, third = blocks_of(PAGE)
    assert [step.command for step in first.steps] == ["echo one; \\\n      echo two", "echo three"]
    assert first.steps[0].shown == "one\ntwo\n"
    assert second.why_not == "it needs a serial port"
    assert third.is_python
    assert third.steps[2] == ("there_and(2)", "42\n")


def test_what_is_left_out_agrees_and_what_is_wrong_does_not():
    assert agrees("one\n...\nfour\n", "one\ntwo\nthree\nfour\n")
    assert agrees("", "\n")
    assert not agrees("one\n", "two\n")


def test_the_size_of_a_file_may_differ_by_a_fiftieth():
    assert agrees("wrote it (1752 KiB): all\n", "wrote it (1755 KiB): all\n")
    assert not agrees("wrote it (1752 KiB): all\n", "wrote it (1799 KiB): all\n")
    assert not agrees("wrote it (1752 KiB): all\n", "wrote it (1752 KiB): none\n")
    assert not agrees("wrote 1752\n", "wrote 1755\n")


def test_a_page_is_written_anew_where_it_differs():
    assert written_anew(PAGE) == PAGE
    assert written_anew(PAGE.replace("two\n$", "2\n$").replace("42", "41")) == PAGE


@pytest.mark.parametrize("page", PAGES)
def test_what_a_page_shows_is_what_it_prints(page, tmp_path):
    sessions = Sessions(tmp_path)
    for block in blocks_of(page.read_text(encoding="utf-8")):
        for command, shown in block.steps if block.why_not is None else ():
            printed = sessions.printed_by(command, is_python=block.is_python)
            assert agrees(shown, printed), f"$ {command}\n{printed}"
