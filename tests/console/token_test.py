#!/usr/bin/env python3
"""Who has the console's token, who guesses it, and who was let in: asked of the real program.

usage: token_test.py PROGRAM DATA_FOLDER
"""
import pathlib
import re
import socket
import subprocess
import sys
import tempfile
import time
import urllib.parse

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from console_program import Console  # noqa: E402

PROGRAM, DATA = sys.argv[1:3]
TOKEN = "f3a1-workshop-7-tablet"


def cookie_for(console, token, **more):
    """What a browser keeps that opens the address with this token."""
    status, headers, text = console.ask("GET", "/?token=" + urllib.parse.quote(token, safe=""), **more)
    assert status == 302 and headers["Location"] == "/", (status, text)
    kept = headers["Set-Cookie"]
    assert "HttpOnly" in kept and "SameSite=Strict" in kept and token not in kept
    return {"Cookie": kept.split(";")[0]}


def another_address_needs_a_token_that_is_not_soon_guessed(folder):
    def refused(*more):
        line = Console(PROGRAM, DATA, folder, "--address", "0.0.0.0", *more).command_line
        run = subprocess.run(line, capture_output=True, text=True, timeout=20, check=False)
        assert run.returncode == 2 and run.stdout == "", run
        return run.stderr

    assert "needs a token" in refused()
    assert "can be guessed" in refused("--token", "1") and "can be guessed" in refused("--token", 14 * "x")
    assert "control characters" in refused("--token", "fifteen-letters\nand-more")
    assert "at most 256" in refused("--token", 300 * "x")
    with Console(PROGRAM, DATA, folder, "--address", "0.0.0.0", "--token", 15 * "x") as console:
        host = re.fullmatch(r"http://(.*):\d+/\?token=x{15}", console.url)[1]
        assert host != "0.0.0.0" and socket.create_connection((host, console.port), 5), "what is printed opens"
        let_in = cookie_for(console, 15 * "x")
        assert console.code("GET", "/api/now") == (401, "needs_token")
        assert console.ask("GET", "/api/now", let_in)[0] == 200
        assert console.code("GET", "/api/now", let_in, host=f"evil.example:{console.port}") == (403, "wrong_host")


def a_wrong_token_changes_nothing(folder):
    """As when a page of another site sends the operator's browser here with one."""
    with Console(PROGRAM, DATA, folder, "--token", TOKEN) as console:
        let_in = cookie_for(console, TOKEN)
        for known in ({}, let_in):
            for site in ({}, {"Sec-Fetch-Site": "cross-site"}):
                status, headers, _ = console.ask("GET", "/?token=junk", {**known, **site})
                assert status == (302 if known else 401) and "Set-Cookie" not in headers, (known, status)
        assert console.ask("GET", "/api/now", let_in)[0] == 200
        name, value = let_in["Cookie"].split("=")
        for wrong in (f"{name}={TOKEN}", f"{name}=", f"x{name}={value}", f"{name}x={value}", f"{name}={value}0", value):
            assert console.code("GET", "/api/now", {"Cookie": wrong}) == (401, "needs_token"), wrong
        for right in (f"other=1; {name}={value}", f"{name}=junk; {name}={value};other=2"):
            assert console.ask("GET", "/api/now", {"Cookie": right})[0] == 200, right


def two_consoles_on_one_host_keep_their_cookies_apart(folder):
    with Console(PROGRAM, DATA, folder, "--token", TOKEN) as one, Console(PROGRAM, DATA, folder, "--token", TOKEN) as other:
        first, second = cookie_for(one, TOKEN)["Cookie"], cookie_for(other, TOKEN)["Cookie"]
        assert first.split("=")[0] != second.split("=")[0] and str(one.port) in first
        both = {"Cookie": f"{first}; {second}"}  # RFC 6265, 8.5: cookies are not kept apart by port
        assert one.ask("GET", "/api/now", both)[0] == 200 and other.ask("GET", "/api/now", both)[0] == 200


def who_guesses_has_to_wait_and_nobody_else_has_to(folder):
    with Console(PROGRAM, DATA, folder, "--token", TOKEN) as console:
        let_in = cookie_for(console, TOKEN)
        guesses = [console.code("GET", f"/?token=guess-{number}")[0] for number in range(200)]
        assert guesses[:4] == [401] * 4 and guesses.count(401) <= 6, "more than a few were looked at"
        assert console.code("GET", f"/?token={TOKEN}") == (429, "too_many_guesses"), "the right one could be told from others"
        assert console.ask("GET", "/api/now", let_in)[0] == 200, "who was let in is not shut out"
        cookie_for(console, TOKEN, source="127.0.0.2")
        begin = time.monotonic()
        while console.ask("GET", f"/?token={TOKEN}")[0] != 302:
            assert time.monotonic() < begin + 10
            time.sleep(0.1)
        assert time.monotonic() > begin + 0.5


def a_token_comes_from_a_file_or_the_environment_unseen(folder):
    file = pathlib.Path(folder, "token")
    for ending in ("\n", "\r\n", "", "\nsecond line\n"):
        file.write_bytes((TOKEN + ending).encode())
        with Console(PROGRAM, DATA, folder, "--token-file", str(file)) as console:
            cookie_for(console, TOKEN)
            shown = pathlib.Path(f"/proc/{console.process.pid}/cmdline").read_bytes()
            assert TOKEN.encode() not in shown
    with Console(PROGRAM, DATA, folder, environment={"COUNTERSPOT_TOKEN": TOKEN}) as console:
        assert console.code("GET", "/api/now") == (401, "needs_token")
        cookie_for(console, TOKEN)
    for nothing in ("", "\n", None):
        file.unlink(missing_ok=True)
        if nothing is not None:
            file.write_text(nothing, encoding="ascii")
        run = subprocess.run(Console(PROGRAM, DATA, folder, "--token-file", str(file)).command_line, capture_output=True, text=True,
                             timeout=20, check=False)
        assert run.returncode == 2 and "no token" in run.stderr, run


def the_address_that_is_printed_opens_whatever_the_token_holds(folder):
    for token in ("two words & more = 100 %", "a/b?c#d+e;f", "Prüfstand 7 µm", "\"quoted\" <and> \\so"):
        with Console(PROGRAM, DATA, folder, "--token", token) as console:
            address = urllib.parse.urlsplit(console.url)
            status, headers, _ = console.ask("GET", f"{address.path}?{address.query}")
            assert status == 302 and console.ask("GET", "/", {"Cookie": headers["Set-Cookie"].split(";")[0]})[0] == 200, token


def at_port_80_clients_do_not_name_the_port(folder):
    """RFC 9110, 4.2.1: it is left out where it is HTTP's own."""
    try:
        with socket.socket() as tried:
            tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            tried.bind(("127.0.0.1", 80))
    except OSError as trouble:
        print("not run: nothing can be served at port 80 here:", trouble)
        return
    with Console(PROGRAM, DATA, folder, port=80) as console:
        for host in ("127.0.0.1", "127.0.0.1:80", "localhost", "[::1]", "[::1]:80"):
            for origin in (f"http://{host}", f"http://{host.removesuffix(':80')}"):
                headers = {"Origin": origin, "X-Counterspot": "1"}
                assert console.ask("POST", "/api/practice", headers, b"{}", host=host)[0] == 200, (host, origin)
        for host in ("127.0.0.1:81", "evil.example", "[::1", "127.0.0.1:", ""):
            assert console.code("GET", "/api/now", host=host or " ") == (403, "wrong_host"), host
        for origin in ("http://127.0.0.1:81", "https://127.0.0.1", "http://localhost", "null"):
            assert console.code("GET", "/api/now", {"Origin": origin}, host="127.0.0.1") == (403, "other_site"), origin


def main():
    for test in (another_address_needs_a_token_that_is_not_soon_guessed, a_wrong_token_changes_nothing,
                 two_consoles_on_one_host_keep_their_cookies_apart, who_guesses_has_to_wait_and_nobody_else_has_to,
                 a_token_comes_from_a_file_or_the_environment_unseen, the_address_that_is_printed_opens_whatever_the_token_holds,
                 at_port_80_clients_do_not_name_the_port):
        with tempfile.TemporaryDirectory() as folder:
            test(folder)
        print("ok:", test.__name__.replace("_", " "), flush=True)


main()
