"""What a value holds cannot be written to, through whatever name; what is frozen already is not copied again."""

import numpy as np
import pytest

from engine.kernel.arrays import frozen_floats, frozen_ints, locked


@pytest.mark.parametrize("freeze", [frozen_floats, frozen_ints, locked])
def test_what_the_caller_may_still_write_to_is_copied_and_what_nobody_can_is_not(freeze):
    mine = np.arange(4.0) if freeze is frozen_floats else np.arange(4)
    held = freeze(mine)
    mine[0] = 9
    assert held[0] == 0 and not held.flags.writeable
    assert freeze(held) is held

    view = mine[:]
    view.flags.writeable = False  # read-only itself, but its memory has a writable name
    held = freeze(view)
    mine[1] = 9
    assert held[1] == 1


def test_another_type_or_order_is_made_anew():
    rows = np.asfortranarray(np.arange(6.0).reshape(2, 3))
    rows.flags.writeable = False
    assert frozen_floats(rows).flags.c_contiguous
    assert frozen_floats(np.arange(3)).dtype == np.float64
    assert frozen_ints([1, 2]).dtype == np.int64
