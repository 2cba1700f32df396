"""What holds for every test: one thread for linear algebra, and the browser last.

Two threads make the small factors of a fit many times slower on a busy machine; the server's workers take one as well.
The browser's driver keeps an event loop in the main thread from its first test on.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # read when numpy is first imported, which is after this


def pytest_collection_modifyitems(items):
    items.sort(key=lambda item: "tests/browser/" in item.nodeid)
