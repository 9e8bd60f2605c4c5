"""A drawing page served for a test on a free port, and plain requests to it."""

import json
import threading
import urllib.error
import urllib.request
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from reachmap.outputs.webmap import assets
from reachmap.web.editor.app import Library, make_app
from reachmap.web.serve import listen, new_token, page_address

LIBRARY = Library(assets.library_script(), assets.library_style())


@dataclass
class Served:
    """A running page: its address and what may be asked of it."""

    address: str

    @property
    def origin(self):
        return "/".join(self.address.split("/")[:3])

    def ask(self, path, body=None, *, json_body=None, headers=None, method=None):
        """Return status, headers and body of an answer; from our own page unless told otherwise."""
        data = json.dumps(json_body).encode() if json_body is not None else body
        sent = {"Origin": self.origin} if data is not None else {}
        sent |= headers or {}
        request = urllib.request.Request(
            self.address + path, data=data, headers=sent, method=method
        )
        try:
            with urllib.request.urlopen(request) as answer:
                return answer.status, answer.headers, answer.read()
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.headers, error.read()

    def told(self, path, **more):
        """Return an answer's JSON."""
        status, _, body = self.ask(path, **more)
        assert status == 200, body
        return json.loads(body)


@contextmanager
def running(app, token):
    """Serve an application until the block is left."""
    place = listen(0)
    server = uvicorn.Server(
        uvicorn.Config(
            app, log_level="critical", lifespan="off", ws="none", timeout_graceful_shutdown=1
        )
    )
    thread = threading.Thread(target=server.run, kwargs={"sockets": [place]}, daemon=True)
    thread.start()
    while not server.started:
        thread.join(0.01)
        assert thread.is_alive()
    try:
        yield Served(page_address(place, token))
    finally:
        server.should_exit = True
        thread.join(10)
        place.close()


@contextmanager
def serving(folder: Path, **more):
    """Serve the drawing page of a folder."""
    token = new_token()
    with running(make_app(folder, library=LIBRARY, token=token, **more), token) as served:
        yield served
