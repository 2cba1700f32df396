"""What is kept: one SQLite database, and the assets' bytes as files named by their sha-256."""

from server.store.assets import Asset, Assets
from server.store.database import Database
from server.store.folder import Folder
from server.store.jobs import Jobs, Saved
from server.store.library import Entry, Library

__all__ = ["Asset", "Assets", "Database", "Entry", "Folder", "Jobs", "Library", "Saved"]
