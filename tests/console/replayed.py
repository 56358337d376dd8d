"""The page in front of a console whose answers do not change: dates are those of one day, and what was live is held still."""
import http.server
import json
import pathlib
import re
import sys
import threading
import time
import urllib.error
import urllib.parse
import urllib.request

DAY = "2026-01-05"
HELD_EVERY_S = 0.4


def how_far_proved(language):
    """How the page may say how far the search for pieces came, which is a matter of how busy the machine is, and the longest way, said always."""
    texts = json.loads((pathlib.Path(__file__).resolve().parents[2] / f"src/console/page/words_{language}.json").read_text(encoding="utf-8"))
    ways = (re.escape(texts[key]).replace(r"\{\}", r"[\d.,]+") for key in ("stock_proven", "stock_not_proven"))
    return re.compile("|".join(ways)), texts["stock_as_good"]


PROOFS = [how_far_proved(language) for language in ("en", "de")]


def of_one_day(content, kind):
    """Dates, times of day and the time that a search was given scatter from run to run."""
    if not any(each in kind for each in ("json", "event-stream")):
        return content
    text = content.decode()
    for proof, always in PROOFS:
        text = proof.sub(always, text)
    return re.sub(r"\b20\d\d-\d\d-\d\d([T ]\d\d:\d\d(:\d\d)?)?", lambda found: DAY + (" 08:00" if found[1] else ""), text).encode()


def key_of(path, language):
    """An address, whatever the order of its parameters; what has no language is asked for in the console's."""
    parts = urllib.parse.urlsplit(path)
    asked = dict(urllib.parse.parse_qsl(parts.query, keep_blank_values=True))
    if not asked.get("language"):
        asked["language"] = language
    asked.pop("number", None)  # of a live curve, which is asked for over and over
    return parts.path, tuple(sorted(asked.items()))


def pictures_in(told):
    """Addresses of pictures anywhere in a document."""
    if isinstance(told, dict):
        return [address for each in told.values() for address in pictures_in(each)]
    if isinstance(told, list):
        return [address for each in told for address in pictures_in(each)]
    return [told] if isinstance(told, str) and told.startswith("/") and ".svg?" in told else []


class Server(http.server.ThreadingHTTPServer):
    daemon_threads = True

    def handle_error(self, request, client_address):
        """A page that is left cuts its connections off."""
        if not isinstance(sys.exc_info()[1], ConnectionError):
            super().handle_error(request, client_address)


class Replayed:
    """Answers for a console: what was held still from there, all else from the console itself. Until the end of the block."""

    def __init__(self):
        self.console, self.language, self.held = None, "en", {}
        replayed = self

        class Answer(http.server.BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_GET(self):  # noqa: N802: the name that http.server calls
                replayed.answer(self)

            def log_message(self, *_):
                pass

        self.server = Server(("127.0.0.1", 0), Answer)
        self.url = f"http://127.0.0.1:{self.server.server_address[1]}/"

    def __enter__(self):
        threading.Thread(target=self.server.serve_forever, daemon=True).start()
        return self

    def __exit__(self, *_):
        self.server.shutdown()
        self.server.server_close()

    def show(self, console, held=None):
        """@param held what hold() gave; nothing: the console as it is."""
        self.console, self.held = console, held or {}

    def asked(self, path):
        found = self.held.get(key_of(path, self.language))
        if found:
            return found
        with urllib.request.urlopen(self.console.url + path.lstrip("/"), timeout=60) as answer:
            kind = answer.headers["Content-Type"]
            return kind, of_one_day(answer.read(), kind)

    def answer(self, request):
        if request.path.startswith("/api/live?"):
            self.stream(request)
            return
        try:
            kind, content = self.asked(request.path)
            status = 200
        except urllib.error.HTTPError as error:
            kind, content, status = error.headers["Content-Type"], error.read(), error.code
        try:
            request.send_response(status)
            request.send_header("Content-Type", kind)
            request.send_header("Content-Length", str(len(content)))
            request.end_headers()
            request.wfile.write(content)
        except OSError:  # the page went on meanwhile
            request.close_connection = True

    def stream(self, request):
        """The same event over and over, as long as the page listens."""
        _, event = self.asked(request.path.replace("/api/live?", "/api/live-once?"))
        request.send_response(200)
        request.send_header("Content-Type", "text/event-stream")
        request.send_header("Connection", "close")
        request.end_headers()
        console = self.console
        try:
            while console is self.console:
                request.wfile.write(b"data: " + event + b"\n\n")
                request.wfile.flush()
                time.sleep(HELD_EVERY_S)
        except OSError:  # the page listens no more
            pass
        request.close_connection = True


def still(live):
    """A live event with the values that scatter at fixed ones; its words and what it shows stay."""
    live["news_age_s"], live["age_s"] = 9.0 if live["old"] else 0.0, 0.0
    if live["speed_rpm"] > 100:
        live["speed"] = str(100 * round(live["speed_rpm"] / 100)) if live["alarm"] else "1620"
    if live["alarm"]:
        live["alarm"]["more"] = re.sub(r"\b\d+(?= )", live["speed"], live["alarm"]["more"], count=1)
    if live["old"]:
        for words in ("said", "told", "sign"):
            live[words] = re.sub(r"\b\d+(?= s\b)", "9", live[words])
    for level, bar in zip(live["levels"], (0.55, 0.5, 0.9)):
        level["bar"] = bar
    if live["phase"] == "recording":
        live["progress"] = 0.4
        live["said"] = re.sub(r"\d+", "2", live["said"])
    for face in live["faces"]:
        face["lens"] = None  # a vector is short now and then
        face["picture"] = {theme: re.sub("lens=[^&]+", "lens=0", address) for theme, address in face["picture"].items()}
        if face["tip"] is None:
            continue
        x, y = face["centre"]
        face["tip"] = [x + 0.2 * face["size"], y + 0.12 * face["size"]]
        tip_x, tip_y = face["tip"]
        face["ellipse"] = [[tip_x + 3, tip_y], [tip_x, tip_y + 2], [tip_x - 3, tip_y], [tip_x, tip_y - 2]]
        face["words"] = re.sub(r"[\d.,]+ ± [\d.,]+", "0.50 ± 0.02", re.sub(r"\d+:\d\d", "4:02", face["words"]))
    return live


def still_of_new_rig(live):
    """The same of a rig that has no file yet."""
    for level, bar in zip(live["levels"], (0.55, 0.5, 0.9, 0.1)):
        level["bar"], level["words"] = bar, "−40 dB"
    return live


def hold(console, languages=("en", "de"), units="units=metric&", change=still, curves=()):
    """What a console says in this moment of its job, its live event and the pictures of both, for as long as one likes. Curves move on, so
    they are fetched first."""
    held = {}

    def fetch(path):
        with urllib.request.urlopen(console.url + path[1:], timeout=60) as answer:
            return answer.headers["Content-Type"], answer.read()

    def hold_picture(address, language):
        for theme in ("light", "dark"):
            address = re.sub(r"theme=\w+", "theme=" + theme, address)
            held[key_of(address, language)] = fetch(address)

    for curve in curves:
        for language in languages:
            hold_picture(f"/live-{curve}.svg?theme=light&{units}language={language}", language)
    for language in languages:
        for path, changed in (("/api/now", lambda told: told), ("/api/live-once", change)):
            asked = f"{path}?{units}language={language}"
            told = changed(json.loads(of_one_day(fetch(asked)[1], "json")))
            held[key_of(asked, language)] = ("application/json", json.dumps(told).encode())
            for address in pictures_in(told):
                hold_picture(address, language)
    return held
