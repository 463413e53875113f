//! YAML text to a tree that knows its places; collects every mistake.
