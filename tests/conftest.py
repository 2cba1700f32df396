"""The order of the run: the browser comes last, for its driver keeps an event loop in the main thread from then on."""


def pytest_collection_modifyitems(items):
    items.sort(key=lambda item: "tests/browser/" in item.nodeid)
