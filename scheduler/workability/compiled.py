"""One switch for compiling the hour loop: plain scalar functions in, machine code out.

The equations of this room are written as small functions of numbers, so that they read like the books;
the loop over fields, members and hours calls them some millions of times, which only compiled code can
afford. The machine code is kept on disk between runs. The compiler looks for changes only in the file of the
function itself, while the loop calls functions of other files; so the stamp by which kept code is
recognised is made here, from the text of all files that hold compiled code.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

from numba import njit

Function = TypeVar("Function", bound=Callable[..., Any])

KERNEL_FILES = ("compiled", "evaporation", "judging", "layout", "runoff", "soil_loop")


def source_stamp(folder: Path = Path(__file__).parent) -> str:
    """Fingerprint of every file that holds compiled code or the constants it uses."""
    digest = hashlib.sha256()
    for name in KERNEL_FILES:
        digest.update((folder / f"{name}.py").read_bytes())
    return digest.hexdigest()


STAMP = source_stamp()


def compiled(function: Function) -> Function:
    """Compile `function` on its first call and keep the machine code between runs.

    `error_model="numpy"` spares a test for zero division in every line; denominators are bounded by
    construction. No fast-math: sums must stay exact enough for the water balance. Where nothing can be
    written, or the kept code cannot be stamped, it is compiled anew in every process.
    """
    try:
        kept: Any = njit(cache=True, error_model="numpy")(function)
        kept._cache._cache_file._source_stamp = (STAMP, 0)
    except (AttributeError, RuntimeError):
        kept = njit(error_model="numpy")(function)
    return cast(Function, kept)
