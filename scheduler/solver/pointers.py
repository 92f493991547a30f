"""Arrays handed from one compiled function to the next as bare pointers.

Question answered: *how does a small compiled function get an array without paying for it?* An array is seven words and
a count of its owners that every call raises and lowers by a locked instruction; where functions are small this took
43 % of the search's time (200 fields, sampled). A pointer is one word and has no owner: the outermost function, which
is called from Python with arrays, keeps them alive. Pointers know no length and take no negative index.
"""

from __future__ import annotations

from typing import Any

from numba import types
from numba.extending import intrinsic


def _pointer(typing_context: Any, array: Any) -> Any:
    """Return the address of the first element of a contiguous array, to be indexed like a flat array."""

    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        return context.make_array(signature.args[0])(context, builder, arguments[0]).data

    return types.CPointer(array.dtype)(array), code


pointer: Any = intrinsic(_pointer)
