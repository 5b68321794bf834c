"""Two processes of a cluster, one of which is killed while it works."""

import os
import signal
import threading
import time

import pytest
from distributed import Client, LocalCluster

import drift
from drift.cluster.engines import engine_of
from drift.errors import InputError
from tests.cluster.seasons import tables, written
from tests.cluster.test_fitting import alone, assert_same

# A lost worker's connections end as they may.
pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    frames = tables(rehearsals=12, readings=8)
    return written(tmp_path_factory.mktemp("season") / "season.parquet", frames)


@pytest.fixture
def client():
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address="127.0.0.1:0") as cluster,
        Client(cluster) as found,
    ):
        yield found


def kill_one_as_soon_as_it_holds_pieces(client, killed):
    """Kill a worker that holds results which others still need."""

    def watch():
        while not killed:
            held = client.has_what()
            full = [address for address, keys in held.items() if len(keys) >= 3]
            if full:
                killed.append(client.run(os.getpid, workers=full[:1])[full[0]])
                os.kill(killed[0], signal.SIGKILL)
            time.sleep(0.01)

    thread = threading.Thread(target=watch, daemon=True)
    thread.start()
    return thread


@pytest.mark.parametrize(("method", "digits"), [("least-squares", 1e-9), ("bayesian", 1e-8)])
def test_two_processes_give_the_answer_of_one(season, client, method, digits):
    found = drift.fit(season, method, engine="dask", scheduler=client)
    assert_same(alone(season, method), found, digits)


@pytest.mark.parametrize(("method", "digits"), [("least-squares", 1e-9), ("bayesian", 1e-8)])
def test_a_worker_killed_in_mid_run_changes_nothing(season, client, method, digits):
    killed = []
    watching = kill_one_as_soon_as_it_holds_pieces(client, killed)
    found = drift.fit(
        season, method, engine="dask", scheduler=client.scheduler.address, sizes=(300, 200)
    )
    assert killed, "no worker was killed while the fit ran"
    watching.join(5)
    assert_same(alone(season, method), found, digits)


def test_a_scheduler_that_does_not_answer_is_said():
    with (
        pytest.raises(InputError, match=r"no scheduler answers at 'tcp://127\.0\.0\.1:9'"),
        engine_of("dask", "tcp://127.0.0.1:9"),
    ):
        pass


def test_processes_that_cannot_start_are_said(monkeypatch):
    """As in a script that is read from standard input: there is no file for them to read."""

    def refuse(*given, **how):
        raise RuntimeError("Nanny failed to start.")

    monkeypatch.setattr("distributed.Client.start", refuse)
    with (
        pytest.raises(InputError, match="no processes could be started") as refusal,
        engine_of("dask"),
    ):
        pass
    assert "__main__" in refusal.value.remedy
