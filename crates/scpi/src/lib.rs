//! The language of IEEE 488.2 and SCPI, without any input or output.
