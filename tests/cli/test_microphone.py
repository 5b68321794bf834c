"""drift microphone: choose one, measure how late it hears, and have both remembered."""

import json

import jsonschema
import pytest

from drift.cli.chosen_microphone import place
from drift.cli.options import microphone_of
from sensors.errors import SourceUnavailable
from sensors.microphone import Input
from tests.cli.test_schemas import schema
from tests.studio import Studio

FOUND = [Input("Built-in, Core", 48_000.0, True), Input("USB audio, Core", 44_100.0, False)]


@pytest.fixture
def studio(monkeypatch, tmp_path):
    """Put a computer in a room whose delay is 130 ms, with settings of its own."""
    studio = Studio(delay_s=0.13)

    def opened(device=None, *, delay_s=0.0):
        if device == "gone":
            raise SourceUnavailable("there is no microphone 'gone' to listen to", "plug one in")
        return studio.open()

    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    monkeypatch.setattr("sensors.microphone.inputs", lambda: FOUND)
    monkeypatch.setattr("sensors.microphone.Microphone", opened)
    monkeypatch.setattr("sensors.loudspeaker.Loudspeaker", lambda: studio)
    monkeypatch.setattr("sensors.clocks.SystemClock", lambda: studio)
    return studio


def test_without_arguments_the_inputs_are_listed(drift, studio):
    assert drift("microphone") == (
        0,
        "  Built-in, Core   48000 Hz  the system's default\n  USB audio, Core  44100 Hz\n",
        "",
    )
    assert not place().exists(), "looking changes nothing"


def test_a_choice_and_its_delay_are_remembered(drift, studio):
    status, out, err = drift("microphone", "usb", "--test-tone")
    assert (status, err) == (0, "")
    assert out.splitlines()[1:] == [
        "  USB audio, Core  44100 Hz  chosen",
        "The test tone was heard 130 ms after it was sent, within 0 ms each time.",
        "Its note of 440 Hz was heard at +0.00 cents.",
        f"remembered in {place()}",
    ]
    assert json.loads(place().read_text()) == {"device": "usb", "delay_s": 0.13}
    out = drift("microphone")[1]
    assert out.splitlines()[-1] == "times of readings are corrected by 130 ms"
    drift("microphone", "default")
    assert json.loads(place().read_text()) == {"device": "", "delay_s": 0.0}


def test_the_answer_in_json_is_what_its_schema_says(drift, studio):
    plain = json.loads(drift("microphone", "--json")[1])
    measured = json.loads(drift("microphone", "--test-tone", "--json")[1])
    for answer in (plain, measured):
        jsonschema.validate(answer, schema("microphone"))
    assert plain["measured"] is None
    assert measured["delay_s"] == pytest.approx(0.13, abs=0.001)


def test_what_cannot_be_opened_or_heard_is_not_remembered(drift, studio):
    assert drift("microphone", "gone")[0] == 1
    studio.level = 0.0
    status, _, err = drift("microphone", "usb", "--test-tone")
    assert status == 1
    assert err.startswith("drift microphone: the test tone was not heard\n")
    assert not place().exists()


def listening_with(device):
    return microphone_of(type("Options", (), {"microphone": device}))


def test_listening_uses_what_was_chosen_and_another_that_is_named(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert (listening_with("").device, listening_with("").delay_s) == (None, 0.0)
    place().parent.mkdir()
    place().write_text('{"device": "USB audio", "delay_s": 0.21}')
    chosen, other = listening_with(""), listening_with("stage")
    assert (chosen.device, chosen.delay_s) == ("USB audio", 0.21)
    assert (other.device, other.delay_s) == ("stage", 0.0), "the delay is of the chosen one"
    assert listening_with("USB audio").delay_s == 0.21
    assert listening_with("3").device == 3


SPOILT = [
    "",
    "{",
    "[]",
    '{"device": "x"}',
    '{"device": "", "delay_s": 1e9}',
    '{"device": "", "delay_s": NaN}',
]


@pytest.mark.parametrize("text", SPOILT)
def test_a_file_that_was_spoilt_is_refused_with_its_name(drift, studio, text):
    place().parent.mkdir(parents=True)
    place().write_text(text)
    status, _, err = drift("microphone")
    assert status == 1
    assert str(place()) in err
    assert drift("microphone", "default")[0] == 0, "choosing again mends it"


def test_where_it_is_kept_follows_the_system(monkeypatch, tmp_path):
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    monkeypatch.delenv("APPDATA", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    assert place() == tmp_path / ".config" / "rehearsal-drift" / "microphone.json"
    monkeypatch.setenv("APPDATA", str(tmp_path / "roaming"))
    assert place().parent.parent == tmp_path / "roaming"
