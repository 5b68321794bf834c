"""drift thermometers: the ports of this machine, and what one thermometer says."""

import json

import pytest

from sensors.ports import Port
from tests.sensors.terminal import FakeThermometer

CONVERSATION = {"MEAS:TEMP?": "T=21.50 RH=48", "*IDN?": "Invented Works,T-1,0042,1.0"}


@pytest.fixture
def instrument(tmp_path):
    pytest.importorskip("tty", reason="pseudo-terminals need a POSIX system")
    fake = FakeThermometer(tmp_path / "ttyFAKE0")
    fake.plug_in()
    fake.answer(CONVERSATION)
    yield fake
    fake.unplug()


def test_the_ports_of_the_machine(drift, monkeypatch):
    ports = (Port("/dev/ttyUSB0", "USB probe", "A7"), Port("COM9", "n/a"))
    monkeypatch.setattr("sensors.ports.serial_ports", lambda: ports)
    assert drift("thermometers") == (
        0, "serial:/dev/ttyUSB0  USB probe, serial number A7\nserial:COM9  n/a\n", "",
    )  # fmt: skip
    status, out, _ = drift("thermometers", "--json")
    assert (status, json.loads(out)["ports"][0]) == (
        0, {"device": "/dev/ttyUSB0", "description": "USB probe", "serial_number": "A7"},
    )  # fmt: skip


def test_a_machine_without_ports_says_so(drift, monkeypatch):
    monkeypatch.setattr("sensors.ports.serial_ports", tuple)
    assert drift("thermometers") == (0, "no serial ports on this machine\n", "")


def test_what_an_instrument_is_and_says(drift, instrument):
    address = f"serial:{instrument.port}?query=MEAS:TEMP?&poll=0.1&name=stage"
    status, out, err = drift("thermometers", address, "--seconds", 3)
    assert (status, err) == (0, "")
    lines = out.splitlines()
    assert lines[0] == "it calls itself Invented Works,T-1,0042,1.0"
    assert lines[1] == "  21.50 °C  48 %  [T=21.50 RH=48]"
    assert "  dialect: speaks key=value" in lines
    assert lines[-1].startswith("stage: ")
    assert lines[-1].endswith(" temperatures, 21.50 to 21.50 °C, dialect key=value")


def test_the_same_for_programs(drift, instrument):
    address = f"serial:{instrument.port}?query=MEAS:TEMP?&poll=0.1"
    status, out, _ = drift("thermometers", address, "--seconds", 3, "--json")
    said = json.loads(out)
    assert (status, said["identity"]) == (0, "Invented Works,T-1,0042,1.0")
    assert (said["address"], said["dialect"]) == (address, "key=value")
    first = said["temperatures"][0]
    assert (first["celsius"], first["humidity_percent"], first["pressure_hpa"]) == (21.5, 48, None)
    assert first["time"].endswith("+00:00")
    assert [notice["kind"] for notice in said["notices"]] == ["dialect"]


def test_a_thermometer_that_says_nothing_is_a_problem(drift, tmp_path):
    pytest.importorskip("tty", reason="pseudo-terminals need a POSIX system")
    silent = FakeThermometer(tmp_path / "ttyFAKE1")
    silent.plug_in()
    status, out, err = drift("thermometers", f"serial:{silent.port}?name=case", "--seconds", 0.3)
    silent.unplug()
    assert (status, out) == (1, "")
    assert err.splitlines() == [
        "drift thermometers: case: no temperature in 0.3 s",
        "listen longer with --seconds, or set baud=, dialect= or query= in the address",
    ]


def test_notices_are_shown_with_their_lines(drift, tmp_path):
    table = tmp_path / "t.csv"
    table.write_text("time,celsius\n2031-03-04T19:00Z,85\n2031-03-04T19:00Z,21.5\n")
    status, out, _ = drift("thermometers", f"replay:{table}")
    assert status == 0
    assert "  refused: 85 °C is what a digital probe says before its first measurement" in out
    assert out.splitlines()[-1] == "t: 1 temperatures, 21.50 to 21.50 °C"


@pytest.mark.parametrize(
    ("address", "problem"),
    [
        ("serial:/no/such/port", "/no/such/port does not exist"),
        ("/dev/ttyUSB0", "no thermometer address: '/dev/ttyUSB0'"),
    ],
)
def test_problems_are_two_lines(drift, address, problem):
    status, out, err = drift("thermometers", address)
    assert (status, out) == (1, "")
    assert err.splitlines()[0] == f"drift thermometers: {problem}"
    assert len(err.splitlines()) == 2
