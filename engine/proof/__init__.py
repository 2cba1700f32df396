"""The proof: what a program's own text will really do to the blank."""

from engine.proof.carve_field import Carved
from engine.proof.difference import Match
from engine.proof.fidelity import Fidelity
from engine.proof.fine import Fine, fine_parts
from engine.proof.made import Made
from engine.proof.prove import Extent, Proof, prove, prove_idle
from engine.proof.replay import Replay
from engine.proof.resolution import judge_size
from engine.proof.sureness import Sureness

__all__ = [
    "Carved",
    "Extent",
    "Fidelity",
    "Fine",
    "Made",
    "Match",
    "Proof",
    "Replay",
    "Sureness",
    "fine_parts",
    "judge_size",
    "prove",
    "prove_idle",
]
