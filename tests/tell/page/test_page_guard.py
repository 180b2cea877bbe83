"""Nobody comes in who should not, and refusals tell nothing but what is wrong."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from facemark.tell.page import desk, guard, uploads
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


@pytest.mark.parametrize(
    "host", ["[", "evil.example", "127.0.0.1.evil.example", "", "127.0.0.1@evil.example"]
)
def test_a_strange_host_is_refused_even_with_the_key(phone: Phone, host: str) -> None:
    # What a rebound name looks like: the right address, a foreign name.
    answer = phone.get("/start", headers={"host": host})
    assert answer.status_code == 400


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://["},
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
    refused = phone.ask("POST", "/players", json=long)
    assert refused.status_code == 413
    assert "photo" not in refused.json()["remedy"]

    def chunks() -> Any:
        yield b'{"name": "'
        yield b"x" * MAX_JSON_BYTES

    answer = phone.ask("POST", "/players", content=chunks(), headers={"content-type": "application/json"})
    assert answer.status_code == 413


def test_a_body_that_stops_coming_is_given_up() -> None:
    async def silent() -> Any:
        await asyncio.sleep(60.0)

    async def ended() -> Any:
        return {"type": "http.request", "body": b"x", "more_body": False}

    async def ask() -> None:
        with pytest.raises(guard.TooSlowError):
            await guard._limited(silent, 10)()
        assert (await guard._limited(ended, 10)())["body"] == b"x"

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(guard, "BODY_S", 0.05)
        asyncio.run(ask())


def test_too_many_photos_are_refused_with_what_to_do(
    phone: Phone, tags: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_id = phone.new_set("Many")
    for module, limit, status in (
        (desk, "MAX_WAITING", 503),
        (uploads, "MAX_KEPT_BYTES", 503),
        (guard, "UPLOADS_PER_MINUTE", 429),
    ):
        with monkeypatch.context() as patch:
            patch.setattr(module, limit, -1)
            answer = phone.send(tags, set_id)
            assert answer.status_code == status
            assert answer.headers["retry-after"]
            assert answer.json()["remedy"]


def test_a_wrong_number_is_named_as_the_page_names_it(phone: Phone) -> None:
    answer = phone.get("/sets/none/plan", params={"head_mm": 11.8})  # typed in centimetres
    assert answer.status_code == 422
    assert answer.json()["detail"].startswith("The head's length in mm: it should be ")
    assert "greater than or equal to 40" in answer.json()["detail"]


def test_a_photo_nobody_sent_is_not_there(phone: Phone) -> None:
    assert phone.get("/photos/0123456789abcdef").status_code == 404
    assert phone.ask("POST", "/photos/0123456789abcdef/read", json={}).status_code == 404


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
