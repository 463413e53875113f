//! Links by message, and sessions over them.
