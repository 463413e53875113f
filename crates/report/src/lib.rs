//! Record in, bytes out: HTML and JSON.
