//! Slips in small rules, each found and named.
