//! The guardian of the key line: leases that end in key up.
