"""Numbers of requests in the log, metrics and traces, in a process that has them switched on."""

import http.server
import json
import os
import subprocess
import sys
import threading

import pytest
from django.test import Client
from opentelemetry.proto.collector.trace.v1.trace_service_pb2 import ExportTraceServiceRequest

from program.watching import trace
from tests.source_files import ROOT

WALK = """
import json, logging, os
import program.wsgi
from django.test import Client
client = Client(headers={"host": "localhost"})
page = client.get("/public/en/?q=12+Alder+Lane")
logging.getLogger("a").warning("Said outside a request.")
import program.views.condition as condition
def fails(): raise ValueError("made to fail")
condition.connection.ensure_connection = fails
broken = Client(raise_request_exception=False, headers={"host": "localhost"}).get("/healthy/")
del condition.connection.ensure_connection
link = client.get("/set-password/MQ/secret-token/")
metrics = client.get("/metrics/", headers={"authorization": "Bearer the key"})
print(json.dumps({
    "page": page.headers["X-Request-ID"], "status": page.status_code,
    "broken": broken.headers["X-Request-ID"], "text": broken.content.decode(),
    "metrics": metrics.content.decode(), "type": metrics.headers["Content-Type"],
    "keyless": client.get("/metrics/").status_code,
}))
"""


class Collector(http.server.BaseHTTPRequestHandler):
    """Keeps what is sent to it."""

    def do_POST(self):
        """Keep a message by its path."""
        content = self.rfile.read(int(self.headers["Content-Length"]))
        self.server.kept.append((self.path, self.headers.get("Content-Encoding"), content))
        self.send_response(200)
        self.end_headers()

    def log_message(self, *args):
        """Print nothing."""


@pytest.fixture(scope="module")
def seen(tmp_path_factory, migrated):
    """Return what a process with all of it on answered, logged, and sent."""
    folder = tmp_path_factory.mktemp("data")
    (folder / migrated.name).write_bytes(migrated.read_bytes())
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Collector)
    server.kept = []
    threading.Thread(target=server.serve_forever, daemon=True).start()
    done = subprocess.run(
        [sys.executable, "-c", WALK],
        cwd=ROOT,
        env=os.environ | {
            "DATA_DIR": str(folder), "DATABASE_URL": "", "DEBUG": "", "LOG_FORMAT": "json",
            "METRICS_KEY": "the key", "TRACES_TO": f"http://127.0.0.1:{server.server_port}/",
        },
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    server.shutdown()
    server.server_close()
    assert done.returncode == 0, done.stderr
    return {
        **json.loads(done.stdout),
        "log": [json.loads(line) for line in done.stderr.splitlines()],
        "sent": server.kept,
    }


@pytest.mark.one_engine
class TestSwitchedOn:
    def test_a_line_of_the_log_has_the_number_that_the_page_showed(self, seen):
        said = [line for line in seen["log"] if line["request_id"] == seen["broken"]]
        assert any("made to fail" in line.get("exc_info", "") for line in said)
        assert seen["broken"] in seen["text"] and seen["page"] != seen["broken"]
        outside = next(line for line in seen["log"] if line["name"] == "a")
        assert outside["levelname"] == "WARNING"

    def test_metrics_count_answers_and_tell_of_the_record_to_whoever_has_the_key(self, seen):
        assert seen["keyless"] == 404 and "version=" in seen["type"]
        counted = [line for line in seen["metrics"].splitlines() if not line.startswith("#")]
        assert any('view="healthy"' in line and 'status="500"' in line for line in counted)
        assert "lead_lines_batches_waiting 0.0" in counted

    def test_traces_have_the_route_and_nothing_that_was_asked_for(self, seen):
        assert {path for path, *_ in seen["sent"]} == {"/v1/traces"}
        content = b"".join(content for _, _, content in seen["sent"])
        assert b"Alder" not in content and b"secret-token" not in content
        sent = [ExportTraceServiceRequest.FromString(one) for *_, one in seen["sent"]]
        names = [
            span.name
            for request in sent
            for resource in request.resource_spans
            for scope in resource.scope_spans
            for span in scope.spans
        ]
        assert "GET healthy/" in names and len(names) == 5


@pytest.mark.django_db
def test_by_default_there_are_numbers_but_neither_metrics_nor_traces(settings):
    number = "0123456789abcdef0123456789abcdef"
    answer = Client().get("/healthy/", headers={"x-request-id": number})
    assert answer.headers["X-Request-ID"] == number
    answer = Client().get("/healthy/", headers={"x-request-id": "<b>no number</b>\n"})
    assert len(answer.headers["X-Request-ID"]) == 32
    assert Client().get("/metrics/", headers={"authorization": "Bearer "}).status_code == 404
    trace()
    assert not any("prometheus" in one or "opentelemetry" in one for one in settings.MIDDLEWARE)
