"""The C library: where it lies, what its functions take, and how an answer of it is read."""

from __future__ import annotations

import ctypes
import functools
import json
import os
import weakref
from pathlib import Path
from typing import Any

_TEXT, _ANSWER, _SIZE, _DOUBLE = ctypes.c_char_p, ctypes.c_void_p, ctypes.c_size_t, ctypes.c_double
_DOUBLES = ctypes.POINTER(_DOUBLE)
_OF_FILE = (_ANSWER, [_TEXT, _TEXT, _DOUBLES, _SIZE])
_OF_SAMPLES = (_ANSWER, [_DOUBLES, _SIZE, _SIZE, _DOUBLE, _TEXT, _DOUBLES, _SIZE])
_FUNCTIONS: dict[str, tuple[Any, list[Any]]] = {
    "track": _OF_FILE,
    "track_samples": _OF_SAMPLES,
    "sweep": _OF_FILE,
    "sweep_samples": _OF_SAMPLES,
    "solve": (_ANSWER, [_TEXT]),
    "place": (_ANSWER, [_TEXT, _TEXT, _DOUBLE]),
    "limit": (_ANSWER, [_TEXT]),
    "answer_draw": (_ANSWER, [_ANSWER, _TEXT]),
    "answer_status": (ctypes.c_int, [_ANSWER]),
    "answer_json": (_TEXT, [_ANSWER]),
    **{f"answer_error_{part}": (_TEXT, [_ANSWER]) for part in ("code", "text", "remedy")},
    "answer_free": (None, [_ANSWER]),
    "version": (_TEXT, []),
    "cautions": (_TEXT, []),
}


class Error(Exception):
    """What is wrong and how to mend it.

    `code` is stable, for programs; `message` says what and where, `remedy` what to do.
    """

    def __init__(self, code: str, message: str, remedy: str) -> None:
        super().__init__(code, message, remedy)
        self.code, self.message, self.remedy = code, message, remedy

    def __str__(self) -> str:
        return f"{self.message}\n mend: {self.remedy}"


def _path() -> str:
    """By COUNTERSPOT_LIBRARY, or where the installation put it as seen from this file."""
    stated = os.environ.get("COUNTERSPOT_LIBRARY")
    if stated:
        return stated
    try:
        from ._installed import LIBRARY  # written when the package is built
    except ImportError:
        raise Error("no_library", "this copy of the package counterspot is not installed and knows of no library",
                    "write the path of libcounterspot_c.so into COUNTERSPOT_LIBRARY") from None
    return str((Path(__file__).parent / LIBRARY).resolve())


@functools.cache
def library() -> ctypes.CDLL:
    """The loaded library; looked for once."""
    path = _path()
    try:
        loaded = ctypes.CDLL(path)
        for name, (result, arguments) in _FUNCTIONS.items():
            function = getattr(loaded, f"counterspot_{name}")
            function.restype, function.argtypes = result, arguments
    except (OSError, AttributeError) as why:
        raise Error("no_library", f"the library {path} cannot be used: {why}",
                    "install Counterspot in the version of this package, or write the library's path into "
                    "COUNTERSPOT_LIBRARY") from None
    return loaded


class Answer:
    """Holds an answer of the library for as long as somebody may want it drawn; then frees it. A copy holds nothing."""

    def __init__(self, pointer: int | None) -> None:
        self.pointer = pointer
        if pointer:
            weakref.finalize(self, library().counterspot_answer_free, pointer)

    def __reduce__(self) -> tuple[type[Answer], tuple[None]]:
        return Answer, (None,)


def ask(function: str, *arguments: Any) -> tuple[dict[str, Any], Answer]:
    """The document that a function of the library answers with. Raises Error with the library's words."""
    c = library()
    answer = Answer(getattr(c, f"counterspot_{function}")(*arguments))
    if not answer.pointer:
        raise MemoryError
    document = c.counterspot_answer_json(answer.pointer)
    if document is not None:
        return json.loads(document), answer
    words = (getattr(c, f"counterspot_answer_error_{part}")(answer.pointer) for part in ("code", "text", "remedy"))
    raise Error(*(word.decode(errors="replace") for word in words))


def cautions() -> str:
    """What to show with every result that has somebody fit a weight or spin a shaft."""
    return str(library().counterspot_cautions().decode())


def version() -> str:
    """Of the library, such as "0.1.0"."""
    return str(library().counterspot_version().decode())
