"""Kernels: loops over arrays, compiled by numba where the extra ``fast`` is installed, or plain Python.

A kernel is written once, in the Python that numba understands. `compile_kernel` returns it compiled, with the
plain function kept beside it (`plain_twin`): tests compare the two, and a machine without numba runs the
plain one, slower, and is told so once.

What was compiled is kept on disk, beside the modules, and read again by the next process. That store watches
only the file of the kernel itself: so **a kernel calls kernels of its own file and no others**, or a change
in the other file would go unnoticed.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any

try:
    import numba
except ImportError:  # the extra `fast` is not installed
    COMPILES = False
else:
    COMPILES = True
"""Whether kernels are compiled here."""


Kernel = Callable[..., Any]

NOTICE = "numba is not installed: computing in plain Python, which is slower (the extra 'fast' brings it)"
NOWHERE = "no folder to keep compiled kernels in (NUMBA_CACHE_DIR may name one): every process compiles"

_log = logging.getLogger(__name__)
_said: set[str] = set()


def compile_kernel(kernel: Kernel) -> Any:
    """The kernel compiled at its first call (or read from disk); as it is where numba is absent.

    Where no folder can be written it is compiled all the same, and kept in memory alone.
    """
    if not COMPILES:
        return kernel
    try:
        return numba.njit(cache=True, nogil=True)(kernel)
    except RuntimeError as error:
        if "cannot cache" not in str(error):
            raise
        if NOWHERE not in _said:
            _said.add(NOWHERE)
            _log.warning(NOWHERE)
        return numba.njit(nogil=True)(kernel)


def plain_twin(kernel: Any) -> Any:
    """The kernel as plain Python. Kernels that it calls are still the compiled ones."""
    return getattr(kernel, "py_func", kernel)


def say_once_if_slow() -> None:
    """Log, once in the life of a process, that kernels run as plain Python."""
    if not COMPILES and NOTICE not in _said:
        _said.add(NOTICE)
        _log.warning(NOTICE)
