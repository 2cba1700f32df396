"""The job: the whole document, validated, and the values that the stages take.

`read_job` takes a parsed JSON document and what the shop knows (assets, tools, machines), and gives a `Job` or raises
JobError with every problem. The document itself stays the only thing that a person saves.
"""

from engine.job.artwork import ToolDocument
from engine.job.blank import BlankDocument
from engine.job.job import SCHEMA, Item, Job, Known, MachineChoice, machine_of, missing_files, read_form, read_job
from engine.job.machine import DEFAULT_MACHINE, MachineDocument, profile_of
from engine.job.picture import PictureDocument
from engine.job.reading import Document, check_depth, pointer, read
from engine.job.shapes import Asking, BlankShape, Needed

__all__ = [
    "DEFAULT_MACHINE",
    "SCHEMA",
    "Asking",
    "BlankDocument",
    "BlankShape",
    "Document",
    "Item",
    "Job",
    "Known",
    "MachineChoice",
    "MachineDocument",
    "Needed",
    "PictureDocument",
    "ToolDocument",
    "check_depth",
    "machine_of",
    "missing_files",
    "pointer",
    "profile_of",
    "read",
    "read_form",
    "read_job",
]
