"""Times decoded many at once are those that the scalar rule takes, and no others."""

from hypothesis import given, settings
from hypothesis import strategies as st

from drift.errors import DriftError
from drift.tables.columns import Packed
from drift.tables.stamps import decoded
from drift.times import parse_time, to_microseconds

digits = st.text("0123456789", min_size=1, max_size=8)


@st.composite
def stamps(draw: st.DrawFn) -> str:
    """Return a time as it might be written, often just beyond what can be."""
    year = draw(st.sampled_from([0, 1, 1799, 1800, 1900, 2000, 2024, 2026, 2199, 2200, 9999]))
    month, day = draw(st.integers(0, 13)), draw(st.integers(0, 32))
    clock = [draw(st.integers(0, top)) for top in (24, 60, 60)]
    text = f"{year:04d}-{month:02d}-{day:02d}{draw(st.sampled_from('Tt _'))}"
    text += ":".join(f"{part:02d}" for part in clock)
    text += draw(st.just("") | digits.map(lambda fraction: "." + fraction))
    sign = draw(st.sampled_from("+-"))
    offset = f"{sign}{draw(st.integers(0, 25)):02d}:{draw(st.integers(0, 61)):02d}"
    text += draw(st.sampled_from(["Z", "z", "", "+0200", "+02:75", "+24:00", offset]))
    if draw(st.integers(0, 4)) == 0:
        at = draw(st.integers(0, len(text) - 1))
        text = text[:at] + draw(st.sampled_from(list("0:-+T.Z x\u0663é"))) + text[at + 1 :]
    return text


def scalar(text: str) -> int | None:
    try:
        return to_microseconds(parse_time(text))
    except DriftError:
        return None


@settings(max_examples=200)
@given(st.lists(stamps() | st.text(max_size=30), max_size=30))
def test_the_vectorised_times_are_those_of_the_scalar_rule(texts):
    micros, taken = decoded(Packed.of(texts))
    found = [int(m) if t else None for m, t in zip(micros, taken, strict=True)]
    assert found == [scalar(text) for text in texts]


@settings(max_examples=300)
@given(stamps().map(lambda text: text.removesuffix("z").removesuffix("Z") + "Z"))
def test_so_are_those_that_arrow_reads(text):
    """A file of times in UTC is given to Arrow as a whole."""
    micros, taken = decoded(Packed.of([text]))
    assert (int(micros[0]) if taken[0] else None) == scalar(text)


def test_a_whole_file_in_utc_is_read_and_one_spoiled_time_refuses_only_itself():
    texts = [f"2026-10-03T19:{minute:02d}:00.125Z" for minute in range(60)]
    micros, taken = decoded(Packed.of(texts))
    assert taken.all()
    assert micros.tolist() == [scalar(text) for text in texts]
    texts[7] = "2026-02-30T19:07:00.125Z"
    micros, taken = decoded(Packed.of(texts))
    assert taken.tolist() == [row != 7 for row in range(60)]
