//! The types of a run: reading, proof, budget, event.
