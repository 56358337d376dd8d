#!/usr/bin/env python3
"""What only a network of the test's own can show: guesses from the addresses of one IPv6 network count together, and clients that ask
and never read their answer hold up nobody.

usage: network_test.py PROGRAM DATA_FOLDER      where no network may be made, it says that it did not run
"""
import os
import pathlib
import socket
import subprocess
import sys
import tempfile
import time
import urllib.parse

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from console_program import Console, SLOWER  # noqa: E402

PROGRAM, DATA = sys.argv[1:3]
TOKEN = "f3a1-workshop-7-tablet"
# Documentation prefix of RFC 3849: two networks of 2^64 addresses each (RFC 4291, 2.5.4), both on this machine's loopback.
ONE, OTHER = "2001:db8:0:1", "2001:db8:0:2"
SMALLEST_BUFFER = 4096  # bytes that the kernel keeps of an answer; the page's script is several times as long
PAGE_S = 2.0 * SLOWER
# Without a byte taken a connection is given up after 5 s (Pace in connection.hpp).
GIVEN_UP_S = 15.0 * SLOWER


def in_a_network_of_its_own():
    """Starts this test once more where there is nothing but loopback."""
    own = ["unshare", "--net"] + ([] if os.geteuid() == 0 else ["--map-root-user"])
    if subprocess.run([*own, "true"], capture_output=True, check=False).returncode != 0:
        print("not run: nobody may make a network here")
        return 0
    return subprocess.run([*own, sys.executable, *sys.argv, "inside"], check=False).returncode


def set_up_the_network():
    subprocess.run(["ip", "link", "set", "lo", "up"], check=True)
    for network in (ONE, OTHER):
        subprocess.run(["ip", "-6", "route", "add", "local", f"{network}::/64", "dev", "lo"], check=True)
    for what, value in (("ipv6/ip_nonlocal_bind", "1"), ("ipv4/tcp_wmem", f"{SMALLEST_BUFFER} {SMALLEST_BUFFER} {SMALLEST_BUFFER}")):
        pathlib.Path("/proc/sys/net", what).write_text(value, encoding="ascii")


def the_addresses_of_one_network_guess_together(folder):
    with Console(PROGRAM, DATA, folder, "--address", "::", "--token", TOKEN) as console:
        def tried(source, token):
            return console.code("GET", "/?token=" + urllib.parse.quote(token), source=source, address=f"{ONE}::1")

        guesses = [tried(f"{ONE}::{number:x}:{number:x}", f"guess-{number}")[0] for number in range(1, 101)]
        assert guesses[:4] == [401] * 4 and guesses.count(401) <= 6, guesses
        assert tried(f"{ONE}::abcd", TOKEN) == (429, "too_many_guesses"), "another address of the network is let in"
        assert tried(f"{OTHER}::abcd", "one mistake") == (401, "wrong_token"), "another network has to wait"
        status, headers, _ = console.ask("GET", f"/?token={TOKEN}", source=f"{OTHER}::abcd", address=f"{OTHER}::1")
        assert status == 302 and "Set-Cookie" in headers


class WhoNeverReads:
    """Asks, and takes nothing of what comes."""

    def __init__(self, console, path, count):
        self.connections = []
        for _ in range(count):
            connection = socket.socket()
            connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1)  # the kernel's least
            connection.connect(("127.0.0.1", console.port))
            connection.sendall(console.head("GET", path).encode())
            self.connections.append(connection)
        time.sleep(0.5)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        for each in self.connections:
            each.close()


def seconds_for_the_page(console):
    begin = time.monotonic()
    assert console.ask("GET", "/")[0] == 200
    return time.monotonic() - begin


def who_does_not_read_holds_up_nobody(folder):
    with Console(PROGRAM, DATA, folder) as console:
        assert console.ask("GET", "/")[0] == 200
        time.sleep(0.2)
        resting = console.threads()
        for path, count in (("/console.js", 100), ("/api/live", 70)):
            with WhoNeverReads(console, path, count):
                begin = time.monotonic()
                held = console.threads() - resting
                assert held > count / 2, f"the answers were short enough for the kernel: {held} wait for a reader"
                took = [seconds_for_the_page(console) for _ in range(5)]
                assert max(took) < PAGE_S, (path, took)
                while console.threads() > resting:
                    assert time.monotonic() < begin + GIVEN_UP_S, f"{console.threads() - resting} still wait for {path} to be read"
                    assert seconds_for_the_page(console) < PAGE_S
                    time.sleep(0.1)
                print(f"  {count} that ask for {path} and do not read: {held} waited for, given up after {time.monotonic() - begin:.1f} s; the "
                      f"page took {1e3 * max(took):.0f} ms at most")


def main():
    if sys.argv[3:] != ["inside"]:
        sys.exit(in_a_network_of_its_own())
    set_up_the_network()
    for test in (the_addresses_of_one_network_guess_together, who_does_not_read_holds_up_nobody):
        with tempfile.TemporaryDirectory() as folder:
            test(folder)
        print("ok:", test.__name__.replace("_", " "), flush=True)


main()
