"""Reading flows in several processes, this one among them: each once, in order, errors told."""

from concurrent.futures import Executor, Future

import pytest

from reachmap.pipeline.reading import PARTS, _spread

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
    assert list(_spread(pool, work, 2, FLOWS)) == [-flow for flow in FLOWS]
    assert sorted(done) == FLOWS
    assert all(future.done() for future in pool.sent)


def test_an_error_here_is_told_and_nothing_is_left_waiting():
    def work(_flows):
        msg = "no water"
        raise ValueError(msg)
        yield

    pool = Pool(0)
    with pytest.raises(ValueError, match="no water"):
        list(_spread(pool, work, 2, FLOWS))
    assert all(future.cancelled() for future in pool.sent)
