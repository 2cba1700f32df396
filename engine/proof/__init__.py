"""The proof: what a program's own text will really do to the blank."""

from engine.proof.carve_field import Carved
from engine.proof.fidelity import Fidelity
from engine.proof.prove import Extent, Proof, prove, prove_idle
from engine.proof.replay import Replay

__all__ = ["Carved", "Extent", "Fidelity", "Proof", "Replay", "prove", "prove_idle"]
