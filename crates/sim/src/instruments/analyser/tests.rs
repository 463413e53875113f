//! How the analyser behaves on the wire.
