"""What may stand in a name or remark, and what is shown of what may not."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drift.errors import InputError
from drift.texts import check_text, harmless, unfit


@pytest.mark.parametrize(
    "text",
    ["Rowan Oak", "Zoë", "Ægir", "♭ and ♯", "木村", "שרה", "سارة", "🎺", "☀️", "no\u00a0break"],
)
def test_names_in_any_script_may_stand(text):
    assert check_text(text, "player") == text
    assert harmless(text) == text


@pytest.mark.parametrize(
    ("letter", "why"),
    [
        ("\x00", "null"),
        ("\t", "tab"),
        ("\n", "line end"),
        ("\x1b", "escape, begins what a terminal obeys"),
        ("\x7f", "delete"),
        ("\x9b", "the escape sequence in one byte"),
        ("\u202e", "right-to-left override"),
        ("\u2066", "left-to-right isolate"),
        ("\u200b", "zero width space"),
        ("\u200d", "zero width joiner"),
        ("\ufeff", "zero width no-break space"),
        ("\u00ad", "soft hyphen"),
        ("\U000e0041", "tag character"),
        ("\u2028", "line separator"),
        ("\ud800", "half a character"),
        ("\udce4", "a byte that is not text"),
        ("\ue000", "private use"),
        ("\uffff", "noncharacter"),
        ("\u3164", "Hangul filler: a letter of which nothing is seen"),
        ("\u2800", "blank Braille pattern"),
    ],
)
def test_what_may_not_stand(letter, why):
    with pytest.raises(InputError, match=rf"^player .* has the character U\+{ord(letter):04X}"):
        check_text(f"Row{letter}an", "player")
    assert unfit(f"Row{letter}an") == letter, why


@pytest.mark.parametrize("text", ["", " ", "\u00a0", "\u2003 "])
def test_blank_is_not_a_name(text):
    with pytest.raises(InputError, match=r"^player .* is blank\n"):
        check_text(text, "player")


def test_a_refusal_is_itself_harmless_and_short():
    with pytest.raises(InputError, match="remark") as refusal:
        check_text("\x1b]52;c;" + "A" * 10_000 + "\ud800", "remark")
    assert str(refusal.value).replace("\n", "").isascii()
    assert str(refusal.value).replace("\n", "").isprintable()
    assert len(refusal.value.problem) < 200


def test_what_could_drive_a_terminal_is_spelled_out():
    # OSC 52 puts text into the clipboard of whoever looks at it.
    assert harmless("a\x1b]52;c;AA==\x07\r\n\tb") == "a\\x1b]52;c;AA==\\x07\\r\n\tb"
    assert harmless("\u202e\ud800") == "\\u202e\\ud800"


@given(st.text(st.characters(), max_size=40))
def test_nothing_harmful_is_left(text):
    shown = harmless(text)
    assert shown.encode("utf-8").decode("utf-8") == shown
    left = {letter for letter in shown if unicodedata.category(letter) in {"Cc", "Cf", "Cs", "Co"}}
    assert left <= {"\n", "\t"}
    assert harmless(shown) == shown
