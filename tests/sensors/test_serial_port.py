"""Opening a port, and why it cannot be opened."""

import errno
import os

import pytest

from sensors.errors import AddressError, SourceUnavailable
from sensors.ports import Port
from sensors.serial_port import SerialPort, explain, port_errors


@pytest.mark.skipif(os.name != "posix", reason="groups are a matter of POSIX systems")
def test_permission_denied_names_the_group_that_may(tmp_path):
    import grp

    port = tmp_path / "ttyFAKE0"
    port.touch()
    group = grp.getgrgid(port.stat().st_gid).gr_name
    refused = explain(PermissionError(errno.EACCES, "Permission denied"), str(port))
    assert isinstance(refused, SourceUnavailable)
    assert refused.problem == f"{port}: permission denied"
    assert f"join the group {group} (sudo usermod -a -G {group} $USER)" in refused.remedy


# What pyserial 3.5 raises for a missing and for a busy port on Windows: no number, only text.
@pytest.mark.parametrize(
    ("error", "problem"),
    [
        (OSError(errno.EBUSY, "busy"), "held by another program"),
        (OSError(errno.EAGAIN, "Could not exclusively lock port"), "held by another program"),
        (OSError("could not open port 'COM3': PermissionError(13, 'x')"), "held by another"),
        (OSError("could not open port 'COM9': FileNotFoundError(2, 'x')"), "does not exist"),
        (OSError(errno.ENOENT, "No such file"), "does not exist"),
        (OSError(errno.EIO, "Input/output error"), "cannot be opened: .*Input/output error"),
    ],
)
def test_other_reasons_in_words(error, problem):
    with pytest.raises(SourceUnavailable, match=f"COM3.*{problem}"):
        raise explain(error, "COM3")


@pytest.mark.parametrize("frame", ["", "8N", "9N1", "8X1", "8N3", "N81"])
def test_a_frame_that_is_none(frame, clock):
    with pytest.raises(AddressError, match="is no frame"):
        SerialPort("COM3", clock, frame=frame)


@pytest.mark.parametrize(
    ("frame", "parts"), [("8N1", (8, "N", 1)), ("7e2", (7, "E", 2)), ("8N1.5", (8, "N", 1.5))]
)
def test_frames(frame, parts, clock):
    assert SerialPort("COM3", clock, frame=frame).frame == parts


def test_a_port_is_tried_again_only_so_often(clock):
    port = SerialPort("/no/such/port", clock, retry_seconds=5.0)
    tries = []
    port._opened = lambda name: tries.append(name)  # counts; opens nothing
    port.lost()
    assert not port.reopen()
    clock.go_on(5.0)
    assert port.reopen()
    assert tries == ["/no/such/port"]


def test_a_failed_try_leaves_it_closed(clock):
    port = SerialPort("/no/such/port", clock, retry_seconds=0.0)
    port.lost()
    assert not port.reopen()
    assert port.line is None


def test_the_errors_of_a_terminal_are_among_those_of_a_port():
    termios = pytest.importorskip("termios")
    assert issubclass(termios.error, port_errors())
    assert not issubclass(termios.error, OSError)


def test_a_real_terminal_opens_closes_and_opens_again(thermometer, clock):
    port = SerialPort(
        thermometer.port, clock, list_ports=lambda: [Port(thermometer.port, "probe", "A7")]
    )
    port.open()
    assert port.line.is_open
    port.lost()
    assert port.line is None
    clock.go_on(1.0)
    assert port.reopen()
    port.close()
    port.close()
