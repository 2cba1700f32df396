"""The server: HTTP, storage and workers around the engine."""
