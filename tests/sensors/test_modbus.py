"""A Modbus RTU transmitter, played by an independent server over two joined pseudo-terminals."""

import asyncio
import os
import select
import threading

import pytest

from sensors.clocks import SystemClock
from sensors.errors import AddressError, SourceUnavailable
from sensors.modbus import Modbus, Register

pytest.importorskip("minimalmodbus", reason="needs the extra modbus")
pytest.importorskip("tty", reason="pseudo-terminals need a POSIX system")

# 21.5 as IEEE 754 binary32 is 41AC0000; its four orders on the line are named after the letters
# of the bytes: big ABCD, little DCBA, big-swap BADC, little-swap CDAB.
HOLDING = {0: [215], 10: [0x41AC, 0x0000], 12: [0x0000, 0xAC41], 14: [0xAC41, 0x0000],
           16: [0x0000, 0x41AC], 20: [0xFFFF, 0xFF9C], 22: [0x0000, 21500], 30: [0x7FFF],
           40: [707]}  # fmt: skip
INPUT = {0: [225], 1: [0xFF9C]}


class Bus:
    """Two terminals whose far ends are joined, and a server on one of them."""

    def __init__(self) -> None:
        import tty

        self._ends = [os.openpty() for _ in range(2)]
        for _, held in self._ends:
            tty.setraw(held)
        self.port, self._server_port = (os.ttyname(held) for _, held in self._ends)
        self._over = threading.Event()
        self._loop = asyncio.new_event_loop()
        self._threads = [threading.Thread(target=self._join), threading.Thread(target=self._serve)]
        self._ready = threading.Event()
        for thread in self._threads:
            thread.start()
        assert self._ready.wait(60)

    def _join(self) -> None:
        first, second = (end for end, _ in self._ends)
        while not self._over.is_set():
            for end in select.select([first, second], [], [], 0.1)[0]:
                os.write(second if end == first else first, os.read(end, 1024))

    def _serve(self) -> None:
        from pymodbus.server import ModbusSerialServer
        from pymodbus.simulator import DataType, SimData, SimDevice

        def block(registers):
            return [
                SimData(address, values=values, datatype=DataType.REGISTERS)
                for address, values in registers.items()
            ]

        nothing = [SimData(0, values=[0], datatype=DataType.BITS)]
        floats = [SimData(0, values=[21.5], datatype=DataType.FLOAT32)]
        devices = [
            SimDevice(1, simdata=(nothing, nothing, block(HOLDING), block(INPUT))),
            SimDevice(7, simdata=(nothing, nothing, floats, floats)),
        ]

        async def serve() -> None:
            self.server = ModbusSerialServer(devices, port=self._server_port, baudrate=9600)
            await self.server.listen()
            self._ready.set()
            while not self._over.is_set():
                await asyncio.sleep(0.05)
            await self.server.shutdown()

        asyncio.set_event_loop(self._loop)
        self._loop.run_until_complete(serve())
        self._loop.close()

    def close(self) -> None:
        self._over.set()
        for thread in self._threads:
            thread.join()
        for pair in self._ends:
            for end in pair:
                os.close(end)


@pytest.fixture(scope="module")
def bus():
    joined = Bus()
    yield joined
    joined.close()


def source_of(port, register, **options):
    options = {"name": "duct", "poll_seconds": 0.1, "list_ports": tuple, **options}
    return Modbus(port, register, SystemClock(), **options)


@pytest.mark.parametrize(
    ("register", "unit", "expected"),
    [
        (Register(0, function=3), 1, 21.5),
        (Register(0, function=4), 1, 22.5),
        (Register(1, function=4), 1, -10.0),
        (Register(10, function=3, type="float32", order="big", scale=1), 1, 21.5),
        (Register(12, function=3, type="float32", order="little", scale=1), 1, 21.5),
        (Register(14, function=3, type="float32", order="big-swap", scale=1), 1, 21.5),
        (Register(16, function=3, type="float32", order="little-swap", scale=1), 1, 21.5),
        (Register(20, function=3, type="int32"), 1, -10.0),
        (Register(22, function=3, type="uint32", scale=0.001), 1, 21.5),
        (Register(0, function=3, type="uint16"), 1, 21.5),
        (Register(40, function=3, scale=0.1 / 1.8, offset=-32 / 1.8), 1, 21.5),
        (Register(0, function=4, type="float32", scale=1), 7, 21.5),
    ],
    ids=lambda value: value.type + value.order if isinstance(value, Register) else None,
)
def test_every_way_of_writing_a_temperature(bus, collect, celsius, register, unit, expected):
    with source_of(bus.port, register, unit=unit) as source:
        said = collect(source, lambda said: len(celsius(said)) == 2)
    assert celsius(said) == pytest.approx([expected] * 2, abs=1e-9)
    assert f"function {register.function} register {register.address}" in said[0].raw


def test_a_number_that_no_air_has_is_refused_with_the_number(bus, collect, kinds):
    with source_of(bus.port, Register(30, function=3)) as source:
        (refused,) = collect(source, lambda said: len(said) == 1)
    assert kinds([refused]) == ["refused"]
    assert "3276.7 °C is outside" in refused.text
    assert refused.raw == "function 3 register 30: 32767"


def test_a_register_that_is_not_there_is_named(bus, collect):
    with source_of(bus.port, Register(999, function=3)) as source:
        (refused,) = collect(source, lambda said: len(said) == 1)
    assert refused.text == "the transmitter has no register 999 for function 3"


def test_a_unit_that_does_not_answer_is_away(thermometer, collect):
    with source_of(thermometer.port, Register(), unit=42, silence_seconds=0.2) as source:
        (away,) = collect(source, lambda said: len(said) == 1)
    assert away.kind == "away"
    assert "unit 42 does not answer" in away.text


def test_a_damaged_answer_is_refused(thermometer, collect):
    """The answer 01 04 02 00 D7 with a wrong check sum."""

    def answer():
        thermometer.hear_bytes(8)
        thermometer.say(bytes.fromhex("01 04 02 00 D7 00 00"))

    with source_of(thermometer.port, Register()) as source:
        talker = threading.Thread(target=answer)
        talker.start()
        (refused,) = collect(source, lambda said: len(said) == 1)
        talker.join()
    assert "a damaged answer" in refused.text


def test_the_question_is_framed_as_published(thermometer):
    """01 03 00 00 00 02 has the check sum C4 0B (from the project's table of published values)."""
    with source_of(thermometer.port, Register(0, function=3, type="float32")) as source:
        next(iter(source), None)
        assert thermometer.hear_bytes(8) == bytes.fromhex("01 03 00 00 00 02 C4 0B")


def test_unplugged_and_plugged_in_again(thermometer, collect, kinds, celsius):
    from pymodbus.framer import FramerRTU

    answer = bytes.fromhex("01 04 02 00 D7")
    answer += FramerRTU.compute_CRC(answer).to_bytes(2, "big")

    def talk():
        while not over.is_set():
            if thermometer.hear_bytes(8, 0.1):
                thermometer.say(answer)

    with source_of(thermometer.port, Register(), retry_seconds=0.05) as source:
        thermometer.unplug()
        (away,) = collect(source, lambda said: len(said) == 1)
        assert (away.kind, "unplugged" in away.text) == ("away", True)
        thermometer.plug_in()
        over = threading.Event()
        talker = threading.Thread(target=talk)
        talker.start()
        said = collect(source, lambda said: len(celsius(said)) == 2)
        over.set()
        talker.join()
    assert celsius(said) == [21.5, 21.5]
    assert kinds(said)[-1] == "back"


@pytest.mark.parametrize(
    ("settings", "why"),
    [
        ({"function": 6}, "function=6 is not possible"),
        ({"type": "int8"}, "type=int8 is not possible"),
        ({"order": "ABCD"}, "order=ABCD is not possible"),
        ({"address": 70000}, "register=70000"),
    ],
)
def test_settings_that_cannot_be(settings, why):
    with pytest.raises(AddressError, match=why):
        Register(**settings)


def test_an_address_on_the_line_that_cannot_be(clock):
    with pytest.raises(AddressError, match="unit=248 is no Modbus address"):
        Modbus("COM3", Register(), clock, unit=248)


def test_without_the_library_the_extra_is_named(monkeypatch, clock):
    monkeypatch.setitem(__import__("sys").modules, "minimalmodbus", None)
    with (
        pytest.raises(SourceUnavailable, match="minimalmodbus is not installed") as refused,
        Modbus("COM3", Register(), clock),
    ):
        pass
    assert "rehearsal-drift[modbus]" in refused.value.remedy
