"""Starting the page: the address, the key, the words about it; a port that is taken."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import httpx
import pytest

from facemark.errors import BookError
from facemark.tell.page.serve import LOOPBACK, listening_socket, new_key, page_address, qr_text


def test_a_key_is_128_random_bits_and_new_each_time() -> None:
    keys = {new_key() for _ in range(100)}
    assert len(keys) == 100
    # base64 without padding (RFC 4648): 16 bytes are 22 signs, all of them safe in an address.
    assert all(re.fullmatch(r"[A-Za-z0-9_-]{22}", key) for key in keys)


def test_the_key_stands_behind_the_hash() -> None:
    assert page_address("192.0.2.7", 8077, "KEY") == "http://192.0.2.7:8077/#k=KEY"
    assert len(qr_text("http://192.0.2.7:8077/#k=KEY").splitlines()) > 10


def test_a_taken_port_is_said_with_what_to_do() -> None:
    with listening_socket(LOOPBACK, 0) as first:
        with pytest.raises(BookError, match="cannot be used") as caught:
            listening_socket(LOOPBACK, first.getsockname()[1])
        assert "--port" in caught.value.remedy


def _command(book: Path) -> list[str]:
    return [
        *(sys.executable, "-m", "facemark", "page", "--no-browser"),
        *("--port", "0", "--book", str(book)),
    ]


def test_the_command_serves_this_computer_only(tmp_path: Path) -> None:
    home = {**os.environ, "FACEMARK_HOME": str(tmp_path), "TMPDIR": str(tmp_path)}
    with subprocess.Popen(_command(tmp_path / "b"), stdout=subprocess.PIPE, text=True, env=home) as server:
        try:
            assert server.stdout is not None
            found = re.search(r"(http://127\.0\.0\.1:\d+)/#k=(\S+)", server.stdout.readline())
            assert found is not None
            answer = httpx.get(f"{found[1]}/api/v1/start", headers={"x-facemark-key": found[2]}, timeout=60.0)
            assert answer.status_code == 200
            assert httpx.get(found[1], timeout=60.0).text.startswith("<!doctype html>")
            assert list(tmp_path.glob("facemark-page-*"))
            # The terminal is closed: photos go, as with Ctrl-C; not where these tests run under nohup.
            if hasattr(signal, "SIGHUP") and signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:
                server.send_signal(signal.SIGHUP)
                server.wait(60)
                assert not list(tmp_path.glob("facemark-page-*"))
        finally:
            server.terminate()
            server.wait(60)
