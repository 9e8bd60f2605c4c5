"""Reading flows in several processes, this one among them: each once, in order, errors told."""

from concurrent.futures import Executor, Future
from types import SimpleNamespace

import pytest

from reachmap.pipeline import readers
from reachmap.pipeline.readers import PARTS, Readers, spread

FLOWS = list(range(19))


class Pool(Executor):
    """Runs the first parts it is given at once; the rest wait for ever, fit to be taken back."""

    def __init__(self, ready: int) -> None:
        """Keep how many are run."""
        self.ready, self.sent = ready, []

    def submit(self, work, *args, **options):
        """Return a part's future."""
        future = Future()
        if len(self.sent) < self.ready:
            future.set_running_or_notify_cancel()
            future.set_result(work(*args, **options))
        self.sent.append(future)
        return future


@pytest.mark.parametrize("ready", [0, 1, 3, 2 * PARTS])
def test_what_no_other_process_begins_is_done_here_once_and_in_order(ready):
    done = []

    def work(flows):
        for flow in flows:
            done.append(flow)
            yield -flow

    pool = Pool(ready)
    kept = list(spread(pool, work, lambda flow, made: (flow, made), 2, FLOWS))
    assert kept == [(flow, -flow) for flow in FLOWS]
    assert sorted(done) == FLOWS
    assert all(future.done() for future in pool.sent)


def test_an_error_here_is_told_and_nothing_is_left_waiting():
    def work(_flows):
        msg = "no water"
        raise ValueError(msg)
        yield

    pool = Pool(0)
    with pytest.raises(ValueError, match="no water"):
        list(spread(pool, work, lambda *pair: pair, 2, FLOWS))
    assert all(future.cancelled() for future in pool.sent)


def test_what_is_read_is_stored_at_once_and_not_at_the_end():
    told = []

    def work(flows):
        for flow in flows:
            told.append(("read", flow))
            yield flow

    def keep(flow, _):
        told.append(("kept", flow))
        return flow

    pool = Pool(0)
    assert list(spread(pool, work, keep, 2, FLOWS)) == FLOWS
    size = -(-len(FLOWS) // (2 * PARTS))
    last = FLOWS[(len(pool.sent) - 1) * size :]
    assert told[: 2 * len(last)] == [(what, flow) for what in ("read", "kept") for flow in last]


def test_what_others_have_done_is_stored_before_this_process_reads_more():
    pool, stored = Pool(1), []

    def work(flows):
        for flow in flows:
            if len(pool.sent) > 2 and not pool.sent[2].done():  # done elsewhere, out of turn
                pool.sent[2].cancel = lambda: False
                pool.sent[2].set_result(parts[2])
            here.append((flow, list(stored)))
            yield flow

    def keep(flow, _):
        stored.append(flow)
        return flow

    size = -(-len(FLOWS) // (2 * PARTS))
    parts = [FLOWS[k : k + size] for k in range(0, len(FLOWS), size)]
    here = []
    assert list(spread(pool, work, keep, 2, FLOWS)) == FLOWS
    first, then = parts[-1][0], parts[-2][0]
    before = dict(here)
    assert not set(parts[2]) & set(before[first])
    assert set(parts[2]) <= set(before[then])


@pytest.mark.parametrize(
    ("first_run", "stored", "given_out"),
    [(False, 0, 9), (True, 0, 8), (True, 3, 5), (True, 9, 0), (False, 9, 0), (False, 8, 0)],
)
def test_on_a_first_run_one_flow_is_read_here_before_the_others_are_given_out(
    monkeypatch, first_run, stored, given_out
):
    # with one flow to read, or none, nothing is given out
    tasks = [SimpleNamespace(number=k, flow=None if k < stored else 1.0) for k in range(9)]
    given = []

    def others(_pool, work, keep, _workers, some):
        given.extend(some)
        yield from map(keep, some, work(some))

    monkeypatch.setattr(readers, "must_compile_readers", lambda: first_run)
    monkeypatch.setattr(readers, "spread", others)
    found = list(Readers(2).read(iter, lambda task, made: (task.number, made.number), tasks))
    assert found == [(k, k) for k in range(9)]
    assert len(given) == given_out


def test_one_worker_reads_here_alone(monkeypatch):
    monkeypatch.setattr(readers, "ProcessPoolExecutor", None)
    mine = Readers(1)
    mine.begin()
    tasks = [SimpleNamespace(flow=1.0)] * 3
    assert list(mine.read(iter, lambda task, made: task is made, tasks)) == [True] * 3
