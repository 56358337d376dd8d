#!/usr/bin/env python3
"""Counterspot from Python, through its C interface: what to fit, and is the shaft within its limit?

    solve.py spins.toml

The same calls serve any language that can load a shared library. COUNTERSPOT_LIBRARY names it, if it is not installed.
"""
import ctypes
import json
import os
import sys


class CounterspotError(Exception):
    """`status` is the program's exit code for it, `code` is stable, the text says what and how to mend it."""

    def __init__(self, status, code, text, remedy):
        super().__init__(f"{text}\n mend: {remedy}")
        self.status = status
        self.code = code


class Counterspot:
    def __init__(self, library="libcounterspot_c.so.0.1"):
        self._c = ctypes.CDLL(library)
        path, answer = ctypes.c_char_p, ctypes.c_void_p
        orders = [ctypes.POINTER(ctypes.c_double), ctypes.c_size_t]
        self._declare("counterspot_track", answer, [path, path, *orders])
        self._declare("counterspot_solve", answer, [path])
        self._declare("counterspot_limit", answer, [path])
        self._declare("counterspot_answer_status", ctypes.c_int, [answer])
        for part in ("json", "error_code", "error_text", "error_remedy"):
            self._declare(f"counterspot_answer_{part}", ctypes.c_char_p, [answer])
        self._declare("counterspot_answer_free", None, [answer])
        self._declare("counterspot_cautions", ctypes.c_char_p, [])
        self.cautions = self._c.counterspot_cautions().decode()

    def _declare(self, name, result, arguments):
        function = getattr(self._c, name)
        function.restype, function.argtypes = result, arguments

    def _result(self, answer):
        """The document of an answer, or its error; the answer is freed."""
        if not answer:
            raise MemoryError
        try:
            status = self._c.counterspot_answer_status(answer)
            if status == 0:
                return json.loads(self._c.counterspot_answer_json(answer))
            parts = (getattr(self._c, f"counterspot_answer_error_{part}")(answer) for part in ("code", "text", "remedy"))
            raise CounterspotError(status, *(part.decode(errors="replace") for part in parts))
        finally:
            self._c.counterspot_answer_free(answer)

    def track(self, recording, rig, orders=(1.0,)):
        array = (ctypes.c_double * len(orders))(*orders)
        return self._result(self._c.counterspot_track(os.fsencode(recording), os.fsencode(rig), array, len(orders)))

    def solve(self, spins):
        return self._result(self._c.counterspot_solve(os.fsencode(spins)))

    def limit(self, shaft):
        return self._result(self._c.counterspot_limit(os.fsencode(shaft)))


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    counterspot = Counterspot(os.environ.get("COUNTERSPOT_LIBRARY", "libcounterspot_c.so.0.1"))
    try:
        solution = counterspot.solve(sys.argv[1])
    except CounterspotError as error:
        print(f"error: {error}", file=sys.stderr)
        sys.exit(error.status)
    if solution["trial_weights_on"]:
        print("the trial weights taken off:")
    for plane in solution["planes"]:
        fit = plane["correction_bare"]
        print(f"plane {plane['name']}: {plane['residual_gmm']:.0f} g·mm now; fit {fit['mass_g']:.1f} g at {fit['clock']}")
    print(f"verdict: {solution['verdict']}")
    print(counterspot.cautions)
    sys.exit(0 if solution["verdict"] == "within" else 1)


if __name__ == "__main__":
    main()
