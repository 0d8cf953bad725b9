"""The open service as a GIS program sees it: GDAL's own OGC API - Features client reads it."""

import json
import subprocess
import sys

import pytest

from services_inventory.models import Premise
from tests.services_inventory.factories import bare_line, line_of

# In a process of its own: GDAL waits for the answer with the interpreter locked.
CLIENT = """
import json, sys, pyogrio
source = f"OAPIF:{sys.argv[1]}/ogc/"
info = pyogrio.read_info(source, layer="service_lines")
every = pyogrio.read_dataframe(source, layer="service_lines")
boxed = pyogrio.read_dataframe(source, layer="service_lines", bbox=(-100.4, 41, -100, 42))
print(json.dumps({
    "layers": [list(layer) for layer in pyogrio.list_layers(source)],
    "info": [info["driver"], info["crs"], info["features"]],
    "categories": sorted(every["category"]),
    "corner": [every.geometry.x.min(), every.geometry.y.max()],
    "boxed": len(boxed),
}))
"""


@pytest.mark.django_db(transaction=True)
def test_gdal_adds_the_layer_by_address_and_reads_it(live_server):
    lead = [line_of("LEAD", "COPPER", address=f"{n} Mill St") for n in range(3)]
    line_of("COPPER", "COPPER", address="9 Oak Ave")
    Premise.objects.filter(pk=lead[0].premise_id).update(longitude=-100.9)
    bare_line("1 Nowhere Rd")  # no category yet, so not in the public inventory
    done = subprocess.run(
        [sys.executable, "-c", CLIENT, live_server.url],
        capture_output=True, text=True, timeout=90, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == {
        "layers": [["service_lines", "Point"]],
        "info": ["OAPIF", "EPSG:4326", 4],
        "categories": ["LEAD", "LEAD", "LEAD", "NON_LEAD"],
        "corner": [-100.9, 41.5],
        "boxed": 3,
    }
