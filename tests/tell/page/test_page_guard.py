"""Nobody comes in who should not, and refusals tell nothing but what is wrong."""

from __future__ import annotations

from typing import Any

import pytest

from facemark.tell.page.guard import SECURITY_HEADERS
from facemark.tell.page.limits import MAX_JSON_BYTES, MAX_UPLOAD_BYTES
from tests.tell.page.served import KEY, Phone

EVERYWHERE = ["/", "/api/v1/start", "/api/v1/openapi.json", "/nothing", "/favicon.ico"]


@pytest.mark.parametrize("path", EVERYWHERE)
def test_every_answer_carries_the_security_headers(phone: Phone, path: str) -> None:
    answer = phone.client.get(path)
    for name, value in SECURITY_HEADERS.items():
        assert answer.headers[name] == value
    assert "server" not in answer.headers
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy


@pytest.mark.parametrize("key", ["", "x", KEY[:-1], KEY + "k", KEY.upper()])
@pytest.mark.parametrize("path", ["/api/v1/start", "/api/v1/openapi.json", "/api/v1/nothing"])
def test_nothing_without_the_key(phone: Phone, path: str, key: str) -> None:
    answer = phone.client.get(path, headers={"x-facemark-key": key})
    assert answer.status_code == 401
    assert answer.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "", "127.0.0.1@evil.example"])
def test_a_strange_host_is_refused_even_with_the_key(phone: Phone, host: str) -> None:
    # What a rebound name looks like: the right address, a foreign name.
    answer = phone.get("/start", headers={"host": host})
    assert answer.status_code == 400


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "https://127.0.0.1"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
    ids=str,
)
def test_other_pages_may_not_even_look(phone: Phone, headers: dict[str, str]) -> None:
    assert phone.get("/start", headers=headers).status_code == 403
    assert phone.client.get("/", headers=headers).status_code == 403


def test_the_page_itself_may(phone: Phone) -> None:
    same = {"origin": phone.address, "sec-fetch-site": "same-origin"}
    assert phone.get("/start", headers=same).status_code == 200


def test_too_large_is_refused_with_and_without_a_length(phone: Phone) -> None:
    set_id = phone.new_set("Size")
    large = b"x" * (MAX_UPLOAD_BYTES + 1)
    assert phone.send(large, set_id).status_code == 413

    def pieces() -> Any:
        for start in range(0, len(large), 1_000_000):
            yield large[start : start + 1_000_000]

    answer = phone.ask("POST", "/photos", content=pieces(), params={"set_id": set_id})
    assert answer.status_code == 413
    long = {"name": "x" * MAX_JSON_BYTES}
    assert phone.ask("POST", "/players", json=long).status_code == 413


@pytest.mark.parametrize(
    "path",
    [
        "/..%2f..%2fetc%2fpasswd",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/app.py",
        "/static/index.html",
        "/index.html%00.js",
        "/api/v1/photos/..%2f..%2fetc%2fpasswd",
        "/api/v1/photos/..%2f..%2fetc%2fpasswd/picture",
        "/api/v1/readings/..%2f..%2fetc%2fpasswd",
    ],
)
def test_no_path_leads_to_a_file(phone: Phone, path: str) -> None:
    answer = phone.client.get(path, headers={"x-facemark-key": KEY})
    assert answer.status_code in (404, 422)
    assert "root:" not in answer.text
    assert "import" not in answer.text


def test_a_photos_name_is_only_a_label(phone: Phone, tags: bytes) -> None:
    sent = phone.send(b"no photo", phone.new_set("Name"), name="../../../etc/passwd")
    state = phone.wait(sent.json())
    assert state["state"] == "failed"
    assert "Traceback" not in str(state)
    assert "facemark-page-" not in str(state)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\0",
        b"GIF89a" + b"\0" * 100,
        b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 99 99\n",
        b"\xff\xd8\xff",
    ],
    ids=["empty", "zero", "gif", "postscript", "torn jpeg"],
)
def test_what_is_no_photo_of_a_phone_is_refused_by_its_content(phone: Phone, data: bytes) -> None:
    sent = phone.send(data, phone.new_set("Junk"), name="face.jpg")
    if not data:
        assert sent.status_code == 422
        return
    state = phone.wait(sent.json())
    assert state["state"] == "failed"
    assert state["error"]["stage"] == "photo"
    assert state["error"]["remedy"]


def test_a_set_that_is_not_there_takes_no_photo(phone: Phone, tags: bytes) -> None:
    for set_id in ("nonsense", "00000000-0000-0000-0000-000000000000"):
        answer = phone.send(tags, set_id)
        assert answer.status_code == 404
        assert answer.headers["content-type"] == "application/problem+json"


def test_only_looking_outside_the_api(phone: Phone) -> None:
    assert phone.client.post("/").status_code == 405
    assert phone.client.request("DELETE", "/index.html").status_code == 405
