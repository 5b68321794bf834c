"""The microphone and the loudspeaker of a machine, played by a module of the tests."""

import sys
import types

import numpy as np
import pytest

from sensors.errors import SourceUnavailable
from sensors.loudspeaker import Loudspeaker
from sensors.microphone import Input, Microphone, inputs
from sensors.tones import ToneFinder


class FakeStream:
    """Hands over prepared blocks when it starts, as PortAudio would from its own thread."""

    blocks: tuple[np.ndarray, ...] = ()
    closed = False

    def __init__(self, *, callback, samplerate, blocksize, channels, dtype, device) -> None:
        assert (channels, dtype) == (1, "float32")
        self.callback, self.active = callback, False

    def start(self) -> None:
        self.active = True
        for number, block in enumerate(self.blocks):
            self.callback(block[:, None], len(block), None, "overflow" if number == 1 else "")
        self.active = False

    def close(self) -> None:
        type(self).closed = True


@pytest.fixture
def sounddevice(monkeypatch) -> types.ModuleType:
    module = types.ModuleType("sounddevice")
    module.PortAudioError = type("PortAudioError", (Exception,), {})
    module.InputStream = FakeStream
    module.query_devices = lambda device, kind: {"default_samplerate": 48_000.0}
    monkeypatch.setitem(sys.modules, "sounddevice", module)
    return module


def test_the_microphone_gives_its_blocks_and_says_when_it_has_gone(sounddevice, monkeypatch):
    time = np.arange(96_000) / 48_000
    sound = (0.2 * np.sin(2 * np.pi * 233.1 * time)).astype(np.float32)
    monkeypatch.setattr(FakeStream, "blocks", tuple(np.split(sound, 10)))
    with Microphone() as microphone:
        finder = ToneFinder(microphone.rate, frames_at_once=8)
        blocks = iter(microphone)
        for _ in range(10):
            assert not list(finder.hear(next(blocks)))  # not before the tone has ended
        with pytest.raises(SourceUnavailable, match="the microphone has gone"):
            next(blocks)
        assert microphone.lost == 1
    assert FakeStream.closed
    (tone,) = finder.finish()
    assert tone.hertz == pytest.approx(233.1, abs=0.01)


def test_no_device_is_a_clear_message(sounddevice):
    def none(device, kind):
        raise sounddevice.PortAudioError("Error querying device -1")

    sounddevice.query_devices = none
    with pytest.raises(SourceUnavailable, match="there is no microphone to listen to"):
        Microphone().__enter__()
    with pytest.raises(SourceUnavailable, match="there is no microphone 'stage' to listen to"):
        Microphone("stage").__enter__()


def test_a_missing_package_is_a_clear_message(monkeypatch):
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(SourceUnavailable, match="needs the package sounddevice") as refusal:
        Microphone().__enter__()
    assert refusal.value.remedy == "pip install 'rehearsal-drift[microphone]'"


def test_a_missing_portaudio_is_a_clear_message(monkeypatch, tmp_path):
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.syspath_prepend(tmp_path)
    with pytest.raises(SourceUnavailable, match="finds no PortAudio: PortAudio library not found"):
        Microphone().__enter__()


def test_the_inputs_are_listed_with_the_default(sounddevice):
    devices = [
        {"name": "Built-in", "hostapi": 0, "max_input_channels": 2, "index": 0,
         "default_samplerate": 48_000.0},
        {"name": "Loudspeakers", "hostapi": 0, "max_input_channels": 0, "index": 1,
         "default_samplerate": 48_000.0},
        {"name": "USB", "hostapi": 0, "max_input_channels": 1, "index": 2,
         "default_samplerate": 44_100.0},
    ]  # fmt: skip
    sounddevice.query_hostapis = lambda: [{"name": "Core"}]
    sounddevice.query_devices = lambda device=None, kind=None: devices[2] if kind else devices
    assert inputs() == [Input("Built-in, Core", 48_000, False), Input("USB, Core", 44_100, True)]


def test_the_loudspeaker_plays_and_says_how_long_the_output_takes(sounddevice):
    played = []
    sounddevice.play = lambda samples, rate: played.append((samples.size, rate))
    sounddevice.get_stream = lambda: types.SimpleNamespace(latency=0.02)
    loudspeaker = Loudspeaker()
    assert loudspeaker.play(np.zeros(100, dtype=np.float32)) == 0.02
    assert played == [(100, 48_000.0)]


def test_no_loudspeaker_is_a_clear_message(sounddevice):
    def none(device, kind):
        raise sounddevice.PortAudioError("Error querying device -1")

    sounddevice.query_devices = none
    with pytest.raises(SourceUnavailable, match="there is no loudspeaker to play a test tone on"):
        Loudspeaker()
