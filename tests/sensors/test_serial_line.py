"""A thermometer on a serial line, over a real pseudo-terminal: what it says and how it fails."""

import itertools
import socket
import statistics
import threading
import time

import pytest

import sensors.serial_line
from sensors.clocks import SystemClock
from sensors.detection import choose
from sensors.errors import AddressError, SourceUnavailable
from sensors.ports import Port
from sensors.reading import Sample
from sensors.serial_line import SerialLine
from tests.sensors.receiver import seen_at

TALK = "".join(f"T={20 + n / 10:.1f} RH={40 + n % 20}\r\n" for n in range(60))


def line_of(port, dialect=None, **options):
    options = {"name": "stage", "retry_seconds": 0.05, "list_ports": tuple, **options}
    return SerialLine(port, dialect or choose("auto"), SystemClock(), **options)


@pytest.fixture
def quiet_start(monkeypatch):
    """Make the source take the first line as whole, as it does after a moment of silence.

    On a loaded machine a test cannot promise to be silent while the port is opened.
    """
    monkeypatch.setattr(SerialLine, "_under_way", lambda self: b"")


# --- what it says


def test_temperatures_come_in_order_with_their_lines(thermometer, collect, celsius, quiet_start):
    with line_of(thermometer.port) as source:
        for n in range(5):
            thermometer.say(f"T={20 + n} RH=48\r\n")
        said = collect(source, lambda said: len(celsius(said)) == 5)
    temperatures = [item for item in said if isinstance(item, Sample)]
    assert [item.celsius for item in temperatures] == [20, 21, 22, 23, 24]
    assert {(item.humidity_percent, item.source) for item in temperatures} == {(48.0, "stage")}
    assert temperatures[0].raw == "T=20 RH=48"
    assert temperatures[0].time.tzinfo is not None


def test_it_says_once_which_dialect_it_settled_on(
    thermometer, collect, celsius, kinds, quiet_start
):
    with line_of(thermometer.port) as source:
        thermometer.say("T=20\n" * 10)
        said = collect(source, lambda said: len(celsius(said)) == 10)
    assert kinds(said) == ["dialect"]
    assert "speaks key=value" in [getattr(item, "text", "") for item in said]


def test_a_chosen_dialect_is_not_announced(thermometer, collect, celsius, kinds, quiet_start):
    with line_of(thermometer.port, choose("plain", unit="F")) as source:
        thermometer.say("70.7\n" * 5)
        said = collect(source, lambda said: len(celsius(said)) == 5)
    assert celsius(said) == pytest.approx([21.5] * 5)
    assert kinds(said) == []


def test_a_line_in_pieces_is_one_line(thermometer, collect, celsius, quiet_start):
    with line_of(thermometer.port) as source:
        for piece in ("T=", "21", ".5"):
            said = collect(source, lambda said: len(said) == 1, nothings=True)
            assert said == [None]
            thermometer.say(piece)
        thermometer.say("\r")
        said = collect(source, lambda said: len(said) == 1)
        thermometer.say("\nT=22.5\n")
        said += collect(source, lambda said: len(said) == 1)
    assert celsius(said) == [21.5, 22.5]


def test_faults_and_strange_lines_are_refused_with_the_line(
    thermometer, collect, celsius, kinds, quiet_start
):
    with line_of(thermometer.port, choose("plain")) as source:
        thermometer.say("85.00\n21.5\n")
        said = collect(source, lambda said: len(celsius(said)) == 1)
    assert kinds(said) == ["refused"]
    assert (said[0].raw, said[0].source) == ("85.00", "stage")
    assert "before its first measurement" in said[0].text


def test_a_flood_of_refused_lines_is_counted_not_repeated(
    thermometer, collect, celsius, kinds, quiet_start
):
    with line_of(thermometer.port, choose("plain")) as source:
        thermometer.say("bad\n" * 200 + "21.5\n")
        said = collect(source, lambda said: len(celsius(said)) == 1)
    assert 1 <= kinds(said).count("refused") < 20  # one a second at most


# --- how it starts


def test_the_line_under_way_when_the_port_is_opened_is_dropped(monkeypatch):
    """Half of ``21.5`` is ``1.5``: the first look finds bytes, so their line has no start."""

    class Line:
        def __init__(self):
            self.data = [b"1.5\r\n21.6\r\n2", b"1.7\r\n"]

        def read(self, size):
            return self.data.pop(0) if self.data else b""

        def close(self):
            pass

    monkeypatch.setattr("serial.serial_for_url", lambda port, **settings: Line())
    with line_of("somewhere") as source:
        words = iter(source)
        said = [next(words) for _ in range(10)]
    assert [item.celsius for item in said if isinstance(item, Sample)] == [21.6, 21.7]


def test_nothing_is_opened_and_no_thread_started_by_making_one():
    before = threading.active_count()
    line_of("/no/such/port")
    assert threading.active_count() == before


def test_it_never_waits_longer_than_a_second_with_nothing_to_say(thermometer, collect):
    with line_of(thermometer.port) as source:
        times = []
        collect(
            source, lambda said: times.append(time.monotonic()) or len(said) == 8, nothings=True
        )
    gaps = [after - before for before, after in itertools.pairwise(times)]
    assert statistics.median(gaps) < 1.0


# --- how it fails


def test_a_port_that_is_not_there():
    with (
        pytest.raises(SourceUnavailable, match="/no/such/port does not exist"),
        line_of("/no/such/port"),
    ):
        pass


def test_a_port_held_by_another(thermometer):
    with (
        line_of(thermometer.port),
        pytest.raises(SourceUnavailable, match="held by another program"),
        line_of(thermometer.port),
    ):
        pass


@pytest.mark.parametrize("port", ["nothing://x", "loop://?unknown=1"])
def test_an_address_that_pyserial_does_not_know(port):
    with pytest.raises((AddressError, SourceUnavailable), match=port[:7]), line_of(port):
        pass


def test_silence_is_told_once_and_so_is_the_return(
    thermometer, collect, celsius, kinds, quiet_start
):
    with line_of(thermometer.port, silence_seconds=0.3) as source:
        gone = collect(source, lambda said: len(said) > 0)
        assert kinds(gone) == ["away"]
        assert "no temperature for" in gone[0].text
        collect(source, lambda said: len(said) > 12, nothings=True)
        thermometer.say("T=21.5\n")
        back = collect(source, lambda said: len(celsius(said)) == 1)
    assert kinds(back) == ["back"]


def test_unplugged_and_plugged_in_again(thermometer, collect, celsius, kinds, quiet_start):
    with line_of(thermometer.port) as source:
        thermometer.say("T=21.0\n")
        collect(source, lambda said: celsius(said) == [21.0])
        thermometer.say("T=99")  # half a line, cut off by the unplugging
        thermometer.unplug()
        gone = collect(source, lambda said: "away" in kinds(said))
        assert "is gone" in gone[-1].text
        thermometer.plug_in()
        collect(source, lambda said: source.connected, nothings=True)
        thermometer.say("T=22.0\nT=22.5\n")
        back = collect(source, lambda said: len(celsius(said)) == 2)
    assert celsius(back) == [22.0, 22.5]
    assert kinds(back)[0] == "back"


def test_gone_again_at_the_first_look(monkeypatch, collect, celsius, kinds):
    """A plug that is pushed in twice: the port opens, and its first read fails."""
    replies = iter([b"", OSError, OSError, b"", b"T=21.5\n", b""])

    class Line:
        def read(self, size):
            reply = next(replies, b"")
            if reply is OSError:
                raise OSError(5, "Input/output error")
            return reply

        def close(self):
            pass

    monkeypatch.setattr("serial.serial_for_url", lambda port, **settings: Line())
    with line_of("somewhere") as source:
        said = collect(source, lambda said: len(celsius(said)) == 1)
    assert kinds(said) == ["away", "back"]


def test_found_again_under_another_name_by_its_serial_number(
    thermometer, tmp_path, collect, celsius, kinds, quiet_start
):
    ports = [Port(thermometer.port, "probe", "A7"), Port("/dev/ttyFAKE9", "other", "B1")]
    with line_of(thermometer.port, list_ports=lambda: ports) as source:
        thermometer.say("T=21.0\n")
        collect(source, lambda said: celsius(said) == [21.0])
        thermometer.unplug()
        collect(source, lambda said: "away" in kinds(said))
        thermometer.link = tmp_path / "ttyFAKE1"
        thermometer.plug_in()
        ports[0] = Port(thermometer.port, "probe", "A7")
        collect(source, lambda said: source.connected, nothings=True)
        thermometer.say("T=22.0\n")
        assert celsius(collect(source, lambda said: len(celsius(said)) == 1)) == [22.0]


def test_another_device_under_the_old_name_is_left_alone(thermometer, collect, celsius, kinds):
    ports = [Port(thermometer.port, "probe", "A7")]
    with line_of(thermometer.port, list_ports=lambda: ports) as source:
        thermometer.unplug()
        collect(source, lambda said: "away" in kinds(said))
        thermometer.plug_in()
        ports[0] = Port(thermometer.port, "a printer", "C3")
        said = collect(source, lambda said: len(said) > 10, nothings=True)
        assert not source.connected
    assert set(said) == {None}


def test_half_a_line_is_given_up_with_its_other_half(
    thermometer, collect, celsius, kinds, monkeypatch, quiet_start
):
    monkeypatch.setattr(sensors.serial_line, "HALF_LINE_SECONDS", 0.3)
    with line_of(thermometer.port, choose("plain")) as source:
        thermometer.say("2")
        said = collect(source, lambda said: len(said) > 0)
        thermometer.say("1.5\n22.5\n")
        said += collect(source, lambda said: len(celsius(said)) == 1)
    assert (said[0].kind, said[0].raw) == ("refused", "2")
    assert celsius(said) == [22.5]


def test_a_wrong_baud_rate_is_recognised_and_others_offered(
    thermometer, collect, celsius, kinds, quiet_start
):
    """What a receiver at 9600 sees of 19200, by the simulated receiver."""
    with line_of(thermometer.port) as source:
        thermometer.say(seen_at(TALK.encode(), 19200, 9600))
        said = collect(source, lambda said: "garbage" in kinds(said))
        notice = next(item for item in said if item.kind == "garbage")
        thermometer.say(b"\n" + TALK.encode())
        said += collect(source, lambda said: len(celsius(said)) == 60)
    assert (
        "9600 baud is probably the wrong rate; try baud= with 1200, 2400, 4800, 19200"
        in notice.text
    )
    assert notice.raw
    assert kinds(said).count("garbage") == 1
    assert celsius(said) == [20 + n / 10 for n in range(60)]


def test_garbage_is_told_again_when_it_comes_again_later(monkeypatch, clock, kinds):
    replies = [b"", b"\x80" * 40, b"\x80" * 40, b"\nT=21.5\n", b"", b"\x80" * 40, b"\x80\x80\n"]

    class Line:
        def read(self, size):
            clock.go_on(30.0)
            return replies.pop(0)

        def close(self):
            pass

    monkeypatch.setattr("serial.serial_for_url", lambda port, **settings: Line())
    source = SerialLine("somewhere", choose(), clock, list_ports=tuple, silence_seconds=1e6)
    with source:
        words = iter(source)
        said = []
        while replies:
            said.append(next(words))
    assert kinds(said) == ["garbage", "garbage"]


def test_noise_bursts_cost_no_temperature_around_them(thermometer, collect, celsius, quiet_start):
    with line_of(thermometer.port, choose("plain")) as source:
        thermometer.say(b"20.5\n\x00\xff\x80\x12\x9a\n21.5\n" + b"\xfe" * 5000 + b"\n22.5\n")
        said = collect(source, lambda said: len(celsius(said)) == 3)
    assert celsius(said) == [20.5, 21.5, 22.5]


def test_a_flood_without_line_ends_is_survived(thermometer, collect, celsius, quiet_start):
    with line_of(thermometer.port, choose("plain")) as source:
        flood = threading.Thread(target=thermometer.say, args=("7" * 100_000 + "\n21.5\n",))
        flood.start()
        assert celsius(collect(source, lambda said: len(celsius(said)) == 1)) == [21.5]
        flood.join()


def test_lines_back_to_back_at_the_rate_of_115200_baud(thermometer, collect, celsius, quiet_start):
    """None lost, none duplicated: every line carries its number (the long run is a benchmark)."""
    lines = [f"T=21.5 n={n:06d}\r\n" for n in range(1500)]  # 17 bytes each: 2.2 s at this rate

    def send():
        started, sent = time.monotonic(), 0
        for line in lines:
            thermometer.say(line)
            sent += len(line)
            time.sleep(max(0.0, started + sent / 11520 - time.monotonic()))

    with line_of(thermometer.port, choose("key=value"), baud=115200) as source:
        sender = threading.Thread(target=send)
        sender.start()
        said = collect(source, lambda said: len(said) == len(lines))
        sender.join()
    assert [item.raw + "\r\n" for item in said] == lines


# --- other things that pyserial opens


def test_a_thermometer_on_the_network_that_is_restarted(collect, celsius, kinds, quiet_start):
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = f"socket://127.0.0.1:{server.getsockname()[1]}"
        with line_of(port) as source:
            first, _ = server.accept()
            with first:
                first.sendall(b"T=21.0\r\n")
                said = collect(source, lambda said: len(celsius(said)) == 1)
            said += collect(source, lambda said: "away" in kinds(said))
            collect(source, lambda said: source.connected, nothings=True)
            second, _ = server.accept()
            with second:
                second.sendall(b"T=22.0\r\n")
                said += collect(source, lambda said: len(celsius(said)) == 1)
    assert celsius(said) == [21.0, 22.0]
    assert kinds(said) == ["away", "back"]


def test_nobody_at_the_other_end_of_the_network():
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    with (
        pytest.raises(SourceUnavailable, match=f"socket://127.0.0.1:{port} cannot be opened"),
        line_of(f"socket://127.0.0.1:{port}"),
    ):
        pass


def test_a_loop_hears_its_own_question(collect):
    """An instrument that echoes what it is asked and says no more is silent."""
    with line_of("loop://", query="T?", poll_seconds=0.1, silence_seconds=0.5) as source:
        (away,) = collect(source, lambda said: len(said) == 1)
    assert away.kind == "away"


# --- instruments that are asked


CONVERSATION = {"MEAS:TEMP?": "+2.15000000E+01", "*IDN?": "Invented Works,T-1,0042,1.0"}


def test_an_instrument_is_asked_every_so_often(thermometer, collect, celsius):
    thermometer.answer(CONVERSATION)
    with line_of(thermometer.port, query="MEAS:TEMP?", poll_seconds=0.2) as source:
        started = time.monotonic()
        said = collect(source, lambda said: len(celsius(said)) == 4)
        assert time.monotonic() - started > 0.5  # three pauses of 0.2 s
    assert celsius(said) == [21.5] * 4


def test_it_says_what_it_is(thermometer):
    thermometer.answer(CONVERSATION)
    with line_of(thermometer.port, query="MEAS:TEMP?") as source:
        assert source.ask("*IDN?", seconds=20) == "Invented Works,T-1,0042,1.0"
        assert source.ask("*WHAT?", seconds=0.3) == ""


def test_asking_a_port_that_is_gone_gives_no_answer(thermometer):
    with line_of(thermometer.port, query="T?") as source:
        thermometer.unplug()
        assert source.ask("*IDN?") == ""


def test_an_echo_is_no_answer(thermometer, collect, celsius, kinds):
    thermometer.answer({"MEAS:TEMP?": "MEAS:TEMP?\r\n21.5"})
    with line_of(thermometer.port, query="MEAS:TEMP?", poll_seconds=0.1) as source:
        said = collect(source, lambda said: len(celsius(said)) == 3)
    assert "refused" not in kinds(said)


def test_half_an_answer_is_not_joined_to_the_next(thermometer, collect, celsius):
    with line_of(thermometer.port, choose("plain"), query="T?", poll_seconds=0.3) as source:
        words = iter(source)
        next(words)
        assert thermometer.hear() == "T?"
        thermometer.say("-")
        while not (asked := thermometer.hear(0.05)):
            next(words)
        assert asked == "T?"
        thermometer.say("21.5\n")
        assert celsius(collect(source, lambda said: len(celsius(said)) == 1)) == [21.5]


def test_half_an_answer_that_is_read_late_is_not_joined_either(thermometer, collect, celsius):
    with line_of(thermometer.port, choose("plain"), query="T?", poll_seconds=0.3) as source:
        words = iter(source)
        next(words)
        assert thermometer.hear() == "T?"
        thermometer.say("-")
        time.sleep(0.5)  # a busy machine: the next question is due before this was read
        while not thermometer.hear(0.05):
            next(words)
        thermometer.say("21.5\n")
        assert celsius(collect(source, lambda said: len(celsius(said)) == 1)) == [21.5]


def test_an_instrument_that_does_not_answer_is_away(thermometer, collect, kinds):
    with line_of(thermometer.port, query="T?", poll_seconds=0.1, silence_seconds=0.4) as source:
        said = collect(source, lambda said: len(said) > 0)
    assert kinds(said) == ["away"]
    assert "does not answer" in said[0].text
