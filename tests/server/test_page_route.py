"""The page as served: its initial words cannot break out, and it asks nothing of anyone else."""

import json
import re

from server.templates import bench_html


def test_the_page_knows_where_its_api_is(client):
    answer = client.get("/")
    assert answer.status_code == 200 and answer.headers["content-type"].startswith("text/html")
    block = re.search(r'<script type="application/json" id="initial">(.*?)</script>', answer.text, re.DOTALL)
    assert json.loads(block[1])["api"] == "/api"
    assert not re.search(r"https?://", answer.text)


def test_nothing_ends_the_script_early():
    page = bench_html({"version": "</script><script>alert(1)</script>&<!--"})
    block = re.search(r'id="initial">(.*?)</script>', page, re.DOTALL)
    assert json.loads(block[1])["version"] == "</script><script>alert(1)</script>&<!--"


def test_the_api_describes_itself(client):
    document = client.get("/api/openapi.json").json()
    assert {"/api/plan", "/api/assets", "/api/jobs/{job}", "/api/prove"} <= set(document["paths"])
    for path, methods in document["paths"].items():
        for facts in methods.values():
            assert facts.get("description") or facts.get("summary"), path
