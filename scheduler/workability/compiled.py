"""One switch for compiling the hour loop: plain scalar functions in, machine code out.

The equations of this room are written as small functions of numbers, so that they read like the books;
the loop over fields, members and hours calls them some millions of times, which only compiled code can
afford.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from numba import njit

Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """Compile `function` on its first call and keep the machine code between runs.

    `error_model="numpy"` spares a test for zero division in every line; denominators are bounded by
    construction. No fast-math: sums must stay exact enough for the water balance.
    """
    return njit(cache=True, error_model="numpy")(function)  # type: ignore[return-value]
