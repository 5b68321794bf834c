"""Finding a device again among the ports of the machine."""

import os

import pytest

from sensors.ports import Port, same_device, serial_ports, usb_serial_number

PORTS = (Port("/dev/ttyUSB0", "a printer", "C3"), Port("/dev/ttyUSB1", "a probe", "A7"))


@pytest.mark.parametrize(
    ("port", "number", "found"),
    [
        ("/dev/ttyUSB1", "A7", "/dev/ttyUSB1"),  # where it was
        ("/dev/ttyUSB0", "A7", "/dev/ttyUSB1"),  # moved; another device has its old name
        ("/dev/ttyUSB5", "A7", "/dev/ttyUSB1"),  # moved; its old name is free
        ("/dev/ttyUSB0", "D9", None),  # gone; another device has its old name
        ("/dev/ttyUSB5", "D9", "/dev/ttyUSB5"),  # gone, or not listed by the system
        ("/dev/ttyS0", "", "/dev/ttyS0"),  # never had a number
    ],
)
def test_a_device_is_followed_by_its_serial_number(port, number, found):
    assert same_device(port, number, PORTS) == found


def test_a_link_to_the_port_is_the_port(tmp_path):
    device, link = tmp_path / "ttyUSB7", tmp_path / "stage"
    device.touch()
    try:
        link.symlink_to(device)
    except OSError:
        pytest.skip("this system makes no symbolic links")
    ports = [Port(os.path.realpath(device), "probe", "A7")]
    assert usb_serial_number(str(link), ports) == "A7"
    assert same_device(str(link), "A7", ports) == str(link)


def test_a_port_without_a_number_has_none():
    assert usb_serial_number("/dev/ttyS0", PORTS) == ""


def test_the_ports_of_this_machine_come_in_order():
    devices = [port.device for port in serial_ports()]
    assert devices == sorted(devices)
