"""Addresses of thermometers, as they are written in the README and mistyped by users."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensors.addresses import open_source, split
from sensors.errors import AddressError
from sensors.manual import Manual
from sensors.modbus import Modbus, Register
from sensors.onewire import OneWire
from sensors.replay import Replay
from sensors.response import Slow
from sensors.serial_line import SerialLine
from sensors.simulated import Simulated


@pytest.mark.parametrize(
    ("address", "kind", "name"),
    [
        ("serial:/dev/ttyUSB0", SerialLine, "/dev/ttyUSB0"),
        ("serial:COM3?baud=4800&name=stage", SerialLine, "stage"),
        ("serial:socket://thermometer.local:7000", SerialLine, "socket://thermometer.local:7000"),
        (
            "modbus:/dev/ttyUSB0?unit=3&function=4&register=1&scale=0.1",
            Modbus,
            "/dev/ttyUSB0 unit 3",
        ),
        ("onewire:/sys/bus/w1/devices/28-01/w1_slave", OneWire, "28-01"),
        ("replay:spring/temperatures.csv?speed=60", Replay, "temperatures"),
        ("replay:C:\\band\\t.csv", Replay, None),
        ("simulated:", Simulated, "simulated"),
        ("simulated:?seed=1&name=hall", Simulated, "hall"),
        ("manual:wall", Manual, "wall"),
        ("simulated:?response_minutes=2", Slow, "simulated"),
    ],
)
def test_every_kind_of_address(address, kind, name, clock):
    source = open_source(address, clock=clock)
    assert type(source) is kind
    assert name in (None, source.name)


def test_the_name_of_the_address_goes_before_that_of_the_caller(clock):
    assert open_source("simulated:", clock=clock, name="case").name == "case"
    assert open_source("simulated:?name=stage", clock=clock, name="case").name == "stage"


def test_options_arrive_where_they_belong(clock):
    line = open_source("serial:COM3?query=MEAS:TEMP?&poll=5&silence=20&dialect=plain", clock=clock)
    assert (line.query, line.poll_seconds, line.dialect.name) == ("MEAS:TEMP?", 5.0, "plain")
    modbus = open_source(
        "modbus:COM3?unit=7&function=3&register=12&type=float32&order=little-swap&scale=1&offset=-2",
        clock=clock,
    )
    assert modbus.unit == 7
    assert modbus.register == Register(12, 3, "float32", "little-swap", 1.0, -2.0)
    replay = open_source("replay:t.csv?speed=inf&times=recorded&source=case", clock=clock)
    assert (replay.speed, replay.recorded_times, replay.only) == (math.inf, True, "case")
    room = open_source("simulated:?seed=4&celsius=-5&rise=-2&minutes=9&every=0.5", clock=clock)
    assert (room.seed, room.celsius, room.rise, room.minutes, room.every) == (4, -5, -2, 9, 0.5)


def test_a_unit_in_words_and_a_pattern_with_its_signs(clock):
    line = open_source("serial:COM3?unit=Fahrenheit&pattern=T(?P<temperature>[^ ]+)", clock=clock)
    assert line.dialect("T70.7").celsius == pytest.approx(21.5)
    encoded = open_source(r"serial:COM3?pattern=a%26b+(\d+)", clock=clock)
    assert encoded.dialect("a&bb21").celsius == 21.0


def test_options_of_pyserial_stay_in_its_own_urls():
    scheme, where, options = split("serial:rfc2217://host:7000?ign_set_control&baud=4800")
    assert (scheme, where) == ("serial", "rfc2217://host:7000?ign_set_control")
    assert options == {"baud": "4800"}


@pytest.mark.parametrize(
    ("address", "problem", "remedy"),
    [
        ("", "no thermometer address: ''", "start it with serial:"),
        ("usb:0", "no thermometer address: 'usb:0'", "start it with serial:"),
        ("/dev/ttyUSB0", "no thermometer address", r"did you mean serial:/dev/ttyUSB0\?"),
        ("COM3", "no thermometer address", r"did you mean serial:COM3\?"),
        ("serial:", "names no port", "serial:/dev/ttyUSB0"),
        ("modbus:", "names no port", "modbus:/dev/ttyUSB0"),
        ("onewire:", "names no file", "onewire:"),
        ("replay:?speed=2", "names no file", "replay:"),
        ("serial:COM3?baudrate=9600", "has no option 'baudrate=9600'", r"did you mean baud\?"),
        ("serial:COM3?baud", "has no option 'baud'", r"did you mean baud\?"),
        ("simulated:?speed=2", "has no option 'speed=2'", "its options are"),
        ("serial:COM3?baud=fast", "baud=fast is no number", "baud=9600"),
        ("serial:COM3?baud=9600.5", "baud=9600.5 is no whole number", "baud=9600"),
        ("serial:COM3?poll=0", "poll=0 is no number of at least 0.05", "poll=2"),
        ("serial:COM3?silence=nan", "silence=nan is no number", "silence=60"),
        ("serial:COM3?unit=R", "unit=R", "write unit=C, F or K"),
        ("serial:COM3?dialect=morse", "no dialect is called 'morse'", "the dialects are auto"),
        ("serial:COM3?dialect=pattern", "does not name one temperature", "use one group"),
        ("serial:COM3?frame=8X1", "is no frame", "8N1"),
        ("modbus:COM3?type=int8", "type=int8 is not possible", "int16 or uint16"),
        ("modbus:COM3?scale=inf", "scale=inf is no number", "scale=0.1"),
        ("replay:t.csv?times=then", "times=then", "times=now or times=recorded"),
        ("replay:t.csv?speed=0", "speed=0 is no number", "speed=1"),
        ("simulated:hall", "names no place: 'hall'", "simulated:"),
        ("simulated:?response_seconds=-1", "response_seconds=-1 is no number", "response_seconds="),
    ],
)
def test_mistyped_addresses_say_what_is_wrong_and_what_to_write(address, problem, remedy, clock):
    with pytest.raises(AddressError, match=problem) as refused:
        open_source(address, clock=clock)
    with pytest.raises(AddressError, match=remedy):
        raise AddressError(refused.value.remedy, "")


SCHEMES = st.sampled_from(
    ["serial:", "modbus:", "onewire:", "replay:", "simulated:", "manual:", ""]
)
OPTIONS = st.sampled_from(["?", "&", "baud=", "seed=", "pattern=", "unit=", "speed=", "name=", "%"])


@given(SCHEMES, st.lists(st.one_of(OPTIONS, st.text(max_size=8)), max_size=6))
def test_any_text_is_an_address_or_an_address_error(scheme, parts):
    class Clock:
        def now(self):
            raise AssertionError("nothing is read before the source is opened")

        def monotonic(self):
            return 0.0

    try:
        source = open_source(scheme + "".join(parts), clock=Clock())
    except AddressError:
        return
    assert source.name
